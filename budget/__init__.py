"""Uncertainty of any measurement equation: it knows no water, no kit and no page."""
