"""What goes wrong with the output, said to the person who asked for it."""

from __future__ import annotations


class OutputError(ValueError):
    """An output folder that cannot be written; the message says which and what would be right."""
