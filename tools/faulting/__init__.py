"""Faults on purpose: what `tools/faults.py` does to the program, one module for each family of faults."""
