"""The evaluation report and its files: what each copy shows, the keys of the JSON, live formulas, guarded text."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from openpyxl import load_workbook

from reports.command_line.cli import main

CONFIGS = Path(__file__).parents[3] / "configs"
SHEET = """group,run,mark,time_s,counts,mass_g,heater,remark
1,1,0,0,12,240,on,
1,1,1,432,43,120,on,=HYPERLINK("x")
1,2,0,0,50,240,on,+1
1,2,1,438,82,120,on,@sum
"""
KEYS = {
    "latent_heat_J_per_kg", "uncorrected_J_per_kg", "standard_uncertainty_J_per_kg", "interval_J_per_kg", "corrected",
    "reference_J_per_kg", "difference_percent", "normalised_error", "losses_W", "warnings", "groups", "school",
    "sources", "verdict",
}  # fmt: skip


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("sheet") / "readings.csv"
    file.write_text(SHEET, encoding="utf-8")
    return file


def run(sheet: Path, out: Path, *options: str) -> Path:
    assert main(["evaluate", str(CONFIGS / "demo.toml"), str(sheet), "--out", str(out), "--quiet", *options]) == 0
    return out


@pytest.fixture(scope="module")
def teacher(sheet: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run(sheet, tmp_path_factory.mktemp("teacher") / "out", "--teacher", "--learn")


@pytest.fixture(scope="module")
def student(sheet: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run(sheet, tmp_path_factory.mktemp("student") / "out", "--attempt", "2520", "--attempt-uncertainty", "60")


@pytest.fixture(scope="module")
def before(sheet: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run(sheet, tmp_path_factory.mktemp("before") / "out")


def page(out: Path) -> BeautifulSoup:
    return BeautifulSoup((out / "report.html").read_text(encoding="utf-8"), "html.parser")


def record(out: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((out / "evaluate.json").read_text(encoding="utf-8"))
    return found


def test_the_json_has_exactly_the_keys_that_are_public(teacher: Path) -> None:
    assert set(record(teacher)) == KEYS


def test_the_json_says_what_the_readings_give(teacher: Path) -> None:
    """Hand-worked: 31.5 turns at 375 rev/kWh over 120 g; reference of IAPWS-95 at 98.2 kPa (2258.8 kJ/kg)."""
    found = record(teacher)

    assert found["uncorrected_J_per_kg"] == pytest.approx(2.52e6)
    assert found["reference_J_per_kg"] == pytest.approx(2258.8e3, abs=50.0)
    assert found["interval_J_per_kg"][0] < found["latent_heat_J_per_kg"] < found["interval_J_per_kg"][1]
    assert sum(source["share"] for source in found["sources"]) == pytest.approx(1.0, abs=1e-6)


def test_the_student_s_page_begins_with_the_own_number_and_the_step_that_differs(student: Path) -> None:
    table = page(student).find("table")
    assert table is not None
    text = table.get_text(" ")

    assert "Own numbers and computed ones" in text
    assert "unit" in text


def test_before_the_own_value_is_there_the_student_s_copy_keeps_the_computed_one(before: Path) -> None:
    text = page(before).get_text(" ")

    assert "appears with the own one" in text
    assert "2520" not in text.replace("\u202f", "")
    assert "E_n" not in text
    assert load_workbook(before / "working.xlsx").sheetnames == ["Readings", "Rows to look at"]


def test_no_sentence_of_an_evaluation_stands_in_the_student_s_copy(student: Path) -> None:
    text = page(student).get_text(" ")

    for phrase in ("likeliest account", "would have to be", "cannot tell", "good method", "What moves most"):
        assert phrase not in text
    for element in page(student).select("#sources-section p, #improvements-section p, #result-section p"):
        assert not element.get_text(strip=True).endswith(".")


def test_the_teacher_s_copy_has_the_account_and_the_whole_working(teacher: Path) -> None:
    text = page(teacher).get_text(" ")

    assert "likeliest account" in text
    assert "would have to be" in text
    assert "W_est" in text


def test_both_copies_carry_the_acknowledgement_with_the_inputs_hash(student: Path, teacher: Path) -> None:
    for out in (student, teacher):
        section = page(out).find(id="acknowledgement-section")
        assert section is not None
        assert re.search(r"boiloff \d+\.\d+.* on \d{4}-\d\d-\d\d .*SHA-256 [0-9a-f]{16}", section.get_text(" "))


def test_pages_load_nothing_and_every_table_has_caption_and_scopes(student: Path, teacher: Path) -> None:
    for out in (student, teacher):
        soup = page(out)
        assert not soup.find_all(["script", "link", "img", "iframe"])
        assert "http" not in str(soup)
        for table in soup.find_all("table"):
            assert table.find("caption")
            assert all(head.has_attr("scope") for head in table.find_all("th"))


def cells(soup: BeautifulSoup, selector: str) -> list[list[str]]:
    """Cells of a table with their thin spaces taken out."""
    table = soup.select_one(selector)
    assert table is not None
    return [
        [cell.get_text(strip=True).replace("\u202f", "") for cell in row.find_all(["th", "td"])]
        for row in table.find_all("tr")
    ]


def decimals(text: str) -> int:
    return len(text.partition(".")[2])


def test_every_section_answers_a_question(student: Path, teacher: Path, before: Path) -> None:
    for out in (student, teacher, before):
        headings = [heading.get_text(strip=True) for heading in page(out).find_all("h2")]
        assert len(headings) >= 8
        assert all(heading.endswith("?") for heading in headings), headings


def test_the_contents_carry_the_headings(student: Path, teacher: Path, before: Path) -> None:
    for out in (student, teacher, before):
        soup = page(out)
        listed = [link.get_text(strip=True) for link in soup.select("nav a")]
        assert listed == [heading.get_text(strip=True) for heading in soup.find_all("h2")]


def test_values_are_rounded_by_their_uncertainty(teacher: Path) -> None:
    # JCGM 100:2008, 7.2.6: at most two significant digits of an uncertainty, the estimate to the same place.
    soup = page(teacher)
    _, row = cells(soup, "#result-section table")
    stated = {name: re.fullmatch(r"\((\d+) ± (\d\d)\)kJ/kg", row[place]) for name, place in (("E/m", 1), ("best", 2))}
    assert stated["E/m"] is not None
    assert stated["best"] is not None
    assert row[4] == "(2258.8 ± 2.3)kJ/kg"  # 0.1 % of it, for the room pressure to ± 3 kPa

    behind = {line[0]: line[1:] for line in cells(soup, "#result-section details table")}
    assert behind["readings alone, E/m"][0] == f"{stated['E/m'][1]}kJ/kg"
    assert behind["losses taken off"][0] == f"{stated['best'][1]}kJ/kg"
    assert all(re.fullmatch(r"\d+kJ/kg", cell) for line in behind.values() for cell in line if line != behind["Value"])

    head, *rows = cells(soup, "#budget-section table")
    estimate, uncertainty = head.index("Estimate"), head.index("Standard uncertainty")
    uncertain = [one for one in rows if one[uncertainty] != "0"]
    assert len(uncertain) >= 8
    for one in uncertain:
        if "×" not in one[uncertainty]:
            assert decimals(one[estimate]) == decimals(one[uncertainty]), one
            assert len(one[uncertainty].replace(".", "").strip("0")) <= 2, one


def test_a_class_states_its_spreads_to_two_digits(tmp_path: Path) -> None:
    sheet = tmp_path / "class.csv"
    rows = [
        f"{group},1,{mark},{time},{counts},{mass},on,"
        for group in (1, 2, 3)
        for mark, time, counts, mass in ((0, 0, 12, 240), (1, 430 + group, 43 + 0.5 * (group - 2), 120))
    ]
    sheet.write_text("\n".join([SHEET.splitlines()[0], *rows, ""]), encoding="utf-8")
    found = dict(cells(page(run(sheet, tmp_path / "out", "--teacher")), "#classroom-section table"))

    for label in ("part of u that all groups share", "spread between groups, seen"):
        number = found[label].removesuffix("kJ/kg")
        assert number != found[label]
        assert 1 <= len(number.replace(".", "").strip("0")) <= 2


def test_the_student_s_own_number_stands_as_it_was_typed_beside_one_rounded_by_its_uncertainty(
    sheet: Path, tmp_path: Path
) -> None:
    out = run(sheet, tmp_path / "out", "--attempt", "2412300", "--attempt-uncertainty", "61250")
    head, row = cells(page(out), "#attempt-section table")
    found = dict(zip(head, row, strict=True))

    assert (found["Own value"], found["Own ±"]) == ("2412.3kJ/kg", "61.25kJ/kg")
    assert found["E/m from the readings"] == "2520kJ/kg"


def test_text_that_begins_like_a_formula_is_written_as_text(teacher: Path) -> None:
    """OWASP, CSV injection: beginnings = + - @."""
    book = load_workbook(teacher / "working.xlsx")
    remarks = [row[-1].value for row in book["Readings"].iter_rows(min_row=2)]

    assert '\'=HYPERLINK("x")' in remarks
    assert "'+1" in remarks
    assert "'@sum" in remarks
    for row in book["Readings"].iter_rows():
        assert all(cell.data_type != "f" for cell in row)


def test_the_same_readings_give_the_same_bytes(sheet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    first, second = (run(sheet, tmp_path / name, "--teacher", "--learn") for name in ("a", "b"))

    for file in sorted(path.name for path in first.iterdir()):
        assert (first / file).read_bytes() == (second / file).read_bytes(), file


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "is empty"),
        ("a,b\n1,2\n", "names no column of readings"),
        ("mark,mass_g,mass_g\n0,1,2\n", "column stands twice"),
        ("mark,mass_g\n0,240\n1,120\n", "must have counts, energy, or time"),
        ("mark,time_s,counts,mass_g\n0,0,12,240\n", "must have two marks"),
    ],
)
def test_a_sheet_that_cannot_be_used_is_refused_in_words(
    text: str, message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(text, encoding="utf-8")

    assert main(["evaluate", str(CONFIGS / "demo.toml"), str(file), "--out", str(tmp_path / "out")]) == 2
    error = capsys.readouterr().err
    assert message in error
    assert "Traceback" not in error
    assert not (tmp_path / "out").exists()


def test_an_uncertainty_without_a_value_is_refused(sheet: Path, tmp_path: Path) -> None:
    arguments = ["evaluate", str(CONFIGS / "demo.toml"), str(sheet), "--attempt-uncertainty", "5"]

    assert main([*arguments, "--out", str(tmp_path / "out")]) == 2


def test_a_bench_to_start_from_comes_with_a_blank_sheet_for_each_procedure(tmp_path: Path) -> None:
    assert main(["start", str(tmp_path / "bench")]) == 0
    names = {path.stem for path in (tmp_path / "bench" / "sheets").iterdir()}

    assert {"fixed-mass-restart", "fixed-mass-kept-on", "whole-counts", "two-powers", "series"} <= names


def printed(sheet: Path, out: Path, capsys: pytest.CaptureFixture[str], *options: str) -> str:
    assert main(["evaluate", str(CONFIGS / "demo.toml"), str(sheet), "--out", str(out), *options]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_the_terminal_gives_a_teacher_the_value_both_uncertainties_and_the_findings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "gap.csv"
    sheet.write_text(SHEET + "1,3,0,0,,240,on,\n1,3,1,430,120,120,on,\n", encoding="utf-8")
    said = printed(sheet, tmp_path / "out", capsys, "--teacher", "--trials", "1024")
    found = record(tmp_path / "out")["groups"][0]

    stated = re.search(r"Group 1: L = \(([\d\s]+) ± (\d+)\) kJ/kg, .* expanded uncertainty U \(k = (\d\.\d)", said)
    assert stated is not None
    value, expanded, factor = (float(re.sub(r"\s", "", text)) for text in stated.groups())
    assert value == pytest.approx(found["latent_heat_J_per_kg"] / 1e3, abs=0.05 * expanded)
    assert expanded == pytest.approx(factor * found["standard_uncertainty_J_per_kg"] / 1e3, rel=0.06)
    assert "u = " in said
    assert "Row 6, counts: empty, so run 3 is left out" in said


def test_the_terminal_gives_a_student_the_findings_and_no_value_before_the_own_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "gap.csv"
    sheet.write_text(SHEET + "1,3,0,0,,240,on,\n1,3,1,430,120,120,on,\n", encoding="utf-8")
    said = printed(sheet, tmp_path / "out", capsys, "--trials", "1024")

    assert "Row 6, counts" in said
    assert "appears with the own one" in said
    assert "L = " not in said


def test_an_evaluation_stands_in_the_language_that_is_asked_for(sheet: Path, tmp_path: Path) -> None:
    out = run(sheet, tmp_path / "out", "--teacher", "--language", "de")
    report, handouts = (
        BeautifulSoup((out / name).read_text(encoding="utf-8"), "html.parser")
        for name in ("report.html", "handouts.html")
    )

    assert all(soup.find("html", lang="de") for soup in (report, handouts))
    assert "Auswertung von Ablesungen" in report.get_text()
    assert "Arbeitsblatt zur Auswertung" in handouts.get_text()
    assert load_workbook(out / "working.xlsx").sheetnames[0] == "Ablesungen"
    assert set(record(out)) == KEYS
