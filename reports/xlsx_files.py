"""Tables as a workbook: one sheet a table, numbers as numbers, and the same bytes for the same tables."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import datetime
from typing import TYPE_CHECKING

from reports.csv_files import guarded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reports.tables import Cell, Table

FIRST_DAY = (1980, 1, 1, 0, 0, 0)
"""Earliest time that a ZIP archive can hold, given to every part."""


def xlsx_bytes(tables: Sequence[Table], date: str) -> bytes:
    """
    Write tables as an XLSX workbook.

    Parameters
    ----------
    tables : sequence of Table
        One sheet each, named like its file.
    date : str
        Date of the workbook, ISO 8601.
    """
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    book.remove(book.worksheets[0])
    for table in tables:
        sheet = book.create_sheet(table.name[:31])
        sheet.append([column.heading for column in table.columns])
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        for row in table.rows:
            sheet.append([_cell(cell) for cell in row])
        sheet.freeze_panes = "A2"
        for place, column in enumerate(table.columns, start=1):
            sheet.column_dimensions[get_column_letter(place)].width = 14 if column.is_number else 26
    book.properties.creator = "boiloff"
    book.properties.created = datetime.fromisoformat(date)
    buffer = io.BytesIO()
    book.save(buffer)
    return timeless(buffer.getvalue(), date)


def _cell(cell: Cell) -> Cell:
    return guarded(cell) if isinstance(cell, str) else cell


def timeless(content: bytes, date: str) -> bytes:
    """Pack the parts again without the time of writing."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "docProps/core.xml":
                part = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + date.encode() + b"T00:00:00Z", part)
            new.writestr(zipfile.ZipInfo(name, FIRST_DAY), part, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
