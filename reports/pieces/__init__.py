"""Printed pieces: one module a piece, each a page of its own with print rules of its own."""
