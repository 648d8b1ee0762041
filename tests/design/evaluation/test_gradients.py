"""Runs as straight lines, and the class pooled robustly: against textbook formulas, and against one far group."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from design.bench import Bench
from design.evaluation.classroom import class_view
from design.evaluation.gradients import RunLine, run_line
from design.evaluation.result import GroupResult, group_result
from design.evaluation.robust import huber, robust_view
from design.evaluation.school_rules import DEFAULT_RULES, read_rules
from design.search.today import in_use

Handed = Any


@pytest.fixture(scope="module")
def series(hand_in: Callable[..., Handed]) -> Handed:
    return hand_in("series", 40, 3)


def result_of(handed: Handed, make_sheet: Callable[..., Any], place: int) -> GroupResult:
    readings = next(iter(make_sheet(handed.sheets[place]).groups.values()))
    return group_result(readings, handed.used, coverage=0.95, seed=1)


@pytest.fixture
def line(series: Handed, make_sheet: Callable[..., Any]) -> RunLine:
    result = result_of(series, make_sheet, 0)
    found = run_line(result.used, result.measured.levels[0][0], read_rules(DEFAULT_RULES))
    assert found is not None
    return found


def test_the_line_of_a_series_is_that_of_least_squares(line: RunLine) -> None:
    fit = stats.linregress(line.run.energy, line.run.mass)

    assert line.against == "energy"
    assert line.value == pytest.approx(1.0 / fit.slope)
    assert line.standard_uncertainty == pytest.approx(fit.stderr / fit.slope**2)
    assert line.residuals == pytest.approx(line.run.mass - fit.intercept - fit.slope * line.run.energy)
    assert line.degrees_of_freedom == line.run.mass.size - 2


def test_the_outer_lines_join_opposite_corners_of_the_first_and_the_last_box(line: RunLine) -> None:
    for corners, value in zip(line.corners, (line.largest, line.smallest), strict=True):
        (start, low), (end, high) = corners
        assert (end - start) / (high - low) == pytest.approx(value)
    assert line.smallest < line.run.energy[-1] / line.run.mass[-1] < line.largest


def test_the_bars_of_the_marks_are_as_long_as_the_marks_scatter(series: Handed, make_sheet: Callable[..., Any]) -> None:
    """Over 40 virtual runs; what the bench knows of noise is what the virtual one does."""
    seen = []
    for place in range(40):
        result = result_of(series, make_sheet, place)
        found = run_line(result.used, result.measured.levels[0][0], read_rules(DEFAULT_RULES))
        assert found is not None
        seen.append(float(np.sum((found.residuals / found.mark_uncertainty) ** 2)) / found.degrees_of_freedom)

    assert 0.6 < float(np.mean(seen)) < 1.3


def test_two_marks_make_no_line_beyond_their_ends(demo_bench: Bench, two_runs: Any, make_sheet: Any) -> None:
    used = in_use(demo_bench)
    readings = next(iter(make_sheet(two_runs).groups.values()))
    runs = group_result(readings, used, coverage=0.95, seed=1).measured.levels[0]

    assert [run_line(used, run, read_rules(DEFAULT_RULES)) for run in runs] == [None, None]


def test_the_robust_mean_is_the_plain_one_of_values_that_lie_together() -> None:
    assert huber(np.array([1.0, 2.0, 3.0]))[0] == pytest.approx(2.0)


@pytest.mark.parametrize("far", [10.0, 1e6])
def test_one_far_value_counts_only_as_far_as_the_scatter_reaches(far: float) -> None:
    near = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    mean, spread = huber(np.append(near, far))

    assert mean == pytest.approx((near.sum() + mean + 1.5 * spread) / 7.0)
    assert mean < 5.0


def test_one_far_group_drags_the_weighted_mean_and_is_named(series: Handed, make_sheet: Callable[..., Any]) -> None:
    results = {str(place): result_of(series, make_sheet, place) for place in range(6)}
    clean = class_view(results)
    best = results["2"].best
    away = replace(best, propagation=replace(best.propagation, estimate=1.2 * best.value))
    spoilt = {**results, "2": replace(results["2"], best=away)}
    view = class_view(spoilt)
    assert clean is not None
    assert view is not None
    robust = robust_view(spoilt, view)
    assert robust is not None

    assert view.outliers == ("2",)
    assert robust.dragged
    rest = class_view({group: result for group, result in spoilt.items() if group != "2"})
    assert rest is not None
    assert robust.without == pytest.approx(rest.value)
    assert abs(robust.value - clean.value) < 0.5 * abs(view.value - clean.value)


def test_a_class_without_a_far_group_is_not_said_to_be_dragged(series: Handed, make_sheet: Callable[..., Any]) -> None:
    """Values drawn with the scatter that the groups state: 200 classes of eight."""
    result = result_of(series, make_sheet, 0)
    own = float(np.hypot.reduce(list(result.best.scatter.values())))
    generator = np.random.default_rng(4)
    dragged = 0
    for _ in range(200):
        results = {
            str(place): replace(
                result, best=replace(result.best, propagation=replace(result.best.propagation, estimate=value))
            )
            for place, value in enumerate(generator.normal(result.best.value, own, 8))
        }
        view = class_view(results)
        assert view is not None
        robust = robust_view(results, view)
        assert robust is not None
        dragged += robust.dragged

    assert dragged <= 4


def test_of_two_groups_none_can_be_told_from_the_rest(series: Handed, make_sheet: Callable[..., Any]) -> None:
    results = {str(place): result_of(series, make_sheet, place) for place in range(2)}
    view = class_view(results)
    assert view is not None

    assert robust_view(results, view) is None
