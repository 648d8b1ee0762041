"""Parts that pieces are made of: tables of text that is already written, and names of roles, stages and procedures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reports import wording_items
from reports.languages import Language

BLANK = ""
"""Cell to be written into by hand."""


@dataclass(frozen=True)
class Grid:
    """
    A table whose cells are text.

    Parameters
    ----------
    caption : str
        What the reader sees above it.
    headings : tuple of str
        Headings of the columns.
    rows : tuple of tuple of str
        Cells; the first heads its row.
    numbers : frozenset of int
        Columns of numbers, set to the right.
    writing : bool
        Whether empty cells are to be written into.
    """

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    writing: bool = False

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.headings):
                raise ValueError(f"table {self.caption!r}: {len(row)} cells under {len(self.headings)} headings")


def grid(
    caption: str,
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Sequence[int] = (),
    *,
    writing: bool = False,
) -> Grid:
    """Make a table of any sequences."""
    return Grid(caption, tuple(headings), tuple(tuple(row) for row in rows), frozenset(numbers), writing)


def role_name(say: Language, role: str) -> str:
    """Name a role in a language."""
    return wording_items.role(role, say)


def sentence_start(text: str) -> str:
    """Begin a text with a capital letter."""
    return text[:1].upper() + text[1:]
