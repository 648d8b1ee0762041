"""Readings sheets: read as typed, with every odd cell found."""
