"""Tables and numbers as files: CSV, XLSX and JSON."""

from __future__ import annotations

import csv
import io
import re
import sys
import zipfile
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reports.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reports.tables.tables import Cell, Table


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
    writer.writerows([_csv_cell(cell) for cell in row] for row in table.rows)
    return (BYTE_ORDER_MARK + buffer.getvalue()).encode("utf-8")


def guarded(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would take for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def _csv_cell(cell: Cell) -> str:
    if cell is None:
        return ""
    return guarded(cell) if isinstance(cell, str) else repr(cell)


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
            sheet.append([_xlsx_cell(cell) for cell in row])
        sheet.freeze_panes = "A2"
        for place, column in enumerate(table.columns, start=1):
            sheet.column_dimensions[get_column_letter(place)].width = 14 if column.is_number else 26
    book.properties.creator = "boiloff"
    book.properties.created = datetime.fromisoformat(date)
    buffer = io.BytesIO()
    book.save(buffer)
    return timeless(buffer.getvalue(), date)


def _xlsx_cell(cell: Cell) -> Cell:
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


STANDARD_OUTPUT = "-"


def deliver(content: bytes, target: str) -> None:
    """
    Write the JSON file of a report once more where it was asked for.

    Parameters
    ----------
    content : bytes
        The file as it stands in the report's folder, UTF-8.
    target : str
        ``"-"`` for standard output, or a path; nothing is written where it is empty.

    Raises
    ------
    OutputError
        If the path cannot be written.
    """
    if not target:
        return
    if target != STANDARD_OUTPUT:
        try:
            Path(target).write_bytes(content)
        except OSError as error:
            raise OutputError(
                f"--json {target}: cannot be written ({error.strerror}); give a file in a folder that exists, or -"
            ) from error
        return
    stream = getattr(sys.stdout, "buffer", None)
    if stream is None:
        sys.stdout.write(content.decode("utf-8"))
    else:
        sys.stdout.flush()
        stream.write(content)
        stream.flush()
