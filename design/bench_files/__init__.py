"""Bench files and shelves: read, checked, and turned into a bench in SI units."""
