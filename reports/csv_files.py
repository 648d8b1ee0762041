"""Tables as CSV that spreadsheets open without harm."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.tables import Cell, Table

BYTE_ORDER_MARK = "\ufeff"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""Beginnings of a text that a spreadsheet would take for a formula."""


def csv_bytes(table: Table) -> bytes:
    """
    Write a table as CSV: UTF-8 with byte order mark, commas, one heading row of column keys, full numbers.

    A text that begins like a formula gets an apostrophe in front.

    References
    ----------
    .. [1] RFC 4180, section 2 (line ends, quotes).
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([column.key for column in table.columns])
    writer.writerows([_cell(cell) for cell in row] for row in table.rows)
    return (BYTE_ORDER_MARK + buffer.getvalue()).encode("utf-8")


def guarded(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would take for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    return guarded(cell) if isinstance(cell, str) else repr(cell)
