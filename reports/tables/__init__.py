"""Tables of the pages, and tables and numbers as files."""
