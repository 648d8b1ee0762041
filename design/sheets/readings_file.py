"""Readings sheets: from CSV or XLSX to readings in SI units, with everything odd about the cells said."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from design.bench_files.schema_faults import shown
from design.bench_files.text_files import read_bytes
from design.errors import BenchFileError, Fault, spaced
from design.message import Message
from design.sheets.cells import FORM, Row, TypedSheet, typed_sheet
from design.sheets.headings import SheetColumn, column_of, known_headings, unit_of
from design.sheets.numbers import FORMULA, NO_NUMBER, Refused, number_of
from design.sheets.readings import MEAN_WORDS, NUMBERS, Finding, Quantity, Reading, Sheet, TypedNumber, at_cell, at_row

_SWITCH = {
    **dict.fromkeys(("on", "yes", "true", "1", "ein", "an", "ja", "marche", "oui", "allumé", "encendido", "sí"), True),
    **dict.fromkeys(("off", "no", "false", "0", "aus", "nein", "arrêt", "non", "éteint", "apagado"), False),
}
LONGEST_WORD = 60
"""Characters kept of a group's, run's or mark's name."""


def read_readings(path: Path) -> Sheet:
    """
    Read a readings sheet, CSV or XLSX; the first row that names columns of readings, with units, is its headings.

    A cell that is no number is missing and found; nothing else is changed. Where groups or runs have a column, an
    empty cell there belongs to the one named above it, as people write a block, and spreadsheets merged cells.

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
    if rows and (below := _units_below(headings, rows[0][1])) is not None:
        headings, rows = below, rows[1:]
    columns, findings = _columns(headings, heading_row, file)
    form = RowForm(columns, typed.comma_is_decimal, typed.is_workbook)
    readings: list[Reading] = []
    unread: list[tuple[int, str, str]] = []
    for row, cells in _named(rows, headings, columns):
        reading, found = _reading(row, cells, form)
        findings += found
        if reading is not None:
            readings.append(reading)
        elif not found:
            unread.append((row, _word(cells, form, "group"), _word(cells, form, "run")))
    if not readings:
        fault = Fault(file, "", "", "has no readings", "headings only", "write one row a reading below the headings")
        raise BenchFileError((fault,))
    findings += [_nothing_read(row, group) for row, group, run in unread if _is_gap(row, group, run, readings)]
    named = {column.quantity: column.heading for column in columns.values()}
    found = sorted(findings, key=lambda finding: finding.row)
    return Sheet(file, digest, tuple(readings), named, (*typed.findings, *found))


def _units_below(headings: tuple[str, ...], cells: tuple[str, ...]) -> tuple[str, ...] | None:
    """Headings with the units that stand in a row of their own below them; None where that row is no such row."""
    joined = list(headings)
    found = False
    for index, cell in enumerate(cells):
        if not cell:
            continue
        column = column_of(headings[index]) if index < len(headings) else None
        if column is None or column.unit_stated or unit_of(cell, column) is None or cell.isdigit():
            return None
        joined[index], found = f"{headings[index]} / {cell.strip('()[]')}", True
    return tuple(joined) if found else None


def _named(rows: list[Row], headings: tuple[str, ...], columns: Mapping[int, SheetColumn]) -> Iterator[Row]:
    """Rows with the group and run of their block filled in; headings that are repeated are left out."""
    places = {column.quantity: index for index, column in columns.items()}
    last: dict[str, str] = {}
    for row, cells in rows:
        if cells == headings:
            continue
        filled = [*cells, *[""] * (len(headings) - len(cells))]
        for name in ("group", "run"):
            place = places.get(name)
            if place is None:
                continue
            word = spaced(filled[place])
            if not word:
                filled[place] = last.get(name, "")
            elif word.casefold() not in MEAN_WORDS:
                if name == "group" and word != last.get("group"):
                    last.pop("run", None)
                last[name] = filled[place]
        yield row, tuple(filled)


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
        right = "name columns such as mark, time_s, counts, mass_g in one row above the readings"
        faults.append(Fault(file, f"row {row}", "", "names no column of readings", shown(list(headings)), right))
    if faults:
        raise BenchFileError(tuple(faults))
    return columns, findings


@dataclass(frozen=True)
class RowForm:
    """How the rows of a sheet are read: its columns, what a comma is, and whether formulas come from a workbook."""

    columns: Mapping[int, SheetColumn]
    comma_is_decimal: bool
    is_workbook: bool


def _word(cells: tuple[str, ...], form: RowForm, name: str) -> str:
    """Word of a row in the column of a name; ``"1"`` where there is none."""
    found = (cells[index] for index, column in form.columns.items() if column.quantity == name)
    return spaced(next(found, ""))[:LONGEST_WORD] or "1"


def _is_gap(row: int, group: str, run: str, readings: list[Reading]) -> bool:
    """Whether a row without readings is missed: its run goes on below it, or has but one row above it."""
    rows = [reading.row for reading in readings if (reading.group, reading.run) == (group, run)]
    return len(rows) == 1 or any(other > row for other in rows)


def _nothing_read(row: int, group: str) -> Finding:
    return Finding(row, "", "row_without_readings", Message("row_without_readings", {"row": row}), group)


def _reading(row: int, cells: tuple[str, ...], form: RowForm) -> tuple[Reading | None, list[Finding]]:
    numbers: dict[Quantity, TypedNumber] = {}
    words: dict[str, str] = {}
    findings = _strays(row, cells, form.columns)
    refused: list[Finding] = []
    for index, column in form.columns.items():
        text = cells[index] if index < len(cells) else ""
        if not text:
            continue
        if column.quantity not in NUMBERS:
            words[column.quantity] = spaced(text)
            continue
        number = number_of(text, column, comma_is_decimal=form.comma_is_decimal)
        if isinstance(number, Refused):
            refused.append(_refusal(row, index, text, number, form))
        else:
            numbers[column.quantity] = number
    refused = [replace(finding, group=words.get("group", "")) for finding in refused]
    if not numbers:
        if refused and all(finding.code == NO_NUMBER.code for finding in refused):
            refused = [_nothing_read(row, words.get("group", ""))]
        return None, findings + refused
    heater, odd = _heater(row, words.get("heater", ""), form.columns)
    group, run, mark = (
        words.get(name, usual)[:LONGEST_WORD] for name, usual in (("group", "1"), ("run", "1"), ("mark", ""))
    )
    return Reading(row, group, run, mark, numbers, heater, words.get("remark", "")), findings + refused + odd


def _refusal(row: int, index: int, text: str, number: Refused, form: RowForm) -> Finding:
    """Why a cell is no number; a workbook's formula without a value is named by its cell."""
    heading = form.columns[index].heading
    if number is FORMULA and form.is_workbook:
        from openpyxl.utils import get_column_letter

        cell = f"{get_column_letter(index + 1)}{row}"
        message = at_cell(row, heading, "formula_without_value", typed=shown(text), cell=cell)
        return Finding(row, heading, "formula_without_value", message)
    return Finding(row, heading, number.code, at_cell(row, heading, number.reason, typed=shown(text)))


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
