"""Graphs of readings: what they show, that they say it in words, and that they stand in every language."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from design.bench_files.reader import read_bench
from design.evaluation.evaluate import Evaluation, EvaluationRequest, evaluate
from design.kit import Role
from design.sheets.readings_file import read_readings
from reports.figures.canvas import Figure, colours
from reports.pages.evaluate_graphs import class_graph, class_said, group_graphs, robust_of
from reports.words.evaluate import to_place_of
from reports.words.languages import LANGUAGES, Language

ROOT = Path(__file__).parents[3]
SHEETS = ROOT / "tests" / "frozen" / "sheets"
DISPLAY: dict[Role, str] = {"balance": "Drip-proof bench balance"}
VALUES = (240.0, 240.3, 241.0, 239.8, 239.5, 262.0)
"""Mass on the pan at the start of each group of a class. [g]"""


def evaluated(procedure: str, file: Path, items: dict[Role, str] | None = None) -> Evaluation:
    bench = read_bench(ROOT / "configs" / "demo.toml")
    current = replace(
        bench.current, procedure=procedure, correction="calculated", items={**bench.current.items, **(items or {})}
    )
    return evaluate(replace(bench, current=current), read_readings(file), EvaluationRequest(teacher=True, trials=512))


@pytest.fixture(scope="module")
def series() -> Evaluation:
    return evaluated("series", SHEETS / "series.csv", DISPLAY)


@pytest.fixture(scope="module")
def classroom(tmp_path_factory: pytest.TempPathFactory) -> Evaluation:
    lines = ["group,run,mark,time_s,counts,mass_g,heater"]
    for group, mass in enumerate(VALUES, start=1):
        lines += [f"{group},{run},0,0,12,{mass},on\n{group},{run},1,432,43,120,on" for run in (1, 2)]
    file = tmp_path_factory.mktemp("class") / "readings.csv"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return evaluated("fixed-mass-restart", file)


def draw_line(series: Evaluation, _classroom: Evaluation, say: Language) -> Figure:
    return group_graphs(series.groups[0], "g1", say)[0]


def draw_readings_alone(series: Evaluation, _classroom: Evaluation, say: Language) -> Figure:
    return group_graphs(series.groups[0], "g1", say, shown=False)[0]


def draw_runs(_series: Evaluation, classroom: Evaluation, say: Language) -> Figure:
    return group_graphs(classroom.groups[0], "g1", say)[-1]


def draw_class(_series: Evaluation, classroom: Evaluation, say: Language) -> Figure:
    assert classroom.classroom is not None
    return class_graph(classroom, classroom.classroom, robust_of(classroom), say)


Draw = Callable[[Evaluation, Evaluation, Language], Figure]
EVERY = pytest.mark.parametrize("draw", [draw_line, draw_readings_alone, draw_runs, draw_class])


@EVERY
@pytest.mark.parametrize("code", LANGUAGES)
def test_a_graph_is_a_drawing_with_its_numbers_in_words_and_its_own_identifiers(
    draw: Draw, code: str, series: Evaluation, classroom: Evaluation
) -> None:
    figure = draw(series, classroom, Language(code))
    ids = []
    for svg in (figure.svg, figure.narrow_svg):
        root = ET.fromstring(svg)
        assert root.get("role") == "img"
        assert root.get("aria-label") == figure.alt
        assert not re.findall(r"#[0-9a-fA-F]{6}\b|rgb\(", svg)
        assert set(re.findall(r"var\(--([a-z0-9-]+)\)", svg)) <= set(colours())
        ids.append(set(re.findall(r'\bid="([^"]+)"', svg)))
    assert not ids[0] & ids[1]
    assert len(re.findall(r"\d", figure.alt)) >= 4
    assert figure.table.rows
    assert not re.search(r"[{}]", figure.alt + figure.caption)


@EVERY
def test_the_same_readings_draw_the_same_bytes(draw: Draw, series: Evaluation, classroom: Evaluation) -> None:
    assert draw(series, classroom, Language("en")) == draw(series, classroom, Language("en"))


def test_the_readings_alone_do_not_give_the_value_away(series: Evaluation) -> None:
    alone = group_graphs(series.groups[0], "g1", shown=False)[0]
    whole = group_graphs(series.groups[0], "g1")[0]

    assert "E/m" in whole.caption
    assert "E/m" not in alone.caption + alone.alt
    assert "kJ/kg" not in alone.caption + alone.alt + alone.svg
    assert len(alone.table.columns) == len(whole.table.columns) - 1


def test_the_table_beside_a_line_holds_every_mark(series: Evaluation) -> None:
    run = series.groups[0].result.measured.levels[0][0]
    table = group_graphs(series.groups[0], "g1")[0].table

    assert [row[1] for row in table.rows] == pytest.approx(run.energy / 1e3)
    assert [row[2] for row in table.rows] == pytest.approx(run.mass * 1e3)


def test_a_far_group_is_named_with_what_it_does_to_the_pooled_value(classroom: Evaluation) -> None:
    view, robust = classroom.classroom, robust_of(classroom)
    assert view is not None
    assert robust is not None
    said = class_said(classroom, view, robust)

    assert view.outliers == ("6",)
    assert "Far from the rest: group 6." in said
    slips = [group.group for group in classroom.groups if group.verdict == "withheld"]
    assert said.startswith("A strong slip stands in the readings of group 6") == ("6" in slips)
    for value in (view.value, robust.value, robust.without or 0.0):
        assert to_place_of(value, view.standard_uncertainty) in said
    assert "Nothing was left out" in said


def test_every_group_of_the_class_has_its_e_n_beside_it(classroom: Evaluation) -> None:
    assert classroom.classroom is not None
    figure = class_graph(classroom, classroom.classroom, robust_of(classroom))

    assert figure.alt.count("E_n = ") == len(VALUES) + 1
    assert "Huber" in figure.alt


def test_marks_on_one_line_give_no_residual_and_no_uncertainty_of_rounding(tmp_path: Path) -> None:
    """Marks 9 counts and 36 g apart, to the digit: what is left of them is rounding in the computer."""
    file = tmp_path / "readings.csv"
    lines = [f"1,1,{mark},{130 * mark}.0,{10 + 9 * mark},{900 - 36 * mark}.0,on" for mark in range(5)]
    file.write_text("\n".join(["group,run,mark,time_s,counts,mass_g,heater", *lines]) + "\n", encoding="utf-8")
    figure = group_graphs(evaluated("series", file, DISPLAY).groups[0], "g1")[0]

    assert "every mark lies on it" in figure.caption
    assert "×" not in figure.caption + figure.alt
    assert [row[-1] for row in figure.table.rows] == [0.0] * 5


def test_a_class_with_masses_typed_in_kg_has_no_powers_of_ten_as_a_computer_writes_them(tmp_path: Path) -> None:
    lines = ["group,run,mark,time_s,counts,mass_g,heater"]
    for group, factor in ((1, 1e-3), (2, 1.0)):
        lines += [f"{group},{run},0,0,12,{240 * factor},on\n{group},{run},1,432,43,{120 * factor},on" for run in (1, 2)]
    file = tmp_path / "readings.csv"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    found = evaluated("fixed-mass-restart", file)
    assert found.classroom is not None
    drawn = class_graph(found, found.classroom, robust_of(found))
    words = re.findall(r"<text[^>]*>([^<]*)</text>", drawn.svg)

    assert any("000" in word for word in words), words
    assert not [word for word in words if re.search(r"\de[+-]?\d|^-\d", word)]
    assert found.classroom.outliers == (), "the group typed in g is not the one to blame"
