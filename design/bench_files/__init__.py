"""Bench files and shelves: the only place where units are converted."""
