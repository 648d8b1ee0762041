"""Files as bytes, text and cells, with faults instead of the system's words."""

from __future__ import annotations

import csv
import io
import re
import tomllib
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from design.bench_files.schema_faults import shown
from design.errors import BenchFileError, Fault

LARGEST_FILE = 4_000_000
"""Bytes above which a file is surely not a bench or a shelf."""


def refuse_file(file: str, wrong: str, got: str, right: str, place: str = "") -> BenchFileError:
    """Build the error for a file that cannot be read at all."""
    return BenchFileError((Fault(file, place, "", wrong, got, right),))


def read_bytes(path: Path, file: str, what: str) -> bytes:
    """
    Read a file whole.

    Parameters
    ----------
    path : Path
        Where it is.
    file : str
        Its name in messages.
    what : str
        What it should be, with its article.

    Returns
    -------
    bytes
        Its content.

    Raises
    ------
    BenchFileError
        If it is missing, a folder, no plain file, too large or may not be read.
    """
    try:
        if path.is_dir():
            raise refuse_file(file, "is a folder", "a folder", f"name {what}")
        if not path.exists():
            raise refuse_file(file, "does not exist", "no such file", f"check the name, or write {what} there")
        if not path.is_file():
            raise refuse_file(file, "is no plain file", "a device or pipe", f"name {what}")
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except BenchFileError:
        raise
    except PermissionError:
        raise refuse_file(file, "may not be read", "permission denied", "allow reading it, or copy it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise refuse_file(file, "cannot be read", reason, f"name {what}") from None
    if len(content) > LARGEST_FILE:
        size = f"more than {LARGEST_FILE // 1_000_000} MB"
        raise refuse_file(file, "is too large", size, f"name {what}; a few thousand characters are usual")
    return content


def printable(value: bytes) -> str:
    """Show the first bytes of something that is no text."""
    return " ".join(f"{byte:02x}" for byte in value[:8]) or "nothing"


@dataclass(frozen=True)
class SheetForm:
    """What a sheet should be, in words with their article and in short; how large, and how strictly quoted."""

    what: str
    kind: str
    most_rows: int
    most_columns: int
    strict: bool

    def check_size(self, rows: int, columns: int, file: str) -> None:
        """Refuse one more row, or so many columns, where that is too much."""
        if rows >= self.most_rows or columns > self.most_columns:
            got = f"{rows + 1} rows, {columns} columns"
            right = f"keep to {self.most_rows} rows and {self.most_columns} columns"
            raise refuse_file(file, f"is too large for a {self.kind}", got, right)


def is_workbook(content: bytes) -> bool:
    """Tell an XLSX file by its first bytes."""
    return content.startswith(b"PK\x03\x04")


def text_cells(
    content: bytes, file: str, form: SheetForm, is_heading: Callable[[str], bool] = bool
) -> tuple[list[list[str]], str]:
    """
    Cells of a CSV sheet, row by row, and its separator, which its first line may name.

    Else it is what stands most in the first line that ``is_heading``, the first of all where none is.

    Raises
    ------
    BenchFileError
        If it is no text, broken, or too large.
    """
    text = _decoded(content, file, form.what)
    first, _, rest = text.partition("\n")
    named = re.fullmatch(r"sep=(.)\r?", first, re.IGNORECASE)
    separator, body = (named[1], rest) if named else (_separator_of(text, is_heading), text)
    rows: list[list[str]] = [[]] if named else []
    try:
        for record in csv.reader(io.StringIO(body, newline=""), delimiter=separator, strict=form.strict):
            form.check_size(len(rows), len(record), file)
            rows.append(record)
    except csv.Error as error:
        right = "check the quotation marks of this row: each must be closed, and doubled inside a value"
        raise refuse_file(file, "is broken CSV", str(error), right, f"row {len(rows) + 1}") from None
    return rows, separator


def workbook_cells(content: bytes, file: str, form: SheetForm, seen: Callable[[Any, str], Any]) -> list[list[Any]]:
    """
    Cells of the first sheet of an XLSX file, row by row, each made of its value and number format by ``seen``.

    Raises
    ------
    BenchFileError
        If it is broken, has no sheet, or is too large.
    """
    with _told_as_fault(file):
        return list(_workbook_rows(content, file, form, seen))


def workbook_sheets(
    content: bytes, file: str, form: SheetForm, seen: Callable[[Any, str], Any]
) -> list[tuple[str, list[list[Any]]]]:
    """
    Name and cells of every sheet of an XLSX file, each cell as in `workbook_cells`.

    A formula whose value was never stored, as programs write it that do not calculate, stands as its text.

    Raises
    ------
    BenchFileError
        If it is broken, has no sheet, or is too large.
    """
    with _told_as_fault(file):
        return [(name, list(rows)) for name, rows in _workbook_sheets(content, file, form, seen)]


@contextmanager
def _told_as_fault(file: str) -> Iterator[None]:
    """Read a workbook without the library's warnings, and tell what it raises as a fault of the file."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except BenchFileError:
        raise
    except Exception as error:  # noqa: BLE001 - openpyxl raises whatever zip, XML and number parsing raise
        got = shown(f"{type(error).__name__}: {error}").strip('"')
        raise refuse_file(file, "is a broken XLSX file", got, "open and save it again") from None


def _workbook_sheets(
    content: bytes, file: str, form: SheetForm, seen: Callable[[Any, str], Any]
) -> Iterator[tuple[str, Iterator[list[Any]]]]:
    with _opened(content, data_only=True) as book, _opened(content, data_only=False) as written:
        _must_have_sheets(book, file, form)
        for page, typed in zip(book.worksheets, written.worksheets, strict=True):
            yield page.title, _with_formulas(_rows(page, file, form), _rows(typed, file, form), seen)


def _with_formulas(
    values: Iterator[Sequence[Any]], written: Iterator[Sequence[Any]], seen: Callable[[Any, str], Any]
) -> Iterator[list[Any]]:
    for row, typed in zip(values, written, strict=True):
        cells = [_seen(cell, seen) for cell in row]
        for place, (cell, source) in enumerate(zip(row, typed, strict=False)):
            if cell.value is None and source.value is not None:
                cells[place] = str(getattr(source.value, "text", source.value))
        yield cells


def _workbook_rows(content: bytes, file: str, form: SheetForm, seen: Callable[[Any, str], Any]) -> Iterator[list[Any]]:
    with _opened(content, data_only=True) as book:
        _must_have_sheets(book, file, form)
        for row in _rows(book.worksheets[0], file, form):
            yield [_seen(cell, seen) for cell in row]


@contextmanager
def _opened(content: bytes, *, data_only: bool) -> Iterator[Any]:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=data_only)
    try:
        yield book
    finally:
        book.close()


def _must_have_sheets(book: Any, file: str, form: SheetForm) -> None:
    if not book.worksheets:
        raise refuse_file(file, "has no sheet", "no sheet", f"give {form.what}")


def _rows(page: Any, file: str, form: SheetForm) -> Iterator[Sequence[Any]]:
    for number, row in enumerate(page.iter_rows(max_row=form.most_rows + 1, max_col=form.most_columns)):
        form.check_size(number, len(row), file)
        yield row


def _seen(cell: Any, seen: Callable[[Any, str], Any]) -> Any:
    return seen(cell.value, str(getattr(cell, "number_format", "")))


def _decoded(content: bytes, file: str, what: str) -> str:
    """Text of a CSV sheet: UTF-8 with or without mark, UTF-16 with one, or Windows-1252."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings: tuple[str, ...] = ("utf-16",)
    elif b"\0" in content:
        raise refuse_file(file, "is no text", printable(content), f"save the sheet as {what}")
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise refuse_file(file, "is no text", printable(content), "save the sheet as CSV in UTF-8")


TITLE_LINES = 40
"""Lines among which the headings of a CSV sheet are looked for."""


def _separator_of(text: str, is_heading: Callable[[str], bool]) -> str:
    """Find the separator of a CSV sheet: what stands most in the heading row, outside quotes."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")][:TITLE_LINES]
    heading = re.sub(r'"[^"]*"', "", next(filter(is_heading, lines), lines[0] if lines else ""))
    return max(";\t,", key=heading.count)


def toml_tables(content: bytes, file: str) -> dict[str, Any]:
    """Parse TOML; a byte order mark, as some editors write it, is passed over."""
    if b"\0" in content:
        raise refuse_file(file, "is no text", printable(content), "save it as plain text in UTF-8")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        got = f"byte {content[error.start]:02x} in line {line}"
        raise refuse_file(file, "is not UTF-8 text", got, "save it in UTF-8") from None
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise refuse_file(file, "is broken TOML", "brackets within brackets", "close each bracket") from None
    except ValueError as error:
        reason, _, place = str(error).removesuffix(")").rpartition(" (at ")
        if not reason:
            reason, place = str(error), ""
        got = shown(reason[:1].lower() + reason[1:]).strip('"')
        raise refuse_file(file, "is broken TOML", got, "put this line right", place) from None
