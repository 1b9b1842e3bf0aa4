"""Sequence: the part-built machine as a state, the rules that see mistakes coming, and orders proposed."""
