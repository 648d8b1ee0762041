"""Pages: one module a kind of report, all made of the same parts."""
