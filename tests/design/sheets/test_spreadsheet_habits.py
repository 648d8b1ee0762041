"""Sheets as spreadsheets and people leave them: blocks, titles, several worksheets, formulas, languages, commas."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from design.errors import BenchFileError
from design.sheets.readings import Sheet
from design.sheets.readings_file import read_readings

Rows = list[list[Any]]
BLOCK: Rows = [
    ["group", "run", "mark", "time_s", "counts", "mass_g"],
    ["North", 1, 0, 0, 12, 240.5],
    [None, None, 1, 432, 43, 120.5],
    [None, 2, 0, 0, 50, 240],
    [None, None, 1, 438, 82, 120],
    ["South", 1, 0, 0, 12, 240],
    [None, None, 1, 430, 43, 121],
]
NAMES = [("North", "1"), ("North", "1"), ("North", "2"), ("North", "2"), ("South", "1"), ("South", "1")]


def book_of(**sheets: Rows) -> Workbook:
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return book


def read_book(book: Workbook, folder: Path) -> Sheet:
    buffer = io.BytesIO()
    book.save(buffer)
    return read(buffer.getvalue(), folder, "readings.xlsx")


def read(content: bytes, folder: Path, name: str = "readings.csv") -> Sheet:
    file = folder / name
    file.write_bytes(content)
    return read_readings(file)


def names(sheet: Sheet) -> list[tuple[str, str]]:
    return [(reading.group, reading.run) for reading in sheet.readings]


def masses(sheet: Sheet) -> list[float]:
    return [round(1e3 * (reading.value("mass") or 0.0), 6) for reading in sheet.readings]


def codes(sheet: Sheet) -> list[str]:
    return [finding.code for finding in sheet.findings]


def as_csv(rows: Rows, separator: str, end: str = "\n", *, decimal: str = ".") -> str:
    def text(cell: Any) -> str:
        return "" if cell is None else str(cell).replace(".", decimal)

    return end.join(separator.join(map(text, row)) for row in rows) + end


def test_group_and_run_written_once_a_block_hold_for_the_block(tmp_path: Path) -> None:
    found = read_book(book_of(Readings=BLOCK), tmp_path)

    assert names(found) == NAMES
    assert codes(found) == []


def test_merged_cells_hold_for_all_their_rows(tmp_path: Path) -> None:
    book = book_of(Readings=BLOCK)
    for merged in ("A2:A5", "B2:B3", "B4:B5", "A6:A7", "B6:B7"):
        book["Readings"].merge_cells(merged)

    assert names(read_book(book, tmp_path)) == NAMES


def test_a_mean_between_the_runs_names_no_block(tmp_path: Path) -> None:
    rows = [*BLOCK[:3], [None, "mean", None, 432, 31, None], [None, None, 2, 900, 74, 1.5]]

    assert names(read_book(book_of(Readings=rows), tmp_path)) == [*NAMES[:2], ("North", "mean"), ("North", "1")]


@pytest.mark.parametrize(
    "content",
    [
        as_csv(BLOCK, ","),
        as_csv(BLOCK, ";", decimal=","),
        "\ufeff" + as_csv(BLOCK, ";", "\r\n", decimal=","),
        as_csv(BLOCK, "\t", "\r\n", decimal=","),
        "Latent heat, 3 May\n\nTeacher: A. Example\n" + as_csv(BLOCK, ";", decimal=","),
        "Our readings\t\t\n" + as_csv(BLOCK, "\t"),
        as_csv([*BLOCK[:3], BLOCK[0], *BLOCK[3:]], ","),
    ],
)
def test_text_files_of_several_habits_give_the_same_readings(content: str, tmp_path: Path) -> None:
    found = read(content.encode("utf-8"), tmp_path)

    assert names(found) == NAMES
    assert masses(found) == [240.5, 120.5, 240.0, 120.0, 240.0, 121.0]
    assert codes(found) == []


def test_rows_keep_the_numbers_that_the_spreadsheet_shows_below_titles(tmp_path: Path) -> None:
    titled: Rows = [["Latent heat of vaporisation"], [None], ["Group", "North", "Date", "3 May"], *BLOCK]
    found = read_book(book_of(Readings=titled), tmp_path)

    assert [reading.row for reading in found.readings] == [5, 6, 7, 8, 9, 10]


def test_units_in_a_row_of_their_own_belong_to_the_headings(tmp_path: Path) -> None:
    rows: Rows = [["run", "mark", "time", "counts", "mass"], [None, None, "(min)", None, "kg"], [1, 0, 2, 12, 0.24]]
    found = read_book(book_of(Readings=rows), tmp_path)

    assert found.readings[0].value("time") == 120.0
    assert masses(found) == [240.0]
    assert codes(found) == []


def test_the_worksheet_is_found_by_its_headings(tmp_path: Path) -> None:
    notes: Rows = [["Kit", "Old beam balance"], ["Room", 98.2], ["Mass", "see next sheet"]]
    found = read_book(book_of(Notes=notes, Empty=[], Readings=BLOCK), tmp_path)

    assert names(found) == NAMES
    assert codes(found) == []


def test_a_second_worksheet_with_readings_is_said_to_be_left_alone(tmp_path: Path) -> None:
    found = read_book(book_of(First=BLOCK, Second=BLOCK), tmp_path)

    assert names(found) == NAMES
    assert codes(found) == ["other_sheet"]
    assert dict(found.findings[0].message.values) == {"other": "Second", "sheet": "First"}


def test_a_formula_without_a_stored_value_is_named_by_its_cell(tmp_path: Path) -> None:
    rows = [*BLOCK[:2], [None, None, 1, 432, "=E2+31", 120]]
    found = read_book(book_of(Readings=rows), tmp_path)

    assert codes(found) == ["formula_without_value"]
    seen: Any = found.findings[0].message.values["seen"]
    assert (seen.values["cell"], seen.values["typed"]) == ("E3", '"=E2+31"')
    assert "counts" not in found.readings[1].numbers


@pytest.mark.parametrize(
    "headings",
    [
        ["Gruppe", "Durchgang", "Ablesung", "Zeit in s", "Zählerstand (U)", "Masse / g", "Heizung", "Bemerkung"],
        ["Groupe", "Essai", "Repère", "Durée (s)", "Impulsions", "Masse (g)", "Chauffage", "Remarques"],
        ["Grupo", "Ensayo", "Marca", "Tiempo / s", "Vueltas", "Masa (g)", "Calentador", "Observaciones"],
        ["Group", "Run", "Mark", "Time / s", "Counts", "Mass (g)", "Heater", "Remark"],
    ],
)
@pytest.mark.parametrize("words", [("ein", "aus"), ("marche", "arrêt"), ("encendido", "apagado"), ("on", "off")])
def test_headings_and_switches_are_known_in_four_languages(
    headings: list[str], words: tuple[str, str], tmp_path: Path
) -> None:
    rows: Rows = [headings, ["A", 1, 0, 0, 12, 240.5, words[0], ""], ["A", 1, 1, 400, 43, 120.5, words[1], ""]]
    found = read_book(book_of(Readings=rows), tmp_path)

    assert set(found.headings) == {"group", "run", "mark", "time", "counts", "mass", "heater", "remark"}
    assert [reading.heater for reading in found.readings] == [True, False]
    assert codes(found) == []


def test_a_decimal_comma_in_a_sheet_of_commas_is_read_where_only_one_reading_is_possible(tmp_path: Path) -> None:
    content = b"run,mark,time_s,mass_g\n1,0,0,0,240,5\n1,1,432,5,120,25\n"
    found = read(content, tmp_path)

    assert [reading.value("time") for reading in found.readings] == [0.0, 432.5]
    assert masses(found) == [240.5, 120.25]
    assert codes(found) == []


def test_a_decimal_comma_in_a_sheet_of_commas_is_refused_where_it_can_be_read_in_two_ways(tmp_path: Path) -> None:
    with pytest.raises(BenchFileError, match=r"row 2: has more cells than headings.*semicolons"):
        read(b"mark,counts,mass_g\n0,12,812,5\n1,43,692,5\n", tmp_path)


def test_a_remark_with_a_comma_is_no_decimal_comma(tmp_path: Path) -> None:
    found = read(b"mark,counts,mass_g,remark\n0,12,812.5,boiled, then waited\n1,43,692.5,\n", tmp_path)

    assert masses(found) == [812.5, 692.5]
    assert codes(found) == ["cell_without_heading"]


def test_a_row_of_a_run_that_holds_no_number_is_said(tmp_path: Path) -> None:
    found = read(b"run,mark,counts,mass_g\n1,0,12,812.5\n1,1,,\n2,0,,\n2,1,,\n", tmp_path)

    assert [(finding.row, finding.code) for finding in found.findings] == [(3, "row_without_readings")]
