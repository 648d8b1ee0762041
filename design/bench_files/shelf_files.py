"""Shelves kept beside a bench file: CSV as spreadsheets write it, or XLSX."""

from __future__ import annotations

import csv
import io
import re
import tomllib
import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from design.bench_files.schema_faults import Origin, known_keys, shown
from design.bench_files.text_files import decoded_sheet, read_bytes, refuse_file, separator_of
from design.errors import BenchFileError, Fault, nearest, spaced
from design.fields import Count, Flag, Kind, Listing, Nested, Number, Owned, PowerSettings, Text

MOST_ROWS = 2000
MOST_COLUMNS = 100
_WHAT = "a CSV or XLSX file with a heading row"
_FLAGS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
_COMMA = re.compile(r"(?<![\d,.])(\d+),(\d+)(?![\d,.])")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")


@dataclass(frozen=True)
class Row:
    """One item of a shelf file: values by key, and where they came from."""

    values: dict[str, Any]
    origin: Origin


@dataclass(frozen=True)
class _Cell:
    """A cell before its column is known: text or a spreadsheet's value."""

    value: Any

    @property
    def empty(self) -> bool:
        return self.value is None or (isinstance(self.value, str) and not self.value.strip())


@dataclass(frozen=True)
class _Sheet:
    """Rows of cells, and whether a comma in a number can only be a decimal comma."""

    rows: list[list[_Cell]]
    comma_is_decimal: bool


def read_shelf(
    path: Path, file: str, keys: Mapping[str, Kind], required: Iterable[str]
) -> tuple[list[Row], list[Fault]]:
    """
    Read the items of a shelf file.

    Parameters
    ----------
    path : Path
        The file.
    file : str
        Its name in messages.
    keys : mapping of str to Kind
        Keys an item may have, and how each is read; headings are matched without regard to case, spaces and hyphens.
    required : iterable of str
        Keys every item must have.

    Returns
    -------
    tuple of (list of Row, list of Fault)
        Items with the values a bench file would hold, and faults of headings and cells.

    Raises
    ------
    BenchFileError
        If the file cannot be read as a sheet at all.
    """
    content = read_bytes(path, file, _WHAT)
    is_workbook = path.suffix.casefold() in {".xlsx", ".xlsm"} or content.startswith(b"PK\x03\x04")
    sheet = _workbook(content, file) if is_workbook else _table(content, file)
    filled = [(index, row) for index, row in enumerate(sheet.rows, start=1) if not _blank(row)]
    if not filled:
        raise refuse_file(file, "is empty", "no row", f"write {_WHAT}")
    columns, faults = _columns(filled[0][1], filled[0][0], file, list(keys), required)
    rows = []
    for index, cells in filled[1:]:
        values = _values({at: (key, keys[key]) for at, (key, _) in columns.items()}, cells, sheet)
        name = shown(values.get("name", "")).strip('"')
        origin = Origin(file, f"row {index}", name, dict(columns.values()))
        faults += _strays(columns, cells, origin)
        rows.append(Row(values, origin))
    if not rows:
        faults.append(Fault(file, "", "", "has no item", "headings only", "write at least one row below the headings"))
    return rows, faults


def _blank(row: list[_Cell]) -> bool:
    first = next((cell.value for cell in row if not cell.empty), None)
    return first is None or (isinstance(first, str) and first.lstrip().startswith("#"))


def _columns(
    cells: list[_Cell], row: int, file: str, keys: Sequence[str], required: Iterable[str]
) -> tuple[dict[int, tuple[str, str]], list[Fault]]:
    """Key and heading by column index, and what is wrong with the headings."""
    columns: dict[int, tuple[str, str]] = {}
    faults = []
    for index, cell in enumerate(cells):
        if cell.empty:
            continue
        heading = spaced(str(cell.value))
        key = re.sub(r"[\s_-]+", "_", heading.casefold())
        place = f"row {row}, column {index + 1}"
        if key not in keys:
            faults.append(Fault(file, place, "", "unknown column", shown(heading), known_keys(key, keys)))
        elif key in {known for known, _ in columns.values()}:
            faults.append(Fault(file, place, "", "column stands twice", shown(heading), "keep one of them"))
        else:
            columns[index] = (key, heading)
    present = {key for key, _ in columns.values()}
    headings = [spaced(str(cell.value)) for cell in cells if not cell.empty]
    for key in required:
        if key not in present:
            near = nearest(key, headings)
            right = f'rename column "{near}"' if near else f'add a column "{key}"'
            faults.append(Fault(file, f"row {row}", "", f'column "{key}" is missing', shown(headings), right))
    return columns, faults


def _strays(columns: dict[int, tuple[str, str]], cells: list[_Cell], origin: Origin) -> list[Fault]:
    """Cells to the right of the headings: mostly a value that holds the separator."""
    last = max(columns, default=-1)
    for index, cell in enumerate(cells):
        if index > last and not cell.empty:
            place = f"{origin.path}, column {index + 1}"
            right = "put quotes round a value that holds the separator, such as a decimal comma"
            return [Fault(origin.file, place, origin.item, "value without a heading", shown(cell.value), right)]
    return []


def _values(columns: dict[int, tuple[str, Kind]], cells: list[_Cell], sheet: _Sheet) -> dict[str, Any]:
    return {
        key: _value(kind, cells[index].value, sheet)
        for index, (key, kind) in columns.items()
        if index < len(cells) and not cells[index].empty
    }


def _value(kind: Kind, value: Any, sheet: _Sheet) -> Any:
    """Turn a cell into what the same key would hold in a bench file; the check sees what does not fit."""
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        value = int(value)
    if not isinstance(value, str):
        return _spreadsheet_value(kind, value)
    text = spaced(value)
    if isinstance(kind, Text):
        return text
    if isinstance(kind, Flag) or (isinstance(kind, Owned) and text.isalpha()):
        return _FLAGS.get(text.casefold(), text)
    if isinstance(kind, Listing) or (isinstance(kind, PowerSettings) and re.search(r"\d", text)):
        parts = [part.strip(' "') for part in re.split(r"[;|]|,\s", text.strip("[]"))]
        return [_value(kind.of, part, sheet) for part in parts if part]
    pointed = _point(text, sheet)
    if isinstance(kind, Nested):
        return _loss(pointed, text)
    return _plain_number(pointed) if isinstance(kind, Number | Count | Owned) else pointed


def _spreadsheet_value(kind: Kind, value: Any) -> Any:
    if isinstance(kind, Flag) and not isinstance(value, bool) and value in {0, 1}:
        return bool(value)
    if isinstance(kind, Text) and isinstance(value, int | float) and not isinstance(value, bool):
        return f"{value:g}" if isinstance(value, float) else str(value)
    if isinstance(value, bool | int | float):
        return value
    return str(value)


def _point(text: str, sheet: _Sheet) -> str:
    """Turn a decimal comma into a point, but not where the comma may part thousands."""

    def changed(match: re.Match[str]) -> str:
        doubtful = _THOUSANDS.fullmatch(match[0]) and not sheet.comma_is_decimal
        return match[0] if doubtful else f"{match[1]}.{match[2]}"

    return _COMMA.sub(changed, text)


def _plain_number(text: str) -> Any:
    if re.fullmatch(r"[-+]?\d{1,15}", text):
        return int(text)
    if re.fullmatch(r"[-+]?\d{0,15}\.\d{1,15}", text):
        number = float(text)
        return int(number) if number.is_integer() else number
    return text


def _loss(text: str, original: str) -> Any:
    """Read one value as known exactly, or the braces of a bench file as they are."""
    if not original.startswith("{"):
        return {"value": text}
    try:
        return tomllib.loads(f"loss = {original}")["loss"]
    except (ValueError, RecursionError):
        return original


def _table(content: bytes, file: str) -> _Sheet:
    text = decoded_sheet(content, file, _WHAT)
    first, _, rest = text.partition("\n")
    named = re.fullmatch(r"sep=(.)\r?", first, re.IGNORECASE)
    if named:
        text = rest
    separator = named[1] if named else separator_of(text)
    rows: list[list[_Cell]] = [[]] if named else []
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            _check_size(len(rows), len(record), file)
            rows.append([_Cell(entry) for entry in record])
    except csv.Error as error:
        right = "check the quotation marks of this row: each must be closed, and doubled inside a value"
        raise refuse_file(file, "is broken CSV", str(error), right, f"row {len(rows) + 1}") from None
    return _Sheet(rows, comma_is_decimal=separator == ";")


def _check_size(rows: int, columns: int, file: str) -> None:
    if rows >= MOST_ROWS or columns > MOST_COLUMNS:
        got = f"{rows + 1} rows, {columns} columns"
        right = f"keep to {MOST_ROWS} rows and {MOST_COLUMNS} columns"
        raise refuse_file(file, "is too large for a shelf", got, right)


def _workbook(content: bytes, file: str) -> _Sheet:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _Sheet(list(_workbook_rows(content, file)), comma_is_decimal=False)
    except BenchFileError:
        raise
    except Exception as error:  # noqa: BLE001 - openpyxl raises whatever zip, XML and number parsing raise
        got = f"{type(error).__name__}: {error}"
        raise refuse_file(file, "is a broken XLSX file", shown(got).strip('"'), "open and save it again") from None


def _workbook_rows(content: bytes, file: str) -> Iterator[list[_Cell]]:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    try:
        if not book.worksheets:
            raise refuse_file(file, "has no sheet", "no sheet", f"write {_WHAT}")
        rows = book.worksheets[0].iter_rows(max_row=MOST_ROWS + 1, max_col=MOST_COLUMNS)
        for number, row in enumerate(rows):
            _check_size(number, len(row), file)
            yield [_Cell(_shown_value(cell.value, getattr(cell, "number_format", ""))) for cell in row]
    finally:
        book.close()


def _shown_value(value: Any, number_format: Any) -> Any:
    """Give the cell's value; a number that the sheet shows in per cent is given as it is shown."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if is_number and isinstance(number_format, str) and number_format.rstrip().endswith("%"):
        return f"{100 * value:.10g} %"
    return value
