"""Cells of a sheet as typed: the worksheet that holds readings, its heading row, and split decimal commas mended."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import combinations
from typing import Any

from design.bench_files.schema_faults import shown
from design.bench_files.text_files import SheetForm, is_workbook, refuse_file, text_cells, workbook_sheets
from design.errors import BenchFileError
from design.message import Message
from design.sheets.headings import column_of, names_readings
from design.sheets.readings import NUMBERS, Finding

Row = tuple[int, tuple[str, ...]]
"""Number of a row as a spreadsheet counts it, and its cells."""
FORM = SheetForm(
    "a CSV or XLSX file with one row a reading and a heading row", "readings sheet", most_rows=20_000, most_columns=60,
    strict=False,
)  # fmt: skip
TITLE_ROWS = 40
"""Rows with text among which the headings are looked for."""
_DECIMALS = re.compile(r"^[#0,]*0(?:\.(0+))?(?:[^0#.]|$)")
_WHOLE, _FRACTION = re.compile(r"[-+]?\d{1,12}"), re.compile(r"\d{1,6}")
_NUMBER = re.compile(r"[-+]?[\d ]*[.,:\d]*\d( ?\w{1,3})?")


@dataclass(frozen=True)
class TypedSheet:
    """
    A sheet as typed.

    Parameters
    ----------
    rows : tuple of Row
        The heading row, then every row below it that holds text.
    comma_is_decimal : bool
        True where a comma in a number can only be a decimal comma.
    is_workbook : bool
        True where cells come from a spreadsheet's own file.
    findings : tuple of Finding
        What was seen of the sheet as a whole.
    """

    rows: tuple[Row, ...]
    comma_is_decimal: bool
    is_workbook: bool = False
    findings: tuple[Finding, ...] = ()


def typed_sheet(content: bytes, file: str) -> TypedSheet:
    """
    Read the cells of a sheet as text.

    The headings are the first row that names columns of readings, titles above them or not; of a workbook the sheet
    that has them.

    Parameters
    ----------
    content, file : bytes, str
        XLSX, or CSV with comma, semicolon or tab, in UTF-8 (with or without byte order mark), UTF-16 or the Western
        code page of spreadsheets; and its name in messages.

    Raises
    ------
    BenchFileError
        If it cannot be read as a sheet, is empty, or its commas can be read in several ways.
    """
    if is_workbook(content):
        return _of_workbook(content, file)
    cells, separator = text_cells(content, file, FORM, _mostly_headings)
    rows = _from_headings(_filled(cells))
    if not rows:
        raise refuse_file(file, "is empty", "no row", f"give {FORM.what}")
    if separator != ",":
        return TypedSheet(rows, comma_is_decimal=True)
    mended = _mended(rows, file)
    return TypedSheet(mended, comma_is_decimal=mended != rows)


def _mostly_headings(line: str) -> bool:
    """Whether a line of text looks like headings, whatever separates them."""
    return any(names_readings(tuple(line.replace('"', "").split(mark))) > 1 for mark in ";\t,")


def _of_workbook(content: bytes, file: str) -> TypedSheet:
    """The first sheet that names columns of readings, else the first that holds anything; others are said."""
    pages = [(name, _from_headings(_filled(rows))) for name, rows in workbook_sheets(content, file, FORM, _as_shown)]
    filled = [(name, rows) for name, rows in pages if rows]
    if not filled:
        raise refuse_file(file, "is empty", "no row", f"give {FORM.what}")
    with_readings = [(name, rows) for name, rows in filled if names_readings(rows[0][1]) > 1]
    (name, rows), *others = with_readings or filled[:1]
    findings = tuple(
        Finding(0, "", "other_sheet", Message("other_sheet", {"other": other, "sheet": name})) for other, _ in others
    )
    return TypedSheet(rows, comma_is_decimal=True, is_workbook=True, findings=findings)


def _filled(rows: Iterable[Sequence[str]]) -> tuple[Row, ...]:
    """Numbered rows that hold text and are no comment."""
    stripped = ((number, tuple(cell.strip() for cell in row)) for number, row in enumerate(rows, start=1))
    return tuple((number, row) for number, row in stripped if any(row) and not "".join(row).startswith("#"))


def _from_headings(rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """Rows from the headings on: the first that names two columns or more, else one, else the first."""
    found = [names_readings(cells) for _, cells in rows[:TITLE_ROWS]]
    start = next((index for least in (2, 1) for index, number in enumerate(found) if number >= least), 0)
    return rows[start:]


def _mended(rows: tuple[Row, ...], file: str) -> tuple[Row, ...]:
    """
    Rows whose decimal commas a comma between cells has split, joined again where that can be done in one way only.

    Raises
    ------
    BenchFileError
        If it can be done in several ways.
    """
    heading, *below = rows
    width = max((index for index, cell in enumerate(heading[1], start=1) if cell), default=0)
    numeric = frozenset(
        index for index, cell in enumerate(heading[1]) if (column := column_of(cell)) and column.quantity in NUMBERS
    )
    ways = {number: list(_ways(cells, width, numeric)) for number, cells in below}
    split = {number: found for number, found in ways.items() if found}
    if not split:
        return rows
    settled = {found[0] for found in split.values() if len(found) == 1}
    mended = []
    for number, cells in below:
        found = split.get(number, [])
        chosen = found if len(found) < 2 else [way for way in found if way in settled]
        if found and len(chosen) != 1:
            raise _several(file, number, cells)
        mended.append((number, _joined(cells, chosen[0]) if chosen else cells))
    return (heading, *mended)


Way = tuple[int, ...]
"""Columns whose cells were split in two."""


def _ways(cells: tuple[str, ...], width: int, numeric: frozenset[int]) -> Iterator[Way]:
    """Sets of columns that may have been split, so that the row has this many cells too many."""
    extra = len(cells) - width
    if extra <= 0 or len(numeric) < extra:
        return
    for way in combinations(sorted(numeric), extra):
        if _fits(cells, way):
            joined = _joined(cells, way)
            if all(not joined[place] or _NUMBER.fullmatch(joined[place]) for place in numeric):
                yield way


def _fits(cells: tuple[str, ...], way: Way) -> bool:
    places = (column + index for index, column in enumerate(way))
    return all(_WHOLE.fullmatch(cells[place]) and _FRACTION.fullmatch(cells[place + 1]) for place in places)


def _joined(cells: tuple[str, ...], way: Way) -> tuple[str, ...]:
    joined = list(cells)
    for column in way:
        joined[column : column + 2] = [f"{joined[column]},{joined[column + 1]}"]
    return tuple(joined)


def _several(file: str, number: int, cells: tuple[str, ...]) -> BenchFileError:
    wrong = "has more cells than headings, and commas that may be decimal marks or stand between cells"
    right = "save the sheet with semicolons between its cells, or with decimal points"
    return refuse_file(file, wrong, shown(",".join(cells)), right, f"row {number}")


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
