from __future__ import annotations

import dataclasses
import io
import json
from pathlib import Path
from typing import Any

import html5lib
import numpy as np
import openpyxl
import pytest
from bs4 import BeautifulSoup

from budget.budget_file import BudgetFile, budget_from_tables
from budget.errors import BudgetError
from budget.report import BudgetReport, analyse
from reports.command_line import cli
from reports.command_line.budget import FILES, budget_files
from reports.figures.distribution import density, distribution
from reports.pages.budget_page import facts, inputs_table, ranked_inputs, statement, telling
from reports.rendering import Origin

ORIGIN = Origin("0.0.0", "2026-03-04")
FILE = """
scenario = "invented"
[measurand]
name = "mass of a stack"
symbol = "m"
unit = "g"
equation = "a + b - c"
[[input]]
symbol = "a"
name = "lower plate"
unit = "g"
distribution = "normal"
estimate = 120.0
standard_uncertainty = 0.3
[[input]]
symbol = "b"
unit = "g"
distribution = "normal"
estimate = 80.0
standard_uncertainty = 0.4
[[input]]
symbol = "c"
name = "=tare"
unit = "g"
value = 25.0
"""


def tables(**measurand: Any) -> dict[str, Any]:
    import tomllib

    found = tomllib.loads(FILE)
    found["measurand"].update(measurand)
    return found


@pytest.fixture(scope="module")
def file() -> BudgetFile:
    return budget_from_tables(tables(), "stack.toml")


@pytest.fixture(scope="module")
def report(file: BudgetFile) -> BudgetReport:
    return analyse(file.model, 0.95, seed=5)


@pytest.fixture(scope="module")
def files(report: BudgetReport, file: BudgetFile) -> dict[str, bytes]:
    return budget_files(report, file, 5, ORIGIN)


def test_the_result_is_stated_with_its_expanded_uncertainty(report: BudgetReport) -> None:
    # By hand: u = sqrt(0.3^2 + 0.4^2) = 0.5 g; U = 1.96 u = 0.98 g. JCGM 100:2008, 7.2.3: y ± U, with k and the
    # coverage probability.
    sentence = statement(report).replace("\u202f", " ")

    assert sentence.startswith("m = (175.00 ± 0.98) g")
    assert "95 %" in sentence
    assert "1.96" in sentence


def test_the_facts_give_coverage_factor_and_expanded_uncertainty_and_keep_the_sign_for_intervals(
    report: BudgetReport,
) -> None:
    # By hand: u = 0.5 g, k = 1.96, U = 0.98 g. JCGM 100:2008, 7.2.2, note: ± is for an interval, not for u.
    text = dict(facts(report))["Propagation (first order)"].replace("\u202f", " ")

    assert "175.00 g, standard uncertainty 0.50 g" in text
    assert "coverage factor 1.96; expanded uncertainty 0.98 g" in text
    assert "±" not in " ".join(words for _, words in facts(report))


def test_where_propagation_is_not_valid_the_simulation_is_stated(report: BudgetReport) -> None:
    validation = dataclasses.replace(report.validation, valid=False, alike=False)
    invalid = dataclasses.replace(report, validation=validation)

    assert "by simulation" in statement(invalid)
    assert "174.02 to 175.98" in statement(invalid).replace("\u202f", " ")


def test_the_inputs_are_ranked_by_their_shares(report: BudgetReport) -> None:
    # By hand: shares 0.16/0.25 and 0.09/0.25.
    ranked = ranked_inputs(report)

    assert [one["symbol"] for one in ranked] == ["b", "a", "c"]
    assert [one["variance_share"] for one in ranked] == pytest.approx([0.64, 0.36, 0.0])


def test_the_page_leaves_out_columns_that_tell_nothing(report: BudgetReport) -> None:
    bare = budget_from_tables(
        {"measurand": {"symbol": "y", "equation": "a + b"}, "input": [{"symbol": s, "value": 1} for s in "ab"]}, "bare"
    )

    assert {"quantity", "unit", "contribution"} <= set(telling(inputs_table(report)))
    assert "degrees_of_freedom" not in telling(inputs_table(report))
    assert not {"quantity", "unit"} & set(telling(inputs_table(analyse(bare.model))))


def test_the_last_row_of_the_budget_is_the_measurand(report: BudgetReport) -> None:
    table = inputs_table(report)
    row = dict(zip((column.key for column in table.columns), table.rows[-1], strict=True))

    assert row["symbol"] == "m"
    assert row["standard_uncertainty"] == pytest.approx(0.5)


def test_readers_see_estimates_to_the_place_of_their_uncertainty_and_files_keep_every_digit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # By hand: a = 120.0123 ± 0.3, so 120.01 ± 0.30; m = 175.0123 ± 0.5, so 175.01 ± 0.50 (JCGM 100:2008, 7.2.6).
    path = tmp_path / "stack.toml"
    path.write_text(FILE.replace("estimate = 120.0", "estimate = 120.0123"))
    assert cli.main(["budget", str(path), "--out", str(tmp_path / "r"), "--trials", "4096"]) == 0
    printed = capsys.readouterr().out
    section = BeautifulSoup((tmp_path / "r" / "report.html").read_text(), "html5lib").select_one("#budget-section")

    assert section is not None
    rows = [[cell.get_text() for cell in row.find_all(["th", "td"])] for row in section.select("tbody tr")]
    assert {("a", "120.01", "0.30"), ("m", "175.01", "0.50"), ("c", "25", "0")} <= {tuple(row[1:4]) for row in rows}
    assert "120.01" in printed
    assert "120.0123" not in printed
    assert "120.0123" in (tmp_path / "r" / "budget.csv").read_text(encoding="utf-8-sig")


def test_the_report_is_a_page_with_json_csv_and_a_workbook(files: dict[str, bytes]) -> None:
    assert set(files) == set(FILES)
    assert json.loads(files["budget.json"])["propagation"]["standard_uncertainty"] == pytest.approx(0.5)


def test_the_workbook_holds_numbers_as_numbers_and_no_formula(files: dict[str, bytes]) -> None:
    sheet = openpyxl.load_workbook(io.BytesIO(files["budget.xlsx"]))["budget"]
    rows = list(sheet.iter_rows(values_only=True))

    assert rows[1][2] == 80.0
    assert "'=tare" in [row[0] for row in rows]
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)


def test_the_same_budget_gives_the_same_bytes(report: BudgetReport, file: BudgetFile, files: dict[str, bytes]) -> None:
    assert budget_files(report, file, 5, ORIGIN) == files


def test_the_page_is_valid_and_whole(files: dict[str, bytes]) -> None:
    text = files["report.html"].decode()
    soup = BeautifulSoup(text, "html5lib")

    html5lib.HTMLParser(strict=True).parse(text)
    assert len(soup.find_all("figure")) == 2
    assert all(table.find("caption") for table in soup.find_all("table"))
    assert all(heading.get_text().endswith("?") for heading in soup.find_all("h2"))
    assert not soup.find_all(["script", "link", "img"])
    assert "m = a + b - c" in text
    assert "the data are invented" in text


def test_the_equations_stand_as_they_are_written_by_hand_and_as_they_were_computed() -> None:
    found = tables(equation="mean - c")
    found["intermediate"] = [{"symbol": "mean", "equation": "(a + b) / 2"}]
    file = budget_from_tables(found, "stack.toml")
    files = budget_files(analyse(file.model, 0.95, trials=4096), file, 5, ORIGIN)
    section = BeautifulSoup(files["report.html"].decode(), "html5lib").select_one("#equation-section")

    assert section is not None
    drawn = section.find_all("math")
    assert [math.get_text() for math in drawn] == ["mean=a+b2", "m=mean−c"]
    assert len(drawn[0].find_all("mfrac")) == 1
    assert "mean = (a + b) / 2\nm    = mean - c" in section.get_text()


def test_the_histogram_holds_all_but_the_tails() -> None:
    values, probabilities = np.linspace(-1, 1, 1001), np.linspace(0, 1, 1001)
    edges, inside = density(values, probabilities)

    assert inside.sum() == pytest.approx(0.999)
    assert edges[0] == pytest.approx(-0.999)
    assert np.ptp(inside) < 1e-12


def test_a_measurand_without_spread_is_still_drawn() -> None:
    file = budget_from_tables(
        {
            "measurand": {"symbol": "y", "equation": "a + b"},
            "input": [{"symbol": "a", "value": 2.0}, {"symbol": "b", "value": 3.0}],
        },
        "constant.toml",
    )
    certain = analyse(file.model, 0.95, trials=4096)

    assert "5" in distribution(certain).alt
    assert "report.html" in budget_files(certain, file, 0, ORIGIN)


def test_the_command_writes_the_report_and_prints_the_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "stack.toml").write_text(FILE)
    arguments = ["budget", str(tmp_path / "stack.toml"), "--out", str(tmp_path / "r")]

    assert cli.main([*arguments, "--order", "2", "--coverage", "0.99"]) == 0

    out = capsys.readouterr().out.replace("\u202f", " ")
    assert "m = (175.0 ± 1.3) g" in out  # By hand: 2.576 * 0.5 = 1.29.
    assert str(tmp_path / "r" / "report.html") in out
    record = json.loads((tmp_path / "r" / "budget.json").read_text())
    assert (record["propagation"]["order"], record["coverage"]) == (2, 0.99)


def test_check_knows_a_budget_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "stack.toml").write_text(FILE)

    assert cli.main(["check", str(tmp_path / "stack.toml")]) == 0
    assert "a budget file that can be used (mass of a stack; inputs: 3)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ('equation = "a + b - d"', "d"),
        ('equation = "a.real + b - c"', "equation"),
        ('equation = "a + b - c"\nfrobnicate = 1', "frobnicate"),
    ],
)
def test_a_wrong_budget_file_is_one_message(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], wrong: str, message: str
) -> None:
    (tmp_path / "stack.toml").write_text(FILE.replace('equation = "a + b - c"', wrong))

    assert cli.main(["budget", str(tmp_path / "stack.toml"), "--out", str(tmp_path / "r")]) == 2
    err = capsys.readouterr().err
    assert message in err
    assert "Traceback" not in err
    assert not (tmp_path / "r").exists()


@pytest.mark.parametrize("order", ["0", "3", "x"])
def test_an_order_that_does_not_exist_is_refused(order: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["budget", "f.toml", "--order", order]) == 2
    assert f"{order} is not a whole number from 1 to 2" in capsys.readouterr().err


FALL: dict[str, Any] = {
    "measurand": {"symbol": "g", "unit": "m/s^2", "equation": "2 * h / t**2"},
    "input": [
        {"symbol": "t", "unit": "s", "readings": [0.45, 0.46, 0.44]},
        {"symbol": "h", "unit": "m", "distribution": "rectangular", "estimate": 1.0, "half_width": 0.001},
    ],
}


def fall(*readings: float) -> BudgetFile:
    """Free fall over a metre, timed a few times."""
    timed, measured = FALL["input"]
    return budget_from_tables({**FALL, "input": [{**timed, "readings": list(readings)}, measured]}, "fall.toml")


@pytest.mark.parametrize(
    ("readings", "said", "factor", "dof"),
    [
        # By hand: g = 2/t², u = 2g·s/(t·√n), k from a table of t at 95 %.
        ((0.45, 0.46), "g = (9.7 ± 2.7) m/s²", "12.7", "1"),
        ((0.45, 0.46, 0.44), "g = (9.9 ± 1.1) m/s²", "4.30", "2"),
        ((0.45, 0.46, 0.44, 0.455), "g = (9.82 ± 0.59) m/s²", "3.18", "3"),
        ((0.45, 0.46, 0.44, 0.455, 0.447, 0.452), "g = (9.85 ± 0.31) m/s²", "2.57", "5"),
    ],
)
def test_few_readings_give_the_result_of_propagation_with_its_degrees_of_freedom(
    readings: tuple[float, ...], said: str, factor: str, dof: str
) -> None:
    report = analyse(fall(*readings).model)
    sentence = statement(report).replace("\u202f", " ")

    assert sentence.startswith(said)
    assert f"coverage factor {factor} of a t distribution with {dof} effective degrees of freedom" in sentence
    assert "not accurate to two digits" not in sentence


def test_a_distribution_without_a_standard_deviation_gives_median_and_interval_and_says_why() -> None:
    file = fall(0.45, 0.46, 0.44)
    report = analyse(file.model)
    record = json.loads(budget_files(report, file, 0, ORIGIN)["budget.json"])
    simulation = record["simulation"]

    # 2/t² falls with t, so that its quantiles are those of t, of which 4.303 is the 97.5 % point of two degrees
    s = 0.01 / np.sqrt(3)
    ends = sorted(2.0 / (0.45 + sign * 4.30265 * s) ** 2 for sign in (-1, 1))
    assert simulation["median"] == pytest.approx(2.0 / 0.45**2, rel=1e-4)
    assert simulation["interval_symmetric"] == pytest.approx(ends, rel=1e-3)
    assert (simulation["estimate"], simulation["standard_uncertainty"]) == (None, None)
    assert "2 degrees of freedom" in simulation["reason"]
    assert record["propagation_valid"] is False
    assert simulation["converged"] is False
    for one in record["inputs"]:
        assert one["sobol_first"] is one["sobol_total"] is one["shapley"] is None
        assert "2 degrees of freedom" in one["reason"]
    assert sum(one["variance_share"] for one in record["inputs"]) == pytest.approx(1.0)
    # without the scatter of t only h is left: u = g·0.001/√3
    assert [one["uncertainty_without"] for one in record["inputs"]] == [
        pytest.approx(9.877 * 0.001 / np.sqrt(3), rel=0.01),
        None,
    ]


def test_the_page_of_few_readings_has_no_number_that_does_not_exist() -> None:
    file = fall(0.45, 0.46, 0.44)
    text = budget_files(analyse(file.model), file, 0, ORIGIN)["report.html"].decode()

    assert "nan" not in BeautifulSoup(text, "html5lib").get_text().lower().split()
    assert "median 9.88" in text


def test_a_reciprocal_of_what_may_be_zero_is_stated_by_its_median() -> None:
    file = budget_from_tables(
        {
            "measurand": {"symbol": "y", "equation": "1 / a"},
            "input": [{"symbol": "a", "distribution": "normal", "estimate": 1.0, "standard_uncertainty": 0.25}],
        },
        "reciprocal.toml",
    )
    sentence = statement(analyse(file.model))

    # ends: 1/(1 ± 1.96·0.25)
    assert sentence.startswith("y = 1.00 (median)")
    assert "from 0.67 to 1.96" in sentence


def test_propagation_is_not_denied_where_both_intervals_print_alike(report: BudgetReport) -> None:
    from budget.report import validate

    # the tolerance of u = 0.5 is 0.005: 174.0200 and 174.0249 differ by 0.0049 and print alike; 0.0061 print alike too
    ends = report.propagation.interval
    for shift, valid, alike in ((0.0049, True, True), (0.0061, False, True), (0.02, False, False)):
        place = 0.01 * np.floor(ends[0] / 0.01)
        found = dataclasses.replace(report.propagation, interval=(float(place + 0.0051), ends[1]))
        moved = dataclasses.replace(report.simulation, interval_symmetric=(float(place + 0.0051 + shift), ends[1]))
        validation = validate(found, moved)

        assert (validation.valid, validation.alike) == (valid, alike)
        stated = statement(dataclasses.replace(report, propagation=found, simulation=moved, validation=validation))
        assert ("not accurate to two digits" in stated) is not alike


def test_the_unit_one_is_not_printed() -> None:
    found = tables(unit="1")
    for one in found["input"]:
        one["unit"] = "1"
    file = budget_from_tables(found, "stack.toml")
    report = analyse(file.model)

    assert statement(report).startswith("m = 175.00 ± 0.98, where")
    assert "\u202f1" not in " ".join(words for _, words in facts(report))
    assert next(c.heading for c in inputs_table(report).columns if c.key == "contribution") == "Contribution"
    assert "unit" not in telling(inputs_table(report))


def test_every_row_of_the_budget_has_its_type_its_divisor_and_its_degrees_of_freedom() -> None:
    found = tables(equation="a + b - c + d")
    found["input"][1] |= {"unit": "g", "certificate": "K 17", "calibration_date": "2025-11-03"}
    del found["input"][1]["standard_uncertainty"]
    found["input"][1] |= {"expanded_uncertainty": "800 mg", "coverage_factor": 2}
    found["input"].append({"symbol": "d", "unit": "g", "readings": [1.0, 1.2, 1.1, 1.3, 0.9]})
    found["input"].append({"symbol": "e", "unit": "g", "distribution": "rectangular", "low": -1, "high": 1})
    found["measurand"]["equation"] = "a + b - c + d + e"
    file = budget_from_tables(found, "stack.toml")
    report = analyse(file.model, trials=4096)
    rows = {one["symbol"]: one for one in report.to_json_dict()["inputs"]}
    page = BeautifulSoup(budget_files(report, file, 0, ORIGIN)["report.html"].decode(), "html5lib").get_text()

    assert {symbol: one["type"] for symbol, one in rows.items()} == {"a": "B", "b": "B", "c": None, "d": "A", "e": "B"}
    # U = 0.8 g with k = 2; a limit of 1 g over the root of three; readings and a standard uncertainty as they are
    assert rows["b"]["standard_uncertainty"] == pytest.approx(0.4)
    assert [rows[s]["coverage_factor"] for s in "abde"] == pytest.approx([1.0, 2.0, 1.0, 3**0.5])
    assert (rows["b"]["certificate"], rows["b"]["calibration_date"]) == ("K 17", "2025-11-03")
    assert "K 17" in page
    assert "∞" in page
    assert inputs_table(report).rows[-1][7] == report.propagation.coverage_factor


def test_a_coverage_factor_of_nothing_is_refused() -> None:
    found = tables()
    del found["input"][0]["standard_uncertainty"]
    found["input"][0] |= {"expanded_uncertainty": 0.6, "coverage_factor": 0}

    with pytest.raises(BudgetError, match=r"coverage_factor: must be greater than 0 \(got 0\)"):
        budget_from_tables(found, "stack.toml")
