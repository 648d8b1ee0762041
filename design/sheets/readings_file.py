"""Readings sheets: from CSV or XLSX to readings in SI units, with everything odd about the cells said."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from design.bench_files.schema_faults import shown
from design.bench_files.text_files import read_bytes
from design.errors import BenchFileError, Fault, spaced
from design.sheets.readings import (
    NUMBERS,
    UNITS,
    Column,
    Finding,
    Number,
    Quantity,
    Reading,
    Sheet,
    column_of,
    known_headings,
)
from design.sheets.readings_cells import WHAT, TypedSheet, typed_sheet

_NUMBER = re.compile(r"([-+]?)(\d*)(?:([.,])(\d*))?(?:[eE]([-+]?\d{1,2}))?")
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{2}(?:[.,]\d+)?)")
_FORMULA = re.compile(r"[=@]|[-+](?![\d.,∞])")
_SPACES = re.compile(r"[\s\u00a0\u202f'’]")


@dataclass(frozen=True)
class Refused:
    """Why a cell is no number: kind of slip, and what to do about it."""

    code: str
    reason: str


def number_of(text: str, column: Column, *, comma_is_decimal: bool) -> Number | Refused:
    """
    Read a number: decimal comma or point, spaces between thousands, minutes and seconds, or a unit behind it.

    Parameters
    ----------
    text : str
        As typed, not empty.
    column : Column
        Where it stands.
    comma_is_decimal : bool
        True where the sheet's commas can only be decimal commas.

    Returns
    -------
    Number or Refused
    """
    if _FORMULA.match(text):
        return Refused("formula_in_cell", "starts like a formula; type the number that the formula gives")
    clock = _CLOCK.fullmatch(text)
    if clock and column.quantity == "time":
        return _from_clock(text, clock)
    plain = _SPACES.sub("", text.replace("\u2212", "-"))
    digits, unit = _split_unit(plain)
    factor = _factor(unit, column)
    if factor is None:
        return Refused("not_a_number", "is not a number in the unit of the heading; type the number alone")
    thousands = re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", digits) and not comma_is_decimal
    if thousands or ("," in digits and "." in digits):
        reason = "can be read in two ways: which is the decimal mark? Type only that one"
        return Refused("ambiguous_number", reason)
    match = _NUMBER.fullmatch(digits)
    if match is None or not (match[2] or match[4]):
        return Refused("not_a_number", "is not a number; type digits and one decimal mark")
    return _number(text, match, factor)


def _split_unit(plain: str) -> tuple[str, str]:
    match = re.fullmatch(r"([-+]?[\d.,]+(?:[eE][-+]?\d+)?)(.*)", plain)
    return (match[1], match[2]) if match else (plain, "")


def _factor(unit: str, column: Column) -> float | None:
    if not unit:
        return column.factor
    word = re.sub(r"[/·]", "_per_" if "/" in unit else "_", unit.casefold()).replace("⁻¹", "_1")
    return UNITS[column.quantity].get(word)


def _number(text: str, match: re.Match[str], factor: float) -> Number | Refused:
    sign, whole, fraction, power = match[1], match[2] or "0", match[4] or "", int(match[5] or 0)
    try:
        value = float(f"{sign}{whole}.{fraction or 0}e{power}")
    except ValueError:
        return Refused("not_a_number", "is not a number; type digits and one decimal mark")
    step = 10.0 ** (power - len(fraction))
    if not math.isfinite(value * factor):
        return Refused("not_a_number", "is too large to be a reading")
    return Number(text, value * factor, step * factor, factor)


def _from_clock(text: str, clock: re.Match[str]) -> Number:
    seconds = clock[3].replace(",", ".")
    fraction = len(seconds.partition(".")[2])
    value = 3600.0 * int(clock[1] or 0) + 60.0 * int(clock[2]) + float(seconds)
    return Number(text, value, 10.0**-fraction, 1.0)


_SWITCH = {
    "on": True, "yes": True, "true": True, "1": True, "off": False, "no": False, "false": False, "0": False,
}  # fmt: skip
LONGEST_WORD = 60
"""Characters kept of a group's, run's or mark's name."""


def read_readings(path: Path) -> Sheet:
    """
    Read a readings sheet.

    Parameters
    ----------
    path : Path
        CSV or XLSX; the first row that is not empty names the columns, with units.

    Returns
    -------
    Sheet
        Readings in file order. A cell that is no number is missing and found; nothing else is changed.

    Raises
    ------
    BenchFileError
        If it is no sheet, has no readings, or a heading stands twice.
    """
    file = str(path)
    content = read_bytes(Path(path), file, WHAT)
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


def _columns(headings: tuple[str, ...], row: int, file: str) -> tuple[dict[int, Column], list[Finding]]:
    columns: dict[int, Column] = {}
    findings: list[Finding] = []
    faults: list[Fault] = []
    for index, heading in enumerate(headings):
        if not heading:
            continue
        column = column_of(heading)
        if column is None:
            message = f"Row {row}: the heading {shown(spaced(heading))} is not known, so its column is not used; "
            findings.append(Finding(row, heading, "unknown_column", message + known_headings(heading) + "."))
            continue
        if column.quantity in {known.quantity for known in columns.values()}:
            place = f'row {row}, column "{heading}"'
            faults.append(Fault(file, place, "", "column stands twice", shown(heading), "keep one of them"))
        if not column.unit_stated:
            message = f"Row {row}: the heading “{heading}” has no unit; its numbers are taken as in the usual unit."
            findings.append(Finding(row, heading, "unit_missing", message))
        columns[index] = column
    if not any(column.quantity in NUMBERS for column in columns.values()):
        right = "name columns such as mark, time_s, counts, mass_g in the first row"
        faults.append(Fault(file, f"row {row}", "", "names no column of readings", shown(list(headings)), right))
    if faults:
        raise BenchFileError(tuple(faults))
    return columns, findings


def _reading(
    row: int, cells: tuple[str, ...], columns: Mapping[int, Column], *, comma_is_decimal: bool
) -> tuple[Reading | None, list[Finding]]:
    numbers: dict[Quantity, Number] = {}
    words: dict[str, str] = {}
    findings: list[Finding] = _strays(row, cells, columns)
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
            message = f"Row {row}, {column.heading}: {shown(text)} {number.reason}."
            refused.append(Finding(row, column.heading, number.code, message, words.get("group", "")))
        else:
            numbers[column.quantity] = number
    if not numbers:
        return None, findings + _text_row(row, refused)
    heater, odd = _heater(row, words.get("heater", ""), columns)
    reading = Reading(
        row,
        words.get("group", "1")[:LONGEST_WORD],
        words.get("run", "1")[:LONGEST_WORD],
        words.get("mark", "")[:LONGEST_WORD],
        numbers,
        heater,
        words.get("remark", ""),
    )
    return reading, findings + refused + odd


def _strays(row: int, cells: tuple[str, ...], columns: Mapping[int, Column]) -> list[Finding]:
    last = max(columns)
    for index, cell in enumerate(cells):
        if index > last and cell:
            message = (
                f"Row {row}: {shown(cell)} stands to the right of the headings. A decimal comma in a sheet "
                "separated by commas splits a number in two: check this row."
            )
            return [Finding(row, "", "cell_without_heading", message)]
    return []


def _text_row(row: int, refused: list[Finding]) -> list[Finding]:
    if not refused:
        return []
    if any(finding.code != "not_a_number" for finding in refused):
        return refused
    return [Finding(row, "", "row_without_readings", f"Row {row} holds words and no number, so it is not used.")]


def _heater(row: int, word: str, columns: Mapping[int, Column]) -> tuple[bool | None, list[Finding]]:
    if not word:
        return None, []
    state = _SWITCH.get(word.casefold())
    if state is not None:
        return state, []
    heading = next(column.heading for column in columns.values() if column.quantity == "heater")
    return None, [
        Finding(row, heading, "heater_not_said", f"Row {row}, {heading}: write on or off (got {shown(word)}).")
    ]
