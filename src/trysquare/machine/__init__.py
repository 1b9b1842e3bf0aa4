"""Machine: the values of one machine, its folder, its papers and its joint recipes."""
