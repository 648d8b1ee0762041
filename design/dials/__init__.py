"""A design whose settings are turned after the search, as equations a page can evaluate."""
