"""The comparison report: one page that loads nothing, files that hold every number, a command that runs."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path

import html5lib
import numpy as np
import pytest
from bs4 import BeautifulSoup, Tag

import configs
from budget.model.equation import compile_program
from design.bench_files.reader import read_bench
from design.comparison.side_by_side import Comparison, compare_bench
from reports.command_line.cli import main
from reports.command_line.compare import FILES, compare_files, compare_record
from reports.figures.comparison import crossing, methods, population
from reports.pages.compare_page import compare_page
from reports.rendering import Origin
from reports.tables.compare import compare_tables, crossings_table, hazards_table
from reports.words.compare import decision, hazard, improvement, overtakings

ORIGIN = Origin("0.0.0", "2026-03-04")
DEMO = Path(next(iter(configs.__path__))) / "demo.toml"


@pytest.fixture(scope="module")
def found() -> Comparison:
    return compare_bench(read_bench(DEMO), seed=3, trials=512, kits=12)


@pytest.fixture(scope="module")
def page(found: Comparison) -> str:
    return compare_page(found, ORIGIN)


@pytest.fixture(scope="module")
def soup(page: str) -> BeautifulSoup:
    return BeautifulSoup(page, "html5lib")


def told(soup: BeautifulSoup, selector: str) -> str:
    tag = soup.select_one(selector)
    assert isinstance(tag, Tag)
    return tag.get_text(" ", strip=True).replace("\u202f", " ")


def test_the_page_is_valid_html(page: str) -> None:
    # html5lib in its strict mode raises at the first parse error of the HTML standard.
    html5lib.HTMLParser(strict=True).parse(page)


def test_the_page_loads_nothing_and_is_small_enough_to_e_mail(page: str, soup: BeautifulSoup) -> None:
    assert not soup.find_all(["script", "link", "iframe", "img", "object", "embed"])
    assert not re.findall(r"https?://|@import|url\((?!#)", page)
    assert len(page.encode()) < 2_000_000


def test_every_link_leads_somewhere_and_no_name_is_given_twice(soup: BeautifulSoup) -> None:
    names = [tag["id"] for tag in soup.find_all(id=True)]

    assert len(names) == len(set(map(str, names)))
    assert all(str(link["href"])[1:] in names for link in soup.find_all("a"))


def test_every_figure_says_what_it_shows(soup: BeautifulSoup) -> None:
    drawings = soup.find_all("svg")

    assert len(drawings) == 2 * (2 + 3)
    assert all(len(str(drawing["aria-label"])) > 40 for drawing in drawings)


def test_the_first_page_answers_and_warns(soup: BeautifulSoup, found: Comparison) -> None:
    first = told(soup, ".first-page")

    assert all(sentence.replace("\u202f", " ") in first for sentence in decision(found))
    assert "invented" in first
    assert "cause severe injury" in first
    assert "not a risk assessment" in first


def test_a_sceptic_finds_models_inputs_sources_seed_version_and_limits(soup: BeautifulSoup, found: Comparison) -> None:
    checked = told(soup, "#checked-section")

    for method in found.procedures:
        assert method.design.model.equation in checked
    assert "seed 3, 512 trials" in checked
    assert "boiloff 0.0.0" in checked
    assert "Churchill and Chu 1975" in checked
    assert "not a survey" in checked
    assert "Kataoka and Ishii 1984" in checked


def test_the_mistake_of_subtracting_the_heater_off_rate_is_worked_out(soup: BeautifulSoup, found: Comparison) -> None:
    section = told(soup, "#heater-off-section")

    assert "Do not subtract a mass-loss rate measured with the heater off" in section
    assert "g/min leave with the heater on" in section
    # By hand, from the rates shown: on/(on - off) - 1.
    on, off = found.heater_off.boiling_rate, found.heater_off.rates[1]
    assert found.heater_off.mistakes_percent[1] == pytest.approx(100 * (on / (on - off) - 1))


def test_every_method_has_words_and_hazards(found: Comparison) -> None:
    keys = {method.key for method in (*found.procedures, *found.improvements)}

    assert all(hazard(key) for key in keys)
    assert all(improvement(method.key) != method.key for method in found.improvements)
    assert all(row[1] for row in hazards_table(found).rows)


def test_the_json_holds_every_method_and_its_model_can_be_evaluated(found: Comparison) -> None:
    record = json.loads(json.dumps(compare_record(found, "0.0.0"), allow_nan=False))

    assert set(record) >= {"boiloff", "bench", "seed", "trials", "reference", "usual", "procedures", "crossings"}
    assert len(record["procedures"]) == 18
    for method, built in zip(record["procedures"], found.procedures, strict=True):
        *steps, (_, equation) = (line.split("=", 1) for line in method["model"].splitlines())
        program = compile_program([(name.strip(), text.strip()) for name, text in steps], equation.strip())
        values = {symbol: built.design.model.estimates[symbol] for symbol in program.symbols}
        assert float(program.evaluate(values)) == pytest.approx(built.design.model.at_estimates(), rel=1e-12)
        assert method["rms_error_percent"] == pytest.approx(
            np.hypot(method["bias_percent"], method["standard_uncertainty_percent"])
        )


def test_every_table_is_a_csv_with_full_numbers(found: Comparison) -> None:
    files = compare_files(found, ORIGIN)

    assert set(files) == set(FILES)
    for table in compare_tables(found):
        text = files[f"{table.name}.csv"].decode("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text)))
        assert rows[0] == [column.key for column in table.columns]
        assert len(rows) == len(table.rows) + 1


def test_the_same_seed_gives_the_same_bytes(found: Comparison) -> None:
    again = compare_bench(read_bench(DEMO), seed=3, trials=512, kits=12)

    assert compare_files(again, ORIGIN) == compare_files(found, ORIGIN)


def test_every_pair_of_methods_crosses_or_is_said_not_to(found: Comparison) -> None:
    rows = crossings_table(found).rows
    for sweep in found.crossings:
        pairs = {frozenset((one.better_below, one.better_above)) for one in sweep.crossings}
        pairs |= {frozenset(pair) for pair in sweep.throughout}
        assert len(pairs) == 7
        assert len(overtakings(sweep)) == len(sweep.crossings)
    assert len(rows) == sum(len(sweep.crossings) + len(sweep.throughout) for sweep in found.crossings)


def test_figures_tell_their_numbers_in_words(found: Comparison) -> None:
    assert "two powers" in methods(found).alt
    assert "is better below" in crossing(found.crossings[0]).alt
    drawn = population(found)
    assert drawn is not None
    assert "%" in drawn.alt


def test_where_no_plausible_kit_can_be_drawn_the_page_does_without(found: Comparison) -> None:
    nobody = replace(found.population, kits=0, procedures=tuple(
        replace(one, possible=0, wins=0, best=0, interval=(0.0, 1.0)) for one in found.population.procedures
    ))  # fmt: skip
    lonely = replace(found, population=nobody)

    assert population(lonely) is None
    assert "plausible kits" not in " ".join(decision(lonely))
    html5lib.HTMLParser(strict=True).parse(compare_page(lonely, ORIGIN))


def test_the_command_writes_a_whole_report_and_says_what_it_found(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("design.comparison.side_by_side.compare_bench.__kwdefaults__", {
        **(compare_bench.__kwdefaults__ or {}), "kits": 5,
    })  # fmt: skip
    status = main(["compare", str(DEMO), "--out", str(tmp_path / "report"), "--trials", "256", "--workers", "1"])

    assert status == 0
    assert {path.name for path in (tmp_path / "report").iterdir()} == set(FILES)
    assert "has the smallest rms error" in " ".join(capsys.readouterr().out.split())


def test_a_bench_without_a_workable_kit_is_refused_in_one_message(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = tmp_path / "short.toml"
    shelves = DEMO.parent / "shelves"
    text = DEMO.read_text(encoding="utf-8").replace('length = "70 min"', 'length = "20 min"')
    text = text.replace("[purse]", '[search]\nprocedures = ["whole-counts"]\nrepeats = [1]\n\n[purse]')
    bench.write_text(text.replace("shelves/", f"{shelves}/"), encoding="utf-8")

    status = main(["compare", str(bench), "--out", str(tmp_path / "report"), "--trials", "256", "--workers", "1"])

    assert status == 2
    assert "no kit to compare methods on" in capsys.readouterr().err
    assert not (tmp_path / "report").exists()
