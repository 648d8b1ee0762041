"""The bench: water, kit, losses, procedures, limits and the search for the best of them."""
