"""Shelves kept in CSV or XLSX beside a bench file."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from budget.quantities.distributions import Constant, Normal
from design.bench import Bench
from design.bench_files.reader import read_bench
from design.errors import BenchFileError

GOOD = (Path(__file__).parent / "good_bench.toml").read_text(encoding="utf-8")
HEADINGS = ["name", "kind", "resolution", "capacity", "splash proof", "Owned", "price", "note"]
ROWS: list[list[Any]] = [
    ["Höhe 1", "electronic", "0.2 g", "3.2 kg", "yes", "2", "12.5", "invented"],
    ["Höhe 2", "beam", "0.25 g", "", "", "true", "", ""],
]
ROWS[1][3] = "2.1 kg"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def read_with(content: bytes, *, role: str = "balance", name: str = "shelf.csv") -> Bench:
    Path(name).write_bytes(content)
    Path("bench.toml").write_text(
        GOOD.replace("[knowledge]", f'[shelves]\n{role} = "{name}"\n\n[knowledge]'), encoding="utf-8"
    )
    return read_bench(Path("bench.toml"))


def faults_with(content: bytes, *, role: str = "balance", name: str = "shelf.csv") -> list[str]:
    with pytest.raises(BenchFileError) as caught:
        read_with(content, role=role, name=name)
    return [str(fault) for fault in caught.value.faults]


def written(separator: str, *, decimal: str = ".", quote: str = "") -> str:
    rows = [[str(cell).replace(".", decimal) for cell in row] for row in ROWS]
    return "\n".join(separator.join(f"{quote}{cell}{quote}" for cell in row) for row in [HEADINGS, *rows]) + "\n"


def workbook(rows: list[list[Any]], per_cent: str = "") -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    if per_cent:
        sheet[per_cent].number_format = "0.0%"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


DIALECTS = {
    "comma": written(",").encode(),
    "semicolon": written(";").encode(),
    "semicolon, decimal comma": written(";", decimal=",").encode(),
    "tab": written("\t").encode(),
    "tab, decimal comma": written("\t", decimal=",").encode(),
    "comma, quoted decimal comma": written(",", decimal=",", quote='"').encode(),
    "byte order mark": b"\xef\xbb\xbf" + written(";").encode(),
    "windows": written(";", decimal=",").replace("\n", "\r\n").encode("cp1252"),
    "utf-16": written("\t").encode("utf-16"),
    "separator named": b"sep=;\r\n" + written(";").encode(),
    "comment and empty rows": b"# invented\n\n" + written(",").replace("\n", "\n,,,,,,,\n").encode(),
    "workbook": workbook([HEADINGS, *ROWS]),
    "workbook with numbers": workbook([HEADINGS, [*ROWS[0][:4], True, 2.0, 12.5, "invented"], ROWS[1]]),
}


@pytest.mark.parametrize("content", DIALECTS.values(), ids=DIALECTS)
def test_a_shelf_reads_the_same_however_a_spreadsheet_wrote_it(content: bytes) -> None:
    balances = read_with(content).balances

    assert [item.name for item in balances] == ["Beam", "Digits", "Höhe 1", "Höhe 2"]
    first, second = balances[2:]
    assert first.resolution == pytest.approx(2e-4)
    assert (first.splash_proof, first.owned, first.price, first.note) == (True, 2, 12.5, "invented")
    assert second.resolution == pytest.approx(2.5e-4)
    assert second.capacity == pytest.approx(2.1)
    assert (second.splash_proof, second.owned, second.price) == (True, 10**6, 0.0)


def test_a_shelf_may_stand_in_the_sheet_alone() -> None:
    Path("shelf.csv").write_text(written(","), encoding="utf-8")
    start, end = GOOD.index("[[balance]]"), GOOD.index("[[meter]]")
    text = GOOD[:start] + GOOD[end:]
    text = text.replace("[knowledge]", '[shelves]\nbalance = "shelf.csv"\n[knowledge]').replace('"Beam"', '"Höhe 2"')
    Path("bench.toml").write_text(text, encoding="utf-8")

    assert len(read_bench(Path("bench.toml")).balances) == 2


@pytest.mark.parametrize("cell", ['"50 g; 100 g"', "50 g | 100 g", '"[50 g, 100 g]"', '"0,05 kg; 0,1 kg"'])
def test_a_list_stands_in_one_cell(cell: str) -> None:
    sheet = f"name,steps,accuracy\nBrass,{cell},0.3 %\n"

    mass_set = read_with(sheet.encode(), role="mass_set").mass_sets[1]

    assert mass_set.steps == pytest.approx((0.05, 0.1))
    assert mass_set.accuracy == pytest.approx(0.003)


def test_a_controller_in_a_cell_is_a_word_or_a_list() -> None:
    sheet = "name;power;at;control;stems\nA;1 kW;230 V;stepless;1\nB;1 kW;230 V;0,5 kW | 1 kW;2\nC;1 kW;230 V;;\n"

    heaters = read_with(sheet.encode(), role="heater").heaters[1:]

    assert [item.control for item in heaters] == ["stepless", (500.0, 1000.0), "none"]
    assert [item.stems for item in heaters] == [1, 2, 2]


def test_a_loss_in_a_cell_is_a_value_or_what_a_bench_file_says_in_braces() -> None:
    braces = '{distribution = "normal", estimate = "17 W", standard_uncertainty = "3 W"}'
    rows: list[list[Any]] = [
        ["name", "capacity", "diameter", "wall_loss"],
        ["A", "1.4 L", "112 mm", "17.5 W"],
        ["B", "1.4 L", "112 mm", braces],
        ["C", "1.4 L", "112 mm", None],
    ]

    vessels = read_with(workbook(rows), role="vessel", name="vessels.xlsx").vessels[1:]

    assert [item.knowledge for item in vessels] == [
        {"wall_loss": Constant(17.5)},
        {"wall_loss": Normal(17.0, 3.0)},
        {},
    ]


def test_a_number_that_a_workbook_shows_in_per_cent_is_a_share() -> None:
    rows: list[list[Any]] = [["name", "kind", "constant", "accuracy"], ["A", "disk", "600 rev/kWh", 0.015]]

    meter = read_with(workbook(rows, per_cent="D2"), role="meter").meters[2]

    assert meter.error.support == pytest.approx((-0.015, 0.015))


HEAD = "name,kind,resolution,capacity,price\n"
BAD_SHEETS: dict[str, tuple[bytes, str, str]] = {
    "empty": (b"", "shelf.csv: is empty (got no row)", "write a CSV or XLSX file with a heading row"),
    "headings only": (HEAD.encode(), "shelf.csv: has no item (got headings only)", "write at least one row"),
    "unknown column": (
        b"name,kind,resolutoin,capacity\nA,beam,0.1 g,2 kg\n",
        'shelf.csv: row 1, column 3: unknown column (got "resolutoin")',
        'did you mean "resolution"?',
    ),
    "missing column": (
        b"name,kind,capacity\nA,beam,2 kg\nB,beam,2 kg\n",
        'shelf.csv: row 1: column "resolution" is missing (got ["name", "kind", "capacity"])',
        'add a column "resolution"',
    ),
    "column twice": (
        b"name,kind,resolution,capacity,Name\nA,beam,0.1 g,2 kg,B\n",
        'shelf.csv: row 1, column 5: column stands twice (got "Name")',
        "keep one of them",
    ),
    "wrong dimension": (
        f"{HEAD}A,beam,0.1 g,2 kg,3\nB,beam,375 rev/kg,2 kg,3\n".encode(),
        'shelf.csv: row 3, column "resolution" "B": is not a mass (got "375 rev/kg")',
        'write a mass such as "0.1 g"',
    ),
    "no unit": (
        f"{HEAD}A,beam,0.1,2 kg,3\n".encode(),
        'shelf.csv: row 2, column "resolution" "A": has no unit (got "0.1")',
        'write a mass such as "0.1 g"',
    ),
    "empty cell that must be filled": (
        f"{HEAD}A,beam,,2 kg,3\n".encode(),
        'shelf.csv: row 2, column "resolution" "A": is missing (got nothing)',
        'write a mass such as "0.1 g"',
    ),
    "price that is no number": (
        f"{HEAD}A,beam,0.1 g,2 kg,cheap\n".encode(),
        'shelf.csv: row 2, column "price" "A": must be a plain number without quotes or unit (got "cheap")',
        "write a price such as 45",
    ),
    "price below zero": (
        f"{HEAD}A,beam,0.1 g,2 kg,-3\n".encode(),
        'shelf.csv: row 2, column "price" "A": must not be negative (got -3)',
        "write a price such as 45",
    ),
    "name of the file again": (
        f"{HEAD}Beam,beam,0.1 g,2 kg,3\n".encode(),
        'shelf.csv: row 2, column "name" "Beam": name stands twice on the balance shelf, '
        'first at balance[1] of bench.toml (got "Beam")',
        "give each item a name of its own",
    ),
    "separator inside a value": (
        f"{HEAD}A,beam,0,1 g,2 kg,3\n".encode(),
        'shelf.csv: row 2, column 6 "A": value without a heading (got "3")',
        "put quotes round a value that holds the separator",
    ),
    "quotation mark left open": (
        f'{HEAD}A,beam,"0.1 g,2 kg,3\n'.encode(),
        "shelf.csv: row 2: is broken CSV (got unexpected end of data)",
        "check the quotation marks of this row",
    ),
    "thousands or decimals": (
        f'{HEAD}A,beam,"1,500 mg",2 kg,3\n'.encode(),
        'shelf.csv: row 2, column "resolution" "A": has a comma that may part thousands or decimals (got "1,500 mg")',
        "use a decimal point",
    ),
    "binary": (
        b"\x00\x01\x02\x03",
        "shelf.csv: is no text (got 00 01 02 03)",
        "save the sheet as a CSV or XLSX file with a heading row",
    ),
    "broken workbook": (
        b"PK\x03\x04 nothing",
        "shelf.csv: is a broken XLSX file (got BadZipFile",
        "open and save it again",
    ),
    "workbook cut short": (workbook([HEADINGS, *ROWS])[:900], "shelf.csv: is a broken XLSX file", "open and save"),
    "plain number in a workbook": (
        workbook([["name", "kind", "resolution", "capacity"], ["A", "beam", 0.1, "2 kg"]]),
        'shelf.csv: row 2, column "resolution" "A": has no unit (got 0.1)',
        'write a mass such as "0.1 g"',
    ),
    "too many rows": (
        HEAD.encode() + b"A,beam,0.1 g,2 kg,3\n" * 2500,
        "shelf.csv: is too large for a shelf (got 2001 rows, 5 columns)",
        "keep to 2000 rows and 100 columns",
    ),
}


@pytest.mark.parametrize(("content", "says", "right"), BAD_SHEETS.values(), ids=BAD_SHEETS)
def test_a_bad_sheet_is_refused_with_file_row_column_and_value(content: bytes, says: str, right: str) -> None:
    faults = [fault for fault in faults_with(content) if fault.startswith(says)]

    assert len(faults) == 1
    assert right in faults[0]
    assert "\n" not in faults[0]


def test_a_column_that_is_missing_is_said_once_and_not_for_every_row() -> None:
    assert len(faults_with(BAD_SHEETS["missing column"][0])) == 1


def test_faults_of_the_file_and_of_its_sheet_are_said_together() -> None:
    Path("shelf.csv").write_text(f"{HEAD}A,beam,0 g,2 kg,3\n", encoding="utf-8")
    text = GOOD.replace("[knowledge]", '[shelves]\nbalance = "shelf.csv"\n\n[knowledge]').replace("180", "-180")
    Path("bench.toml").write_text(text, encoding="utf-8")

    with pytest.raises(BenchFileError) as caught:
        read_bench(Path("bench.toml"))

    assert [fault.file for fault in caught.value.faults] == ["bench.toml", "shelf.csv"]


def test_a_folder_in_place_of_a_sheet_is_refused(folder: Path) -> None:
    (folder / "shelf.csv").mkdir()
    Path("bench.toml").write_text(
        GOOD.replace("[knowledge]", '[shelves]\nbalance = "shelf.csv"\n\n[knowledge]'), encoding="utf-8"
    )

    with pytest.raises(BenchFileError, match=r"^shelf.csv: is a folder \(got a folder\); name a CSV or XLSX file"):
        read_bench(Path("bench.toml"))
