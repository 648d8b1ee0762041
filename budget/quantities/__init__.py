"""Input quantities: units, distributions and correlation."""
