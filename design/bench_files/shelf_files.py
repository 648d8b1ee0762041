"""Shelves kept beside a bench file: CSV as spreadsheets write it, or XLSX."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from design.bench_files.schema_faults import TableOrigin, known_keys, shown
from design.bench_files.text_files import SheetForm, is_workbook, read_bytes, refuse_file, text_cells, workbook_cells
from design.errors import Fault, nearest, spaced
from design.fields import Count, Flag, Kind, Listing, Nested, Number, Owned, PowerSettings, Text

FORM = SheetForm("a CSV or XLSX file with a heading row", "shelf", most_rows=2000, most_columns=100, strict=True)
_FLAGS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
_COMMA = re.compile(r"(?<![\d,.])(\d+),(\d+)(?![\d,.])")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")


@dataclass(frozen=True)
class ShelfRow:
    """One item of a shelf file: values by key, and where they came from."""

    values: dict[str, Any]
    origin: TableOrigin


def read_shelf(
    path: Path, file: str, keys: Mapping[str, Kind], required: Iterable[str]
) -> tuple[list[ShelfRow], list[Fault]]:
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
    tuple of (list of ShelfRow, list of Fault)
        Items with the values a bench file would hold, and faults of headings and cells.

    Raises
    ------
    BenchFileError
        If the file cannot be read as a sheet at all.
    """
    content, separator = read_bytes(path, file, FORM.what), ""
    cells: list[list[Any]]
    if path.suffix.casefold() in {".xlsx", ".xlsm"} or is_workbook(content):
        cells = workbook_cells(content, file, FORM, _shown_value)
    else:
        cells, separator = text_cells(content, file, FORM)
    filled = [(index, row) for index, row in enumerate(cells, start=1) if not _blank(row)]
    if not filled:
        raise refuse_file(file, "is empty", "no row", f"write {FORM.what}")
    columns, faults = _columns(filled[0][1], filled[0][0], file, list(keys), required)
    rows = []
    for index, row in filled[1:]:
        values = {
            key: _value(keys[key], row[at], comma_is_decimal=separator == ";")
            for at, (key, _) in columns.items()
            if at < len(row) and not _empty(row[at])
        }
        name = shown(values.get("name", "")).strip('"')
        origin = TableOrigin(file, f"row {index}", name, dict(columns.values()))
        faults += _strays(columns, row, origin)
        rows.append(ShelfRow(values, origin))
    if not rows:
        faults.append(Fault(file, "", "", "has no item", "headings only", "write at least one row below the headings"))
    return rows, faults


def _empty(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _blank(row: Sequence[Any]) -> bool:
    first = next((cell for cell in row if not _empty(cell)), None)
    return first is None or (isinstance(first, str) and first.lstrip().startswith("#"))


def _columns(
    cells: Sequence[Any], row: int, file: str, keys: Sequence[str], required: Iterable[str]
) -> tuple[dict[int, tuple[str, str]], list[Fault]]:
    """Key and heading by column index, and what is wrong with the headings."""
    columns: dict[int, tuple[str, str]] = {}
    faults = []
    for index, cell in enumerate(cells):
        if _empty(cell):
            continue
        heading = spaced(str(cell))
        key = re.sub(r"[\s_-]+", "_", heading.casefold())
        place = f"row {row}, column {index + 1}"
        if key not in keys:
            faults.append(Fault(file, place, "", "unknown column", shown(heading), known_keys(key, keys)))
        elif key in {known for known, _ in columns.values()}:
            faults.append(Fault(file, place, "", "column stands twice", shown(heading), "keep one of them"))
        else:
            columns[index] = (key, heading)
    present = {key for key, _ in columns.values()}
    headings = [spaced(str(cell)) for cell in cells if not _empty(cell)]
    for key in required:
        if key not in present:
            near = nearest(key, headings)
            right = f'rename column "{near}"' if near else f'add a column "{key}"'
            faults.append(Fault(file, f"row {row}", "", f'column "{key}" is missing', shown(headings), right))
    return columns, faults


def _strays(columns: dict[int, tuple[str, str]], cells: Sequence[Any], origin: TableOrigin) -> list[Fault]:
    """Cells to the right of the headings: mostly a value that holds the separator."""
    last = max(columns, default=-1)
    for index, cell in enumerate(cells):
        if index > last and not _empty(cell):
            place = f"{origin.path}, column {index + 1}"
            right = "put quotes round a value that holds the separator, such as a decimal comma"
            return [Fault(origin.file, place, origin.item, "value without a heading", shown(cell), right)]
    return []


def _value(kind: Kind, value: Any, *, comma_is_decimal: bool) -> Any:
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
        return [_value(kind.of, part, comma_is_decimal=comma_is_decimal) for part in parts if part]
    pointed = _point(text, comma_is_decimal=comma_is_decimal)
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


def _point(text: str, *, comma_is_decimal: bool) -> str:
    """Turn a decimal comma into a point, but not where the comma may part thousands."""

    def changed(match: re.Match[str]) -> str:
        doubtful = _THOUSANDS.fullmatch(match[0]) and not comma_is_decimal
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


def _shown_value(value: Any, number_format: str) -> Any:
    """Give the cell's value; a number that the sheet shows in per cent is given as it is shown."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if is_number and number_format.rstrip().endswith("%"):
        return f"{100 * value:.10g} %"
    return value
