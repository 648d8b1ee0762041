"""Propagation of distributions by simulation, and sensitivity by sampling."""
