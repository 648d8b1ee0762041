"""Whatever stands in a bench file or a sheet: a bench comes out, or a list of faults, and nothing else."""

from __future__ import annotations

import io
import json
import math
import tempfile
from pathlib import Path
from typing import Any

import openpyxl
from hypothesis import given, settings
from hypothesis import strategies as st

from design.bench import Bench
from design.bench_files.reader import read_bench
from design.errors import BenchFileError

GOOD = (Path(__file__).parent / "good_bench.toml").read_text(encoding="utf-8")
LINES = GOOD.splitlines()
KEY_LINES = [number for number, line in enumerate(LINES) if " = " in line]
SHEET = "name;kind;resolution;capacity;owned;price\nA;beam;0,1 g;2 kg;yes;3,5\nB;electronic;0.1 g;3 kg;2;4\n"
PIECES = [
    "1",
    "0",
    "-1",
    "1e400",
    "1,5",
    "230 V",
    "0.1 g",
    "2 %",
    "21 degC",
    "rev/kWh",
    "count",
    "inf",
    "nan",
    "true",
    "",
    "none",
]

words = st.one_of(st.sampled_from(PIECES), st.text(max_size=12))
texts = st.lists(words, max_size=3).map(" ".join)
scalars = st.one_of(
    st.booleans(),
    st.integers(min_value=-(10**30), max_value=10**30),
    st.floats(),
    texts,
    st.sampled_from(PIECES),
)
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3), max_leaves=6
)
quick = settings(max_examples=120, deadline=None)


def toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else str(value)
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{toml(key)} = {toml(entry)}' for key, entry in value.items())}}}"
    return str(value)


def read_or_refuse(bench: bytes, sheet: bytes = b"", sheet_name: str = "shelf.csv") -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toml"
        path.write_bytes(bench)
        (Path(folder) / sheet_name).write_bytes(sheet)
        outcome: Bench | BenchFileError
        try:
            outcome = read_bench(path)
        except BenchFileError as error:
            outcome = error
    if isinstance(outcome, BenchFileError):
        assert outcome.faults
        assert all(str(fault).isprintable() and " (got " in str(fault) for fault in outcome.faults)
    else:
        assert all(math.isfinite(item.power) and item.power > 0 for item in outcome.heaters)


def with_shelf(name: str) -> bytes:
    return GOOD.replace("[knowledge]", f'[shelves]\nbalance = "{name}"\n\n[knowledge]').encode()


@quick
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    read_or_refuse(content)


@quick
@given(st.integers(0, len(GOOD) - 1), st.integers(0, 30), st.binary(max_size=8))
def test_a_good_file_with_bytes_changed_is_read_or_refused(start: int, length: int, put: bytes) -> None:
    content = GOOD.encode()

    read_or_refuse(content[:start] + put + content[start + length :])


@settings(max_examples=400, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(KEY_LINES), values), min_size=1, max_size=4))
def test_any_value_under_any_key_is_read_or_refused(changes: list[tuple[int, Any]]) -> None:
    lines = list(LINES)
    for number, value in changes:
        lines[number] = f"{lines[number].partition(' = ')[0]} = {toml(value)}"

    read_or_refuse("\n".join(lines).encode("utf-8", "surrogatepass"))


@quick
@given(st.sampled_from(KEY_LINES), texts)
def test_any_key_is_read_or_refused(number: int, key: str) -> None:
    lines = list(LINES)
    lines[number] = f"{toml(key)} = {lines[number].partition(' = ')[2]}"

    read_or_refuse("\n".join(lines).encode("utf-8", "surrogatepass"))


@quick
@given(st.integers(0, len(SHEET) - 1), st.integers(0, 12), st.binary(max_size=8))
def test_a_sheet_with_bytes_changed_is_read_or_refused(start: int, length: int, put: bytes) -> None:
    content = SHEET.encode()

    read_or_refuse(with_shelf("shelf.csv"), content[:start] + put + content[start + length :])


@quick
@given(st.lists(st.lists(texts, max_size=6), max_size=4), st.sampled_from(",;\t"))
def test_any_cells_of_a_sheet_are_read_or_refused(rows: list[list[str]], separator: str) -> None:
    head = ["name", "kind", "resolution", "capacity", "splash_proof", "price"]
    lines = [separator.join(head), *(separator.join(row) for row in rows)]

    read_or_refuse(with_shelf("shelf.csv"), "\n".join(lines).encode("utf-8", "surrogatepass"))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 5000), st.integers(0, 200), st.binary(max_size=6))
def test_a_workbook_with_bytes_changed_is_read_or_refused(start: int, length: int, put: bytes) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for line in SHEET.splitlines():
        sheet.append(line.split(";"))
    stream = io.BytesIO()
    book.save(stream)
    content = stream.getvalue()

    read_or_refuse(with_shelf("shelf.xlsx"), content[:start] + put + content[start + length :], "shelf.xlsx")
