"""What people see: command line, pages, figures, tables and their wording."""
