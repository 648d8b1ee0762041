"""The workbook of an evaluation: every formula worked out anew gives the value that is stored beside it."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from design.bench_files.reader import read_bench
from design.evaluation.evaluate import EvaluationRequest, evaluate
from design.sheets.readings_file import read_readings
from reports.tables.evaluate_workbook import workbook_bytes
from reports.words.languages import LANGUAGES, Language
from tests.reports.conftest import FROZEN, WAYS, evaluated

RULES = ("add-full-divisions", "add-limits", "first-year-laboratory", "standard-and-expanded")
TWO_RUNS = """group,run,mark,time_s,counts,mass_g,heater
1,1,0,0,12,240,on
1,1,1,432,43,120,on
1,2,0,0,50,240,on
1,2,1,438,82,120,on
"""
DATE = "2026-03-04"
ROUNDING = 1e-14 * 2.26e6
"""What the last bits of latent heats leave of their differences. [J/kg]"""


def teacher(rules: str = "add-limits") -> EvaluationRequest:
    return EvaluationRequest(teacher=True, trials=512, rules=rules)


def flat(values: Any) -> list[float]:
    return [x for value in values for x in (flat(value) if isinstance(value, list | tuple) else [value])]


def mean(*values: Any) -> float:
    return sum(flat(values)) / len(flat(values))


FUNCTIONS: dict[str, Callable[..., Any]] = {
    "ABS": abs, "SQRT": math.sqrt, "MAX": lambda *v: max(flat(v)), "MIN": lambda *v: min(flat(v)), "AVERAGE": mean,
    "COUNT": lambda *v: len(flat(v)), "IF": lambda test, yes, no: yes if test else no,
    "SUMSQ": lambda *v: math.fsum(x * x for x in flat(v)),
    "SUMPRODUCT": lambda x, y: math.fsum(one * other for one, other in zip(x, y, strict=True)),
    "STDEV": lambda *v: math.sqrt(sum((x - mean(*v)) ** 2 for x in flat(v)) / (len(flat(v)) - 1)),
}  # fmt: skip


def worked_out(book: Any, sheet: str, cell: str) -> Any:
    """Evaluate a cell as a spreadsheet does, for the few functions that are used here."""
    value = book[sheet][cell].value
    if not isinstance(value, str) or not value.startswith("="):
        return value

    def reference(match: re.Match[str]) -> str:
        where, first, last = match[1] or sheet, match[2], match[3]
        if last:
            cells = [one.coordinate for row in book[where][f"{first}:{last}"] for one in row]
            return f"[{','.join(f'get({where!r},{one!r})' for one in cells)}]"
        return f"get({where!r},{first!r})"

    text = re.sub(r"(?:'([^']+)'!)?\b([A-Z]\d+)(?::([A-Z]\d+))?\b", reference, value[1:]).replace("^", "**")
    names = {**FUNCTIONS, "get": lambda where, one: worked_out(book, where, one), "__builtins__": {}}
    return eval(text, names)  # noqa: S307 - formulas that this program wrote


def books(content: bytes) -> tuple[Any, Any]:
    """Formulas, and the values stored beside them."""
    return load_workbook(io.BytesIO(content)), load_workbook(io.BytesIO(content), data_only=True)


def check(content: bytes) -> int:
    """Work out every formula; how many there are."""
    formulas, stored = books(content)
    found = [
        (sheet.title, cell.coordinate) for sheet in formulas for row in sheet for cell in row if cell.data_type == "f"
    ]
    for title, place in found:
        value, fresh = stored[title][place].value, worked_out(formulas, title, place)
        assert value is not None, (title, place)
        assert fresh == (value if isinstance(value, str) else pytest.approx(value, rel=1e-9, abs=ROUNDING)), (
            title,
            place,
        )
    return len(found)


def labelled(book: Any, word: str, column: str) -> dict[str, str]:
    title = next(title for title in book.sheetnames if title.startswith(word))
    return {row[0].value: f"{title}!{column}{row[0].row}" for row in book[title].iter_rows() if row[0].value}


def value_at(book: Any, place: str) -> Any:
    title, _, cell = place.partition("!")
    return book[title][cell].value


@pytest.mark.parametrize("way", WAYS)
def test_every_formula_gives_the_value_that_is_stored(way: str) -> None:
    assert check(workbook_bytes(evaluated(way, FROZEN / f"{way}.csv", teacher()), DATE)) > 30


@pytest.mark.parametrize("way", WAYS)
def test_a_viewer_that_does_not_calculate_shows_the_result(way: str) -> None:
    evaluation = evaluated(way, FROZEN / f"{way}.csv", teacher())
    formulas, stored = books(workbook_bytes(evaluation, DATE))
    best, places = evaluation.groups[0].result.best, labelled(formulas, "Working", "C")

    wanted = {"L": best.value, "u(L) / (J/kg)": best.standard_uncertainty,
              "U / (J/kg)": best.propagation.expanded_uncertainty, "E_n": best.agreement.normalised_error}  # fmt: skip
    for label, value in wanted.items():
        assert str(value_at(formulas, places[label])).startswith("="), label
        assert value_at(stored, places[label]) == pytest.approx(value)


@pytest.mark.parametrize("rules", RULES)
def test_the_school_rule_is_worked_out_by_its_own_formulas(rules: str, tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(TWO_RUNS, encoding="utf-8")
    evaluation = evaluated("fixed-mass-restart", file, teacher(rules))
    content = workbook_bytes(evaluation, DATE)
    school, (formulas, stored) = evaluation.groups[0].school, books(content)
    places = labelled(formulas, "School rule", "B")

    check(content)
    assert str(value_at(formulas, places["mean L / (J/kg)"])).startswith("=")
    assert value_at(stored, places["mean L / (J/kg)"]) == pytest.approx(school.value)
    assert value_at(stored, places["uncertainty by the rule / (J/kg)"]) == pytest.approx(school.uncertainty)
    assert value_at(stored, places["by the rule of agreement"]) == ("agrees" if school.agrees else "differs")


def test_another_reading_moves_the_result_as_the_program_would(tmp_path: Path) -> None:
    """One more count in the last row of the sheet, in the workbook and in the file."""
    file = tmp_path / "readings.csv"
    file.write_text(TWO_RUNS, encoding="utf-8")
    content = workbook_bytes(evaluated("fixed-mass-restart", file, teacher()), DATE)
    file.write_text(TWO_RUNS.replace("438,82,", "438,83,"), encoding="utf-8")
    changed = evaluated("fixed-mass-restart", file, teacher()).groups[0].result.best
    formulas, _ = books(content)
    heads = [cell.value for cell in formulas["Readings"][1]]
    formulas["Readings"].cell(5, heads.index("counts") + 1).value = 83
    title, _, cell = labelled(formulas, "Working", "C")["L"].partition("!")

    assert worked_out(formulas, title, cell) == pytest.approx(changed.value, rel=1e-4)


@pytest.mark.parametrize("code", LANGUAGES)
def test_it_stands_in_every_language(code: str) -> None:
    say = Language(code)
    content = workbook_bytes(evaluated("whole-counts", FROZEN / "whole-counts.csv", teacher()), DATE, say=say)
    formulas, _ = books(content)

    assert check(content) > 30
    assert formulas.sheetnames[0] == say.text("workbook.readings")
    assert formulas.sheetnames[-1] == say.text("workbook.rows")


def test_the_same_readings_give_the_same_bytes() -> None:
    evaluation = evaluated("series", FROZEN / "series.csv", teacher())

    assert workbook_bytes(evaluation, DATE) == workbook_bytes(evaluation, DATE)


def test_no_zero_has_a_minus_before_it(tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text(TWO_RUNS, encoding="utf-8")
    bench = read_bench(FROZEN.parents[2] / "configs" / "demo.toml")
    found = evaluate(bench, read_readings(file), EvaluationRequest(teacher=True, trials=512))
    book = load_workbook(io.BytesIO(workbook_bytes(found, "2026-03-04")), data_only=True)
    zeros = [cell.value for sheet in book for row in sheet.iter_rows() for cell in row if cell.value == 0.0]

    assert zeros
    assert not [zero for zero in zeros if math.copysign(1.0, float(str(zero))) < 0.0]
