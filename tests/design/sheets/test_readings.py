"""Readings sheets: what people and spreadsheets write, read as typed, or found odd, and never changed silently."""

import io
from datetime import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design.errors import BenchFileError
from design.sheets.headings import SheetColumn, column_of
from design.sheets.numbers import Refused, number_of
from design.sheets.readings import Sheet, TypedNumber
from design.sheets.readings_file import read_readings

GRAMS = SheetColumn("mass", "mass_g", 1e-3, unit_stated=True)
SECONDS = SheetColumn("time", "time_s", 1.0, unit_stated=True)


def read(tmp_path: Path, content: bytes, name: str = "readings.csv") -> Sheet:
    file = tmp_path / name
    file.write_bytes(content)
    return read_readings(file)


def values(sheet: Sheet) -> list[tuple[float | None, float | None]]:
    return [(reading.value("time"), reading.value("mass")) for reading in sheet.readings]


@pytest.mark.parametrize(
    "content",
    [
        b"mark,time_s,mass_g\n0,0,812.50\n1,432,692.5\n",
        b"mark;time_s;mass_g\r\n0;0;812,50\r\n1;432;692,5\r\n",
        b"\xef\xbb\xbfmark\ttime / s\tMass (g)\n0\t0\t812.50\n1\t432\t692,5\n",
        b"sep=;\nmark;time_min;mass_kg\n0;0;0,81250\n1;7,2;0,6925\n",
        b'mark,time_s,mass_g\n0,0,"812,50"\n1,7:12,692.5\n',
        "mark;time_s;mass_g\n0;0;812,50\n1;432;692,5\n".encode("utf-16"),
        b"# a note\nmark,time_s,mass_g,remark\n,,,boiled at 12:40\n0,0,812.50,\n1,432,692.5 g,caf\xe9\n",
    ],
)
def test_the_same_sheet_written_in_many_ways_gives_the_same_readings(content: bytes, tmp_path: Path) -> None:
    found = values(read(tmp_path, content))

    assert [number for pair in found for number in pair] == pytest.approx([0.0, 0.8125, 432.0, 0.6925])


def test_a_closing_zero_keeps_the_resolution(tmp_path: Path) -> None:
    sheet = read(tmp_path, b"mark,counts,mass_g\n0,1,12.50\n1,2,12.5\n")
    first, second = (reading.numbers["mass"] for reading in sheet.readings)

    assert first.text == "12.50"
    assert first.step == pytest.approx(1e-5)
    assert second.step == pytest.approx(1e-4)


def test_a_spreadsheet_gives_what_its_reader_sees(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.worksheets[0]
    sheet.append(["group", "mark", "time_s", "mass_g"])
    sheet.append([1, 0, time(0, 7, 12), 812.5])
    sheet.append([1.0, 1, 864, "692,5"])
    sheet["D2"].number_format = "0.00"
    buffer = io.BytesIO()
    book.save(buffer)
    found = read(tmp_path, buffer.getvalue(), "readings.xlsx")

    assert found.readings[0].numbers["mass"].text == "812.50"
    assert [reading.group for reading in found.readings] == ["1", "1"]
    assert [number for pair in values(found) for number in pair] == pytest.approx([432.0, 0.8125, 864.0, 0.6925])


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("=A1+3", "formula_in_cell"),
        ("@sum", "formula_in_cell"),
        ("-cmd", "formula_in_cell"),
        ("+A1", "formula_in_cell"),
        ("1.234,5", "ambiguous_number"),
        ("1,234", "ambiguous_number"),
        ("about 12", "not_a_number"),
        ("12 kWh", "not_a_number"),
        ("1e999", "not_a_number"),
        (".", "not_a_number"),
        ("-", "formula_in_cell"),
    ],
)
def test_what_is_no_number_is_said_to_be_none(text: str, code: str) -> None:
    found = number_of(text, GRAMS, comma_is_decimal=False)

    assert isinstance(found, Refused)
    assert found.code == code


@pytest.mark.parametrize(("text", "value"), [("7:12", 432.0), ("1:00:00", 3600.0), ("432,5", 432.5), ("1 200", 1200.0)])
def test_times_may_be_written_as_a_clock_shows_them(text: str, value: float) -> None:
    found = number_of(text, SECONDS, comma_is_decimal=False)

    assert isinstance(found, TypedNumber)
    assert found.value == value


@given(st.decimals(min_value=-10000, max_value=10000, places=3), st.sampled_from(".,"))
def test_any_typed_decimal_comes_back_with_its_last_digit(number: object, mark: str) -> None:
    text = str(number).replace(".", mark)
    found = number_of(text, GRAMS, comma_is_decimal=True)

    assert isinstance(found, TypedNumber)
    assert found.value == pytest.approx(float(str(number)) * 1e-3, abs=1e-12)
    assert found.step == pytest.approx(1e-6)


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_in_words(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    file = tmp_path_factory.mktemp("bytes") / "readings.csv"
    file.write_bytes(content)
    refusal = ""
    try:
        read_readings(file)
    except BenchFileError as error:
        refusal = str(error)

    assert not refusal or str(file) in refusal


@pytest.mark.parametrize(
    ("heading", "quantity", "factor"),
    [
        ("time_s", "time", 1.0),
        ("Time / min", "time", 60.0),
        ("t (s)", "time", 1.0),
        ("energy_kWh", "energy", 3.6e6),
        ("attempt_J_per_kg", "attempt", 1.0),
        ("attempt kJ/kg", "attempt", 1e3),
        ("mass step (g)", "mass_step", 1e-3),
        ("Temperature °C", "temperature", 1.0),
    ],
)
def test_headings_carry_their_unit_in_any_usual_form(heading: str, quantity: str, factor: float) -> None:
    column = column_of(heading)

    assert column is not None
    assert (column.quantity, column.factor) == (quantity, factor)
