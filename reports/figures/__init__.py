"""Figures as SVG text, each with a text alternative and the numbers it shows."""
