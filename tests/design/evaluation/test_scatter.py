"""Type A beside the prior: how far readings scatter widens the result, and coverage holds at any noise."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.propagation import coverage_factor
from design.evaluation.result import GroupResult, group_result
from design.evaluation.scatter import PRIOR_DOF, Fit, pooled
from design.procedures.face import pace_of
from design.procedures.registry import procedure_named
from design.search.today import in_use
from design.setting.situation import Settings, situation_of
from tests.design.evaluation.conftest import DISPLAY, STEPPED, Way, bench_for, typed
from tests.design.evaluation.simulator import Plan, Truth, sheet, truths

SEEN = {
    "kept on, 2 runs": (
        Way("fixed-mass-kept-on", 1, "calculated", (700.0,), 0.12, 2), Plan((700.0,), 0.12, 1, 2, True)
    ),
    "whole counts, 8 runs": (
        Way("whole-counts", 1, "calculated", (700.0,), 0.05, 8, tuple(DISPLAY.items())), Plan((700.0,), 0.05, 1, 8)
    ),
    "series, 3 marks": (
        Way("series", 1, "calculated", (700.0,), 0.20, 1, tuple(DISPLAY.items())), Plan((700.0,), 0.20, 2)
    ),
    "two powers, 2 runs": (
        Way("two-powers", 2, "calculated", (1050.0, 350.0), 0.20, 2, tuple(STEPPED.items())),
        Plan((1050.0, 350.0), 0.20, 1, 2),
    ),
    "series at three powers": (
        Way("series", 3, "calculated", (1050.0, 700.0, 350.0), 0.20, 1, tuple(STEPPED.items())),
        Plan((1050.0, 700.0, 350.0), 0.20, 1),
    ),
}  # fmt: skip
UNSEEN = {
    "whole counts, 1 run": (
        Way("whole-counts", 1, "calculated", (700.0,), 0.20, 1, tuple(DISPLAY.items())), Plan((700.0,), 0.20)
    ),
    "two powers, 1 run": (
        Way("two-powers", 2, "calculated", (1050.0, 350.0), 0.20, 1, tuple(STEPPED.items())),
        Plan((1050.0, 350.0), 0.20),
    ),
}  # fmt: skip
SHEETS = 500
NOISE = 4e-4
"""Expected noise of a mark. [kg]"""


def results(way: Way, plan: Plan, noise: float, number: int) -> list[tuple[GroupResult, float]]:
    """Results of groups of an independent simulator, with the latent heat that is true there."""
    used = in_use(bench_for(way))
    procedure = procedure_named(way.procedure, way.number_of_powers)
    settings = Settings(np.array([way.powers]), np.array([way.mass]), np.array([float(way.repeats)]))
    pace = pace_of(procedure, used.correction)
    situation = situation_of(used.conditions, used.kit, used.hardware, settings, pace)
    rng = np.random.default_rng(5)
    lessons: list[Truth] = list(truths(used, situation, number, rng))
    return [
        (group_result(typed(sheet(used, plan, lesson, noise, rng)).readings, used), used.reference)
        for lesson in lessons
    ]


@pytest.mark.slow
@pytest.mark.parametrize("noise", [0.5e-3, 1.5e-3, 3e-3])
@pytest.mark.parametrize("name", SEEN)
def test_where_readings_show_their_noise_95_percent_means_at_least_92(name: str, noise: float) -> None:
    """Above 98 % where few degrees of freedom keep more noise thinkable than there is."""
    held = {"interval": 0, "expanded": 0}
    for result, truth in results(*SEEN[name], noise, SHEETS):
        assert result.measured.scatter.seen
        for kind, (low, high) in (("interval", result.best.interval), ("expanded", result.best.propagation.interval)):
            held[kind] += low <= truth <= high

    assert min(held.values()) / SHEETS >= 0.92


@pytest.mark.parametrize("name", UNSEEN)
def test_where_they_do_not_the_noise_is_as_expected_and_three_times_of_it_is_told_beside(name: str) -> None:
    for result, truth in results(*UNSEEN[name], 1.2e-3, 40):
        assert not result.measured.scatter.seen
        assert result.measured.scatter.factor == 1.0
        assert result.best.expanded_uncertainty_unseen > result.best.propagation.expanded_uncertainty
        assert abs(result.best.value / truth - 1.0) < 0.3


def test_repeats_that_scatter_get_a_wider_uncertainty_than_those_that_agree() -> None:
    used = in_use(bench_for(Way("fixed-mass-kept-on", 1, "calculated", (700.0,), 0.12, 2)))

    def with_energies(*ends: float) -> GroupResult:
        rows = []
        for run, end in enumerate(ends, start=1):
            rows += [
                {"group": "1", "run": str(run), "mark": "0", "time_s": "0", "counts": "12", "mass_g": "240"},
                {"group": "1", "run": str(run), "mark": "1", "time_s": "432", "counts": f"{12 + end}", "mass_g": "120"},
            ]
        return group_result(typed(rows).readings, used)

    alike, apart = with_energies(31, 31, 31), with_energies(29, 31, 34)

    assert apart.measured.scatter.factor > 1.5 * alike.measured.scatter.factor
    assert apart.best.standard_uncertainty > alike.best.standard_uncertainty
    assert apart.best.propagation.effective_dof < math.inf


def test_the_interval_of_five_repeats_alone_is_student_s() -> None:
    """JCGM 100:2008, table G.2: t of 95 % at 4 degrees of freedom is 2.78."""
    assert round(coverage_factor(0.95, 4.0), 2) == 2.78


@pytest.mark.parametrize(("dof", "quantile"), [(1, 3.841), (4, 9.488), (10, 18.307)])
def test_chi_square_at_its_tabled_quantile_is_more_than_expected_once_in_twenty(dof: int, quantile: float) -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, upper critical values at 0.05 (from memory)."""
    assert Fit("line", 1, "1", quantile, dof).chance == pytest.approx(0.05, rel=2e-3)


@given(chi_square=st.floats(0.0, 1e4), dof=st.integers(1, 60))
def test_less_scatter_than_expected_never_narrows_and_more_always_widens(chi_square: float, dof: int) -> None:
    found = pooled([Fit("repeats", 1, "", chi_square, dof)], NOISE)

    assert found.factor >= 1.0
    assert found.factor >= math.sqrt(chi_square / dof) * (1.0 - 1e-12)
    assert found.effective_dof == dof + PRIOR_DOF
    assert pooled([Fit("repeats", 1, "", chi_square * 1.5 + 1.0, dof)], NOISE).factor > found.factor


def test_many_readings_that_scatter_as_expected_leave_the_noise_as_expected() -> None:
    assert pooled([Fit("line", 1, "1", 400.0, 400)], NOISE).factor == pytest.approx(1.03, abs=0.02)


def test_runs_that_disagree_are_not_hidden_by_marks_that_agree() -> None:
    quiet, apart = Fit("line", 1, "1", 30.0, 30), Fit("repeats", 1, "", 25.0, 1)

    assert pooled([quiet, apart], NOISE).factor > 2.0 * pooled([quiet], NOISE).factor


def test_no_comparison_leaves_everything_as_it_was() -> None:
    found = pooled([], NOISE)

    assert (found.seen, found.factor, found.effective_dof) == (False, 1.0, math.inf)


@pytest.fixture
def restart(hand_in: Callable[..., Any], make_sheet: Callable[..., Any]) -> GroupResult:
    handed = hand_in("restart", 100)
    return group_result(make_sheet(handed.sheets[0]).readings, handed.used)


def test_the_budget_holds_the_widened_noise_and_its_degrees_of_freedom(restart: GroupResult) -> None:
    """JCGM 100:2008, G.4.1, with the noise as one component."""
    noise = [size for symbol, size in restart.best.scatter.items() if symbol.startswith(("d_", "Q_drift"))]
    noise_squared = sum(one**2 for one in noise) - restart.best.scatter.get("d_linearity", 0.0) ** 2
    share = noise_squared / restart.best.standard_uncertainty**2
    scatter = restart.measured.scatter

    assert scatter.degrees_of_freedom == 1
    assert restart.best.propagation.effective_dof == pytest.approx(scatter.effective_dof / share**2, rel=1e-6)
