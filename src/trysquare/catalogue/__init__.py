"""Catalogue: standard parts by designation, from tables with a source on each row."""
