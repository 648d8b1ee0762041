"""Readings sheets: from CSV or XLSX to readings in SI units, with everything odd about the cells said."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from design.bench_files.schema_faults import shown
from design.bench_files.text_files import SheetForm, is_workbook, read_bytes, refuse_file, text_cells, workbook_cells
from design.errors import BenchFileError, Fault, spaced
from design.message import Message
from design.sheets.readings import (
    NUMBERS,
    UNITS,
    Finding,
    Quantity,
    Reading,
    Sheet,
    SheetColumn,
    TypedNumber,
    at_cell,
    at_row,
    column_of,
    known_headings,
)

_NUMBER = re.compile(r"([-+]?)(\d*)(?:([.,])(\d*))?(?:[eE]([-+]?\d{1,2}))?")
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{2}(?:[.,]\d+)?)")
_FORMULA = re.compile(r"[=@]|[-+](?![\d.,∞])")
_DIGITS = re.compile(r"([-+]?[\d.,]+(?:[eE][-+]?\d+)?)(.*)")
_SPACES = re.compile(r"[\s\u00a0\u202f'’]")


@dataclass(frozen=True)
class Refused:
    """Why a cell is no number: kind of slip, and the key of what to do about it."""

    code: str
    reason: str


FORMULA = Refused("formula_in_cell", "formula_in_cell")
TWO_WAYS = Refused("ambiguous_number", "ambiguous_number")
OTHER_UNIT = Refused("not_a_number", "other_unit")
NO_NUMBER = Refused("not_a_number", "not_a_number")
TOO_LARGE = Refused("not_a_number", "too_large")


def number_of(text: str, column: SheetColumn, *, comma_is_decimal: bool) -> TypedNumber | Refused:
    """
    Read a number: decimal comma or point, spaces between thousands, minutes and seconds, or a unit behind it.

    ``text`` is as typed, not empty; ``comma_is_decimal`` says that the sheet's commas can only be decimal commas.
    """
    if _FORMULA.match(text):
        return FORMULA
    clock = _CLOCK.fullmatch(text)
    if clock and column.quantity == "time":
        return _from_clock(text, clock)
    plain = _SPACES.sub("", text.replace("\u2212", "-"))
    split = _DIGITS.fullmatch(plain)
    digits, unit = (split[1], split[2]) if split else (plain, "")
    factor = _factor(unit, column)
    if factor is None:
        return OTHER_UNIT
    thousands = re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", digits) and not comma_is_decimal
    if thousands or ("," in digits and "." in digits):
        return TWO_WAYS
    match = _NUMBER.fullmatch(digits)
    return _number(text, match, factor) if match and (match[2] or match[4]) else NO_NUMBER


def _factor(unit: str, column: SheetColumn) -> float | None:
    if not unit:
        return column.factor
    word = re.sub(r"[/·]", "_per_" if "/" in unit else "_", unit.casefold()).replace("⁻¹", "_1")
    return UNITS[column.quantity].get(word)


def _number(text: str, match: re.Match[str], factor: float) -> TypedNumber | Refused:
    sign, whole, fraction, power = match[1], match[2] or "0", match[4] or "", int(match[5] or 0)
    try:
        value = float(f"{sign}{whole}.{fraction or 0}e{power}") * factor
    except ValueError:
        return NO_NUMBER
    step = 10.0 ** (power - len(fraction))
    return TypedNumber(text, value, step * factor, factor) if math.isfinite(value) else TOO_LARGE


def _from_clock(text: str, clock: re.Match[str]) -> TypedNumber:
    seconds = clock[3].replace(",", ".")
    value = 3600.0 * int(clock[1] or 0) + 60.0 * int(clock[2]) + float(seconds)
    return TypedNumber(text, value, 10.0 ** -len(seconds.partition(".")[2]), 1.0)


_SWITCH = {
    "on": True, "yes": True, "true": True, "1": True, "off": False, "no": False, "false": False, "0": False,
}  # fmt: skip
LONGEST_WORD = 60
"""Characters kept of a group's, run's or mark's name."""


def read_readings(path: Path) -> Sheet:
    """
    Read a readings sheet, CSV or XLSX; the first row that is not empty names the columns, with units.

    A cell that is no number is missing and found; nothing else is changed.

    Raises
    ------
    BenchFileError
        If it is no sheet, has no readings, or a heading stands twice.
    """
    file = str(path)
    content = read_bytes(Path(path), file, FORM.what)
    return sheet_of(typed_sheet(content, file), file, hashlib.sha256(content).hexdigest())


def sheet_of(typed: TypedSheet, file: str, digest: str) -> Sheet:
    """Make readings of typed cells; see `read_readings`."""
    (heading_row, headings), *rows = typed.rows
    columns, findings = _columns(headings, heading_row, file)
    readings = []
    for row, cells in rows:
        reading, found = _reading(row, cells, columns, comma_is_decimal=typed.comma_is_decimal)
        findings += found
        if reading is not None:
            readings.append(reading)
    if not readings:
        fault = Fault(file, "", "", "has no readings", "headings only", "write one row a reading below the headings")
        raise BenchFileError((fault,))
    named = {column.quantity: column.heading for column in columns.values()}
    return Sheet(file, digest, tuple(readings), named, tuple(findings))


def _columns(headings: tuple[str, ...], row: int, file: str) -> tuple[dict[int, SheetColumn], list[Finding]]:
    columns: dict[int, SheetColumn] = {}
    findings: list[Finding] = []
    faults: list[Fault] = []
    for index, heading in enumerate(headings):
        if not heading:
            continue
        column = column_of(heading)
        if column is None:
            unknown = {"heading": shown(spaced(heading)), "known": known_headings(heading)}
            findings.append(Finding(row, heading, "unknown_column", at_row(row, "unknown_column", **unknown)))
            continue
        if column.quantity in {known.quantity for known in columns.values()}:
            place = f'row {row}, column "{heading}"'
            faults.append(Fault(file, place, "", "column stands twice", shown(heading), "keep one of them"))
        if not column.unit_stated:
            findings.append(Finding(row, heading, "unit_missing", at_row(row, "unit_missing", heading=heading)))
        columns[index] = column
    if not any(column.quantity in NUMBERS for column in columns.values()):
        right = "name columns such as mark, time_s, counts, mass_g in the first row"
        faults.append(Fault(file, f"row {row}", "", "names no column of readings", shown(list(headings)), right))
    if faults:
        raise BenchFileError(tuple(faults))
    return columns, findings


def _reading(
    row: int, cells: tuple[str, ...], columns: Mapping[int, SheetColumn], *, comma_is_decimal: bool
) -> tuple[Reading | None, list[Finding]]:
    numbers: dict[Quantity, TypedNumber] = {}
    words: dict[str, str] = {}
    findings = _strays(row, cells, columns)
    refused: list[Finding] = []
    for index, column in columns.items():
        text = cells[index] if index < len(cells) else ""
        if not text:
            continue
        if column.quantity not in NUMBERS:
            words[column.quantity] = spaced(text)
            continue
        number = number_of(text, column, comma_is_decimal=comma_is_decimal)
        if isinstance(number, Refused):
            message = at_cell(row, column.heading, number.reason, typed=shown(text))
            refused.append(Finding(row, column.heading, number.code, message, words.get("group", "")))
        else:
            numbers[column.quantity] = number
    if not numbers:
        if refused and all(finding.code == NO_NUMBER.code for finding in refused):
            refused = [Finding(row, "", "row_without_readings", Message("row_without_readings", {"row": row}))]
        return None, findings + refused
    heater, odd = _heater(row, words.get("heater", ""), columns)
    group, run, mark = (
        words.get(name, usual)[:LONGEST_WORD] for name, usual in (("group", "1"), ("run", "1"), ("mark", ""))
    )
    return Reading(row, group, run, mark, numbers, heater, words.get("remark", "")), findings + refused + odd


def _strays(row: int, cells: tuple[str, ...], columns: Mapping[int, SheetColumn]) -> list[Finding]:
    stray = next(filter(None, cells[max(columns) + 1 :]), None)
    if stray is None:
        return []
    return [Finding(row, "", "cell_without_heading", at_row(row, "cell_without_heading", typed=shown(stray)))]


def _heater(row: int, word: str, columns: Mapping[int, SheetColumn]) -> tuple[bool | None, list[Finding]]:
    if not word:
        return None, []
    state = _SWITCH.get(word.casefold())
    if state is not None:
        return state, []
    heading = next(column.heading for column in columns.values() if column.quantity == "heater")
    return None, [Finding(row, heading, "heater_not_said", at_cell(row, heading, "heater_not_said", typed=shown(word)))]


FORM = SheetForm(
    "a CSV or XLSX file with one row a reading and a heading row", "readings sheet", most_rows=20_000, most_columns=60,
    strict=False,
)  # fmt: skip
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
    if is_workbook(content):
        sheet = TypedSheet(_filled(workbook_cells(content, file, FORM, _as_shown)), comma_is_decimal=True)
    else:
        cells, separator = text_cells(content, file, FORM)
        sheet = TypedSheet(_filled(cells), comma_is_decimal=separator != ",")
    if not sheet.rows:
        raise refuse_file(file, "is empty", "no row", f"give {FORM.what}")
    return sheet


def _filled(rows: Iterable[Sequence[str]]) -> tuple[tuple[int, tuple[str, ...]], ...]:
    """Numbered rows that hold text and are no comment."""
    stripped = ((number, tuple(cell.strip() for cell in row)) for number, row in enumerate(rows, start=1))
    return tuple((number, row) for number, row in stripped if any(row) and not "".join(row).startswith("#"))


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
