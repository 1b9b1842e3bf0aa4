"""The command line: one file a command; what a command finds out is facts first, text second."""
