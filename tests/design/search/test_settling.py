"""How long to boil before the first reading: longer where a jacket's storage weighs and the lesson has room."""

from dataclasses import replace

import pytest

from budget.quantities.distributions import Normal
from design.bench import Bench
from design.chosen import Design
from design.kit import LAGGING, Kit
from design.limits import first_broken
from design.physics.evidence import default
from design.procedures.registry import procedure_named
from design.search.plan import Tried
from design.search.ranking import refined
from design.search.sample import Aim, Sample, objective_at
from design.setting.hardware import conditions_of
from tests.design.conftest import HEATER, MASSES, VESSEL

SAMPLE, AIM = Sample(1024, 3), Aim("rms error", 0.95)


def design_on(bench: Bench, lagging: str, minutes: float) -> Design:
    """0.12 kg in a lagged vessel whose losses are known well, with a good meter, in a lesson of some length."""
    known = {"wall_loss": Normal(20.0, 0.5), "return_loss": Normal(3.0, 0.2)}
    bench = replace(
        bench, knowledge=known, lesson=replace(bench.lesson, length=60.0 * minutes),
        search=replace(bench.search, masses=(0.12,), spare_water=(0.0,)),
    )  # fmt: skip
    vessel = replace(VESSEL, height=0.27, jacket=LAGGING(lagging))
    meter = replace(bench.meters[0], error=Normal(0.0, 0.001), energy_per_count=900.0)
    kit = Kit(bench.balances[0], meter, replace(HEATER, power=1400.0, tolerance=0.02), vessel, MASSES)
    return Design(conditions_of(bench), kit, procedure_named("fixed-mass-kept-on"), "calculated", (1400.0,), 0.12)


def searched(design: Design) -> Design:
    return refined(Tried(design, objective_at(design, SAMPLE, AIM)), SAMPLE, AIM)


@pytest.mark.parametrize("minutes", [90.0, 40.0])
def test_the_search_settles_as_long_as_is_best_of_every_minute_that_fits(bench: Bench, minutes: float) -> None:
    design = design_on(bench, "30 mm cork", minutes)
    errors = {}
    for steady in range(180, 901, 60):
        tried = replace(design, steady=float(steady))
        limits = tried.limits
        if first_broken(limits)[0] == len(limits):
            errors[steady] = objective_at(tried, SAMPLE, AIM)

    found = searched(design)

    assert found.steady > default("steady_time")
    assert objective_at(found, SAMPLE, AIM) <= min(errors.values()) * (1.0 + 2e-3)
    assert found.minutes <= minutes


def test_nothing_is_waited_for_where_a_jacket_stores_nothing_to_speak_of(bench: Bench) -> None:
    assert searched(design_on(bench, "10 mm foam", 90.0)).steady == default("steady_time")
