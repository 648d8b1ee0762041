"""Measurement models: the equation language, its compiler and its derivatives."""
