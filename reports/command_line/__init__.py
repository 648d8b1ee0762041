"""The command line, and what each command writes."""
