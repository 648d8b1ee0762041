"""Cells of a readings sheet as they were typed: CSV as spreadsheets write it, or XLSX."""

from __future__ import annotations

import csv
import io
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from design.bench_files.schema_faults import shown
from design.bench_files.text_files import decoded_sheet, refuse_file, separator_of
from design.errors import BenchFileError

MOST_ROWS = 20_000
MOST_COLUMNS = 60
WHAT = "a CSV or XLSX file with one row a reading and a heading row"
_DECIMALS = re.compile(r"^[#0,]*0(?:\.(0+))?(?:[^0#.]|$)")


@dataclass(frozen=True)
class TypedSheet:
    """
    A sheet as typed.

    Parameters
    ----------
    rows : tuple of (int, tuple of str)
        Number of each row as a spreadsheet counts it, and its cells; rows without any text are left out.
    comma_is_decimal : bool
        True where a comma in a number can only be a decimal comma.
    """

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    comma_is_decimal: bool


def typed_sheet(content: bytes, file: str) -> TypedSheet:
    """
    Read the cells of a sheet as text.

    Parameters
    ----------
    content, file : bytes, str
        XLSX, or CSV with comma, semicolon or tab, in UTF-8 (with or without byte order mark), UTF-16 or the Western
        code page of spreadsheets; and its name in messages.

    Raises
    ------
    BenchFileError
        If it cannot be read as a sheet, or is empty.
    """
    sheet = _workbook(content, file) if content.startswith(b"PK\x03\x04") else _table(content, file)
    if not sheet.rows:
        raise refuse_file(file, "is empty", "no row", f"give {WHAT}")
    return sheet


def _filled(rows: Iterator[tuple[str, ...]]) -> tuple[tuple[int, tuple[str, ...]], ...]:
    """Numbered rows that hold text and are no comment."""
    stripped = ((number, tuple(cell.strip() for cell in row)) for number, row in enumerate(rows, start=1))
    return tuple((number, row) for number, row in stripped if any(row) and not "".join(row).startswith("#"))


def _table(content: bytes, file: str) -> TypedSheet:
    text = decoded_sheet(content, file, WHAT)
    first, _, rest = text.partition("\n")
    named = re.fullmatch(r"sep=(.)\r?", first, re.IGNORECASE)
    separator = named[1] if named else separator_of(text)

    def rows() -> Iterator[tuple[str, ...]]:
        if named:
            yield ()
        for number, record in enumerate(csv.reader(io.StringIO(body, newline=""), delimiter=separator)):
            _check_size(number, len(record), file)
            yield tuple(record)

    body = rest if named else text
    try:
        return TypedSheet(_filled(rows()), comma_is_decimal=separator != ",")
    except csv.Error as error:
        right = "check the quotation marks: each must be closed, and doubled inside a cell"
        raise refuse_file(file, "is broken CSV", str(error), right) from None


def _check_size(rows: int, columns: int, file: str) -> None:
    if rows >= MOST_ROWS or columns > MOST_COLUMNS:
        got = f"{rows + 1} rows, {columns} columns"
        right = f"keep to {MOST_ROWS} rows and {MOST_COLUMNS} columns"
        raise refuse_file(file, "is too large for a readings sheet", got, right)


def _workbook(content: bytes, file: str) -> TypedSheet:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return TypedSheet(_filled(_workbook_rows(content, file)), comma_is_decimal=True)
    except BenchFileError:
        raise
    except Exception as error:  # noqa: BLE001 - openpyxl raises whatever zip, XML and number parsing raise
        got = shown(f"{type(error).__name__}: {error}").strip('"')
        raise refuse_file(file, "is a broken XLSX file", got, "open and save it again") from None


def _workbook_rows(content: bytes, file: str) -> Iterator[tuple[str, ...]]:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    try:
        if not book.worksheets:
            raise refuse_file(file, "has no sheet", "no sheet", f"give {WHAT}")
        rows = book.worksheets[0].iter_rows(max_row=MOST_ROWS + 1, max_col=MOST_COLUMNS)
        for number, row in enumerate(rows):
            _check_size(number, len(row), file)
            yield tuple(_as_shown(cell.value, str(getattr(cell, "number_format", ""))) for cell in row)
    finally:
        book.close()


def _as_shown(value: Any, number_format: str) -> str:
    """
    Write a spreadsheet's value as its reader sees it.

    Closing zeros come from the number format; a time of day is what spreadsheets make of "12:30".
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        found = _DECIMALS.match(number_format)
        if found:
            return f"{value:.{len(found[1] or '')}f}"
        return str(value) if isinstance(value, int) else repr(value).removesuffix(".0")
    return _clock(value) if isinstance(value, datetime | date | time | timedelta) else str(value)


def _clock(value: datetime | date | time | timedelta) -> str:
    if isinstance(value, timedelta):
        total = round(value.total_seconds())
        return f"{total // 3600:02d}:{total // 60 % 60:02d}:{total % 60:02d}"
    return value.isoformat(timespec="seconds") if isinstance(value, time) else value.isoformat()
