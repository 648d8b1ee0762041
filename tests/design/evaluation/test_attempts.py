"""Own values: what was done is recognised from the number alone, by ends, gradient, figures and correction."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from design.bench import Bench
from design.evaluation.attempts import Attempt, AttemptCheck, Match, check_attempt, figures_of, recognised, right_ways
from design.evaluation.result import GroupResult, group_result
from design.evaluation.runs import Run
from design.evaluation.school import school_result
from design.evaluation.school_rules import DEFAULT_RULES, read_rules
from design.search.today import in_use

SERIES = [
    (0.0, 54, 907.1), (61.0, 58, 893.4), (119.0, 62, 877.0), (180.0, 66, 862.9), (238.0, 70, 847.1), (299.0, 74, 830.4),
    (357.0, 78, 816.2), (419.0, 82, 801.9),
]  # fmt: skip
"""Time [s], counts and balance [g], invented: 38.4 kJ and about 15 g from mark to mark."""


@pytest.fixture
def series(demo_bench: Bench, make_sheet: Callable[..., Any]) -> GroupResult:
    rows = [
        {"group": "1", "run": "1", "mark": str(place), "time_s": str(time), "counts": str(counts), "mass_g": str(mass),
         "heater": "on"}
        for place, (time, counts, mass) in enumerate(SERIES)
    ]  # fmt: skip
    readings = next(iter(make_sheet(rows).groups.values()))
    return group_result(readings, in_use(demo_bench), coverage=0.95, seed=1)


def checked(result: GroupResult, value: float) -> AttemptCheck:
    school = school_result(result.used, result.measured.levels, read_rules(DEFAULT_RULES))
    return check_attempt(Attempt(value), result, school.value)


def run_of(result: GroupResult) -> Run:
    return result.measured.levels[0][0]


def rounded(value: float, figures: int) -> float:
    return float(f"{value:.{figures - 1}e}")


@pytest.mark.parametrize(
    ("way", "reckoned"),
    [
        ("end_points", lambda run: run.energy[-1] / run.mass[-1]),
        ("energy_on_mass", lambda run: np.polyfit(run.mass, run.energy, 1)[0]),
        ("mass_on_energy", lambda run: 1.0 / np.polyfit(run.energy, run.mass, 1)[0]),
        ("through_origin", lambda run: run.mass @ run.energy / (run.mass @ run.mass)),
        ("intervals", lambda run: np.mean(np.diff(run.energy) / np.diff(run.mass))),
    ],
)
def test_ends_and_gradients_are_told_apart_by_five_figures(
    way: str, reckoned: Callable[[Run], float], series: GroupResult
) -> None:
    check = checked(series, rounded(float(reckoned(run_of(series))), 5))

    assert check.done[0].way == way
    assert check.step in {"", check.done[0].step}


def test_a_corrected_value_is_told_from_one_that_is_not(series: GroupResult) -> None:
    check = checked(series, rounded(series.best.value, 5))

    assert [way.way for way in check.done] == ["losses_taken_off"]
    assert check.step == "correction"
    assert not check.same


def test_of_few_figures_several_ways_may_be_the_one() -> None:
    ends, gradient, intervals = (
        Match("end points", "end_points", 2.5582e6),
        Match("gradient", "energy_on_mass", 2.5611e6),
        Match("runs", "intervals", 2.5704e6),
    )

    assert recognised(2.56e6, (ends, gradient, intervals)) == (gradient, ends)
    assert recognised(2.5611e6, (ends, gradient, intervals)) == (gradient,)


def test_a_value_that_differs_by_rounding_alone_says_so(series: GroupResult) -> None:
    computed = checked(series, 1.0).computed
    value = rounded(computed, 2)
    check = checked(series, value)

    assert abs(value / computed - 1.0) > 0.006, "the readings must not give a round value"
    assert check.step == "rounding"
    assert not check.same


def test_a_value_that_no_right_way_gives_is_not_recognised(series: GroupResult) -> None:
    assert checked(series, 3.1415e6).done == ()


@pytest.mark.parametrize(("value", "figures"), [(2.56e6, 3), (2558580.0, 6), (2.3e6, 2), (0.25, 2), (2000.0, 1)])
def test_closing_zeros_are_no_figures(value: float, figures: int) -> None:
    assert figures_of(value) == figures


@pytest.mark.parametrize("figures", [3, 4, 5])
def test_every_right_way_is_recognised_when_rounded(figures: int, series: GroupResult) -> None:
    ways = right_ways(series, checked(series, 1.0).computed)

    for way in ways:
        assert way in recognised(rounded(way.value, figures), ways)


def test_two_runs_of_two_marks_have_a_mean_and_a_ratio_of_sums(
    demo_bench: Bench, two_runs: Any, make_sheet: Callable[..., Any]
) -> None:
    """Hand-worked: 31 and 32 counts of 9600 J over 120 g make 2 480 000 and 2 560 000 J/kg, 2 520 000 on average."""
    readings = next(iter(make_sheet(two_runs).groups.values()))
    result = group_result(readings, in_use(demo_bench), coverage=0.95, seed=1)
    check = checked(result, 2.52e6)

    assert check.same
    assert check.done[0].way in {"mean_of_runs", "sums"}
    assert check.done[0].value == pytest.approx(2.52e6)
