"""Procedures and improvements side by side on one kit."""
