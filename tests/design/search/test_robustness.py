"""What if an assumption is otherwise: the table by hand, and the design of least regret."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from budget.quantities.distributions import scaled
from design.bench import Bench
from design.chosen import Design
from design.search.planning import plan_bench
from design.search.robustness import ASSUMPTIONS, error_if, robustness_of
from design.search.sample import Aim, Sample, objective_at

BY_KEY = {one.key: one for one in ASSUMPTIONS}
SAMPLE, AIM = Sample(1024, 4), Aim("rms error", 0.95)


@pytest.fixture
def designs(bench: Bench) -> list[Design]:
    return [row.design for row in plan_bench(bench, seed=4, trials=512).ranking]


def test_as_assumed_is_the_error_of_the_plan(designs: list[Design]) -> None:
    for design in designs:
        assert error_if(design, BY_KEY["as_assumed"], SAMPLE, AIM) == pytest.approx(objective_at(design, SAMPLE, AIM))


def test_a_meter_of_twice_its_class_is_that_of_a_bench_which_says_so(designs: list[Design]) -> None:
    """The same by editing the kit by hand."""
    design = designs[0]
    meter = replace(design.kit.meter, error=scaled(design.kit.meter.error, 2.0))
    edited = replace(design, kit=replace(design.kit, meter=meter))

    assert error_if(design, BY_KEY["meter_doubled"], SAMPLE, AIM) == pytest.approx(objective_at(edited, SAMPLE, AIM))


def test_losses_doubled_leave_what_the_correction_takes_off(designs: list[Design]) -> None:
    """To first order the value rises by the loss that is missed over the power that makes steam."""
    design = next(
        one for one in designs if one.corrected and not one.has_cooling_run and one.procedure.number_of_powers == 1
    )
    error = error_if(design, BY_KEY["losses_doubled"], SAMPLE, AIM)
    missed = design.hardware.loss / (max(design.powers) - design.hardware.loss)

    assert error == pytest.approx(missed, rel=0.5)
    assert error > objective_at(design, SAMPLE, AIM)


def test_the_loss_is_the_error_less_the_least_and_least_regret_is_the_least_largest_loss(designs: list[Design]) -> None:
    found = robustness_of(designs, SAMPLE, AIM)
    errors = np.array([[error_if(design, one, SAMPLE, AIM) for design in designs] for one in ASSUMPTIONS])
    lost = 100.0 * (errors - errors.min(axis=1, keepdims=True))

    assert [row.lost_percent for row in found.rows] == pytest.approx(lost[:, 0])
    assert [row.best for row in found.rows] == [int(row.argmin()) for row in errors]
    assert found.largest_loss_percent == pytest.approx(lost.max(axis=0))
    assert found.least_regret == int(lost.max(axis=0).argmin())


def test_a_bench_that_asks_for_least_regret_gets_the_design_of_least_regret(bench: Bench) -> None:
    asked = replace(bench, search=replace(bench.search, objective="least regret"))
    plan = plan_bench(asked, seed=4, trials=512)

    assert plan.answers is not None
    assert plan.answers.robustness is not None
    largest = plan.answers.robustness.largest_loss_percent
    assert plan.answers.robustness.least_regret == 0
    assert largest[0] == min(largest)
