"""A design played many times on the virtual bench."""
