"""Solids of parts, where they cross, and whether one can be moved past the others."""
