"""What a search starts from: the bench and its shelves, and how they are read from files."""
