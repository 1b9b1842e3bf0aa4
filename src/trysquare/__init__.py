"""Trysquare: a motion machine described once, everything else computed from it."""

__version__ = "0.1.0"
