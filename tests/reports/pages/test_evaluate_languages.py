"""The page of an evaluation in every language: its own words, its decimal mark, and no key left unfilled."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from design.bench_files.reader import read_bench
from design.evaluation.attempts import Attempt
from design.evaluation.evaluate import Evaluation, EvaluationRequest, evaluate
from design.sheets.readings_file import read_readings
from reports.pages.evaluate_page import evaluate_page
from reports.rendering import Origin
from reports.words.languages import LANGUAGES, Language

ROOT = Path(__file__).parents[3]
SHEET = """group,run,mark,time_s,counts,mass_g,heater
1,1,0,0,12,240,on
1,1,1,432,43,120,on
1,2,0,0,50,240,on
1,2,1,438,82,120,on
2,1,0,0,3,240,on
2,1,1,429,34.5,120,on
3,1,0,0,3,240,on
3,1,1,431,34.5,120,on
"""


@pytest.fixture(scope="module")
def evaluation(tmp_path_factory: pytest.TempPathFactory) -> Evaluation:
    file = tmp_path_factory.mktemp("sheet") / "readings.csv"
    file.write_text(SHEET, encoding="utf-8")
    bench = read_bench(ROOT / "configs" / "demo.toml")
    bench = replace(bench, current=replace(bench.current, correction="calculated"))
    request = EvaluationRequest(teacher=True, attempt=Attempt(2.52e6, 6e4), trials=4096)
    return evaluate(bench, read_readings(file), request)


def page(evaluation: Evaluation, code: str) -> BeautifulSoup:
    text = evaluate_page(evaluation, Origin("0", "2026-03-04"), Language(code))
    return BeautifulSoup(text, "html.parser")


@pytest.mark.parametrize("code", LANGUAGES)
def test_the_page_names_its_language_and_asks_in_it(code: str, evaluation: Evaluation) -> None:
    soup = page(evaluation, code)
    html = soup.find("html")
    assert html is not None
    headings = [heading.get_text(strip=True) for heading in soup.find_all("h2")]

    assert html["lang"] == code
    assert len(headings) >= 12
    assert all(heading.endswith("?") for heading in headings), headings
    assert not re.search(r"\{\w+\}", soup.get_text(" "))


@pytest.mark.parametrize("code", LANGUAGES[1:])
def test_headings_captions_and_columns_are_translated(code: str, evaluation: Evaluation) -> None:
    english, other = (
        [
            part.get_text(" ", strip=True)
            for part in page(evaluation, one).select("h2, h3, caption, figcaption, thead th")
        ]
        for one in ("en", code)
    )
    same = {one for one, also in zip(english, other, strict=True) if one == also}

    assert {one for one in same if len(one) > 12} == set()


@pytest.mark.parametrize("code", LANGUAGES[1:])
def test_results_carry_the_decimal_mark_of_the_language(code: str, evaluation: Evaluation) -> None:
    cells = [cell.get_text() for cell in page(evaluation, code).select("#result-section td, #budget-section td.number")]

    assert not [cell for cell in cells if re.search(r"\d\.\d", cell)]
    assert [cell for cell in cells if re.search(r"\d,\d", cell)]


@pytest.mark.parametrize("code", LANGUAGES[1:])
def test_figures_carry_the_decimal_mark_of_the_language(code: str, evaluation: Evaluation) -> None:
    labels = [label.get_text(strip=True) for label in page(evaluation, code).select("svg text")]

    assert labels
    assert not [label for label in labels if re.search(r"\d\.\d", label)]
    assert [label for label in labels if re.search(r"\d,\d", label)]
