"""The build log: what was done, read and decided at the bench, in the order in which it was said."""
