from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from design.search.plan import ErrorMap, Plan
from reports.figures.canvas import Figure, colours
from reports.figures.error_map import error_map, limit_letters, nearest_cell
from reports.figures.frontier import frontier
from reports.figures.prospect import prospect
from reports.figures.sources import sources
from reports.figures.waterfall import drawn_bars, waterfall, worth_drawing
from reports.tables.walk import Step, walk
from reports.words.names import limit_name
from tests.reports.conftest import altered

Draw = Callable[[Plan], Figure]


def draw_walk(plan: Plan) -> Figure:
    assert plan.recommended is not None
    return waterfall("walk", walk(plan.recommended, plan.model), plan.latent_heat)


def draw_sources(plan: Plan) -> Figure:
    assert plan.recommended is not None
    return sources(plan.recommended.sources)


def draw_map(plan: Plan) -> Figure:
    assert plan.recommended is not None
    assert plan.error_map is not None
    return error_map(plan.error_map, plan.recommended, plan.objective)


def draw_prospect(plan: Plan) -> Figure:
    assert plan.recommended is not None
    return prospect(plan, plan.recommended)


EVERY_FIGURE = pytest.mark.parametrize("draw", [draw_walk, draw_sources, draw_map, frontier, draw_prospect])


def luminance(colour: str) -> float:
    # WCAG 2.2, definition of relative luminance.
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    # WCAG 2.2, definition of contrast ratio.
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@EVERY_FIGURE
def test_the_same_data_draw_the_same_bytes(draw: Draw, plan: Plan) -> None:
    assert draw(plan) == draw(plan)


@EVERY_FIGURE
def test_every_colour_is_one_of_the_stylesheet(draw: Draw, plan: Plan) -> None:
    figure = draw(plan)
    for svg in (figure.svg, figure.narrow_svg):
        assert not re.findall(r"#[0-9a-fA-F]{6}\b|rgb\(", svg)
        assert set(re.findall(r"var\(--([a-z0-9-]+)\)", svg)) <= set(colours())


@EVERY_FIGURE
def test_the_text_alternative_is_the_name_of_the_drawing_and_carries_numbers(draw: Draw, plan: Plan) -> None:
    figure = draw(plan)

    for svg in (figure.svg, figure.narrow_svg):
        root = ET.fromstring(svg)
        assert root.get("role") == "img"
        assert root.get("aria-label") == figure.alt
    assert len(re.findall(r"\d", figure.alt)) >= 4


@EVERY_FIGURE
def test_identifiers_within_a_page_do_not_meet(draw: Draw, plan: Plan) -> None:
    figure = draw(plan)
    wide, narrow = (set(re.findall(r'\bid="([^"]+)"', svg)) for svg in (figure.svg, figure.narrow_svg))

    assert not wide & narrow
    for svg, names in ((figure.svg, wide), (figure.narrow_svg, narrow)):
        assert set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg)) <= names


@EVERY_FIGURE
def test_a_figure_has_its_numbers_beside_it(draw: Draw, plan: Plan) -> None:
    assert draw(plan).table.rows


def test_lines_and_bars_stand_out_from_the_paper() -> None:
    # WCAG 2.2, 1.4.11: at least 3:1; 1.4.3: text at least 4.5:1.
    tint = colours()

    assert contrast(tint["blue"], tint["paper"]) >= 3
    assert contrast(tint["orange"], tint["paper"]) >= 3
    assert contrast(tint["rule"], tint["paper"]) >= 3
    for name in ("ink", "muted"):
        assert contrast(tint[name], tint["paper"]) >= 4.5
    for level in range(1, 7):
        assert contrast(tint["ink"], tint[f"level-{level}"]) >= 4.5


def test_the_shades_of_the_map_darken_step_by_step() -> None:
    shades = [luminance(colours()[f"level-{level}"]) for level in range(1, 7)]

    assert shades == sorted(shades, reverse=True)


def test_the_bars_of_the_walk_add_up_to_its_end() -> None:
    steps = [Step(f"x{i}", f"effect {i}", size) for i, size in enumerate((3.0, -2.0, *([0.3] * 12), 0.001))]
    bars = drawn_bars((*steps, Step("", "together", -0.2)))

    assert sum(bias for _, bias in bars) == pytest.approx(sum(step.percent for step in steps) - 0.2, abs=1e-12)
    assert len(bars) < len(steps)
    assert "6 smaller effects" in [name for name, _ in bars]


def test_a_walk_that_goes_nowhere_is_not_worth_drawing() -> None:
    assert not worth_drawing((Step("a", "a", 0.0), Step("", "rest", 1e-6)))
    assert worth_drawing((Step("a", "a", 0.4), Step("", "rest", -0.4)))


def test_the_map_marks_the_cell_nearest_to_the_recommended_setting(plan: Plan) -> None:
    assert plan.error_map is not None
    assert plan.recommended is not None
    row, column = nearest_cell(plan.error_map, plan.recommended.design)

    assert plan.error_map.powers_W[column] == pytest.approx(1400.0)
    assert plan.error_map.masses_kg[row] == pytest.approx(0.12)


def test_the_map_names_every_limit_once(plan: Plan) -> None:
    assert plan.error_map is not None
    letters = limit_letters(plan.error_map)

    assert set(letters) == {str(text) for text in plan.error_map.limit.ravel() if text}
    assert sorted(letters.values()) == ["A", "B", "C"]
    words = " ".join(re.findall(r"<text[^>]*>([^<]+)</text>", draw_map(plan).svg))
    for key in letters:
        assert limit_name(key) in words


@pytest.mark.parametrize(("masses", "powers"), [(1, 1), (1, 4), (5, 1), (2, 2), (40, 50)])
def test_the_map_is_drawn_for_any_number_of_settings(plan: Plan, masses: int, powers: int) -> None:
    assert plan.recommended is not None
    limit = np.full((masses, powers), "", dtype=object)
    limit[0, 0] = "too much water" if masses * powers > 1 else ""
    error = np.linspace(0.8, 4.0, masses * powers).reshape(masses, powers)
    grid = ErrorMap(np.linspace(500, 1500, powers), np.linspace(0.05, 0.3, masses), error, limit)

    assert error_map(grid, plan.recommended, plan.objective).svg.startswith("<svg")


def test_a_frontier_without_steps_or_today_is_still_drawn(plan: Plan) -> None:
    bare = dataclasses.replace(plan, frontier=(), current=None)

    assert "no steps" in frontier(bare).alt


LADDERS = {
    "apart": ((0.0, 4.1), (60.0, 2.7), (120.0, 1.6), (171.0, 0.9)),
    "two close": ((0, 2.72), (18, 1.89), (21, 1.55), (44, 1.46), (54.5, 1.12), (77.5, 0.97), (102, 0.94), (105, 0.79)),
    "a cluster": ((0.0, 3.0), (90.0, 2.0), (91.0, 1.99), (92.0, 1.97), (93.0, 1.96), (171.0, 1.0)),
    "the same price": ((0.0, 3.0), (90.0, 2.0), (90.0, 1.999), (90.0, 1.998), (171.0, 1.0)),
    "the last ones": ((0.0, 3.0), (165.0, 1.05), (168.0, 1.02), (171.0, 1.0)),
    "nearly nothing": ((0.0, 30.0), (165.0, 0.4), (168.0, 0.3), (171.0, 0.2)),
    "twenty": tuple((9.0 * step, 4.0 / (1 + 0.2 * step)) for step in range(20)),
}


@pytest.mark.parametrize("ladder", LADDERS.values(), ids=LADDERS)
def test_every_step_of_the_ladder_has_its_number_once(plan: Plan, ladder: tuple[tuple[float, float], ...]) -> None:
    one = plan.frontier[0]
    steps = tuple(altered(one, price=price, rms_error_percent=error) for price, error in ladder)
    figure = frontier(dataclasses.replace(plan, frontier=steps, recommended=steps[-1]))

    for svg in (figure.svg, figure.narrow_svg):
        root = ET.fromstring(svg)
        labels = [group for group in root.iter("g") if "-step-" in group.get("id", "")]
        numbers = [int(number) for label in labels for number in re.findall(r"\d+", "".join(label.itertext()))]
        assert sorted(numbers) == list(range(1, len(steps) + 1))
        assert str(len(steps)) in ["".join(label.itertext()).strip() for label in labels]  # alone: it is recommended


def test_an_error_of_today_far_above_the_ladder_is_said_to_be_off_the_chart(plan: Plan) -> None:
    assert plan.current is not None
    wild = dataclasses.replace(plan, current=dataclasses.replace(plan.current, rms_error_percent=64.0))

    assert "(off the chart)" in frontier(wild).svg


def test_solid_and_hatched_tell_lasting_from_averaged_sources(plan: Plan) -> None:
    assert plan.recommended is not None
    lasting = tuple(dataclasses.replace(source, scatter=False) for source in plan.recommended.sources)

    assert "<pattern" not in sources(lasting).svg
    assert "<pattern" in sources(plan.recommended.sources).svg
