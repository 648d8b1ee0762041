"""Heat that a jacket takes up after the boil begins: the closed form against a slab worked out step by step."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from budget.arrays import FloatArray
from budget.propagation import propagate
from design.bench import Bench
from design.chosen import Design
from design.kit import LAGGING, Kit
from design.physics.evidence import default
from design.procedures.registry import procedure_named
from design.setting.hardware import conditions_of

POINTS = 60


def lagged(bench: Bench, lagging: str, *, steady: float = 180.0, mass: float = 0.12, power: float = 700.0) -> Design:
    """A run on whole counts in a vessel with some lagging."""
    vessel = replace(bench.vessels[0], jacket=LAGGING(lagging))
    kit = Kit(bench.balances[1], bench.meters[0], bench.heaters[0], vessel)
    whole = procedure_named("whole-counts")
    return Design(conditions_of(bench), kit, whole, "calculated", (power,), mass, steady=steady)


def value(design: Design, symbol: str) -> float:
    return float(np.ravel(design.situation.values[symbol])[0])


def stored_by_steps(inner: FloatArray, step: float, diffusivity: float, thickness: float) -> FloatArray:
    """Heat flow into a slab beyond the steady one, over it: inner face as given, outer face at 0, explicit steps."""
    distance = thickness / POINTS
    temperature, flows = np.zeros(POINTS + 1), []
    for face in inner:
        temperature[0] = face
        flows.append((temperature[0] - temperature[1]) * POINTS - face)
        temperature[1:-1] += diffusivity * step / distance**2 * np.diff(temperature, 2)
    return np.array(flows)


@pytest.mark.parametrize("lagging", ["20 mm cork", "20 mm felt", "30 mm cork"])
@pytest.mark.parametrize("steady", [180.0, 420.0])
def test_the_closed_form_is_the_heat_flow_of_a_slab_worked_out_in_small_steps(
    bench: Bench, lagging: str, steady: float
) -> None:
    design = lagged(bench, lagging, steady=steady)
    jacket = design.kit.vessel.jacket
    diffusivity = jacket.conductivity / jacket.heat_capacity
    step = 0.4 * (jacket.thickness / POINTS) ** 2 / diffusivity
    warm_up, runs = value(design, "warm_up"), value(design, "time_1")
    share = value(design, "above_1") / value(design, "side_share")
    after = np.arange(0.0, steady + runs, step)
    ramp = np.concatenate([np.arange(0.0, warm_up, step) / warm_up, np.ones(after.size)])
    flow = share * stored_by_steps(np.ones(after.size), step, diffusivity, jacket.thickness)
    flow += (1.0 - share) * stored_by_steps(ramp, step, diffusivity, jacket.thickness)[-after.size :]

    by_steps = design.hardware.jacket_loss * float(flow[after >= steady].sum()) * step

    # The second mode, left out, holds a quarter of exp(-3 t/tau) of what the first does.
    second = 0.25 * np.exp(-3.0 * steady / jacket.time)
    assert value(design, "stored_1") == pytest.approx(by_steps, rel=0.02 + second)


def test_twenty_millimetres_of_cork_make_a_result_too_high_by_some_tenths_of_a_per_cent(bench: Bench) -> None:
    design = lagged(bench, "20 mm cork")
    share = value(design, "stored_1") / (design.reference * value(design, "mass_1"))

    assert 0.002 < share < 0.005
    # One-sided: a jacket that is warmed can only take heat from the steam.
    term = next(term for term in design.terms if term.symbol == "e_stored")
    assert term.base.support[0] > 0.0


def test_a_bare_vessel_stores_nothing_and_longer_settling_leaves_less_to_take_up(bench: Bench) -> None:
    bare = replace(lagged(bench, "20 mm cork"), kit=replace(lagged(bench, "20 mm cork").kit, vessel=bench.vessels[0]))
    left = [value(lagged(bench, "20 mm cork", steady=steady), "stored_1") for steady in (180.0, 300.0, 600.0)]

    assert bench.vessels[0].jacket.thickness == 0.0
    assert value(bare, "stored_1") == 0.0
    time = lagged(bench, "20 mm cork").kit.vessel.jacket.time
    assert left[1] / left[0] == pytest.approx(np.exp(-120.0 / time), rel=0.02)
    assert left[2] < 0.1 * left[0]


def test_settling_takes_its_time_of_the_lesson_at_every_power(bench: Bench) -> None:
    usual, longer = lagged(bench, "20 mm cork"), lagged(bench, "20 mm cork", steady=420.0)

    assert usual.steady == default("steady_time")
    assert dict(longer.time_table)["settling"] == pytest.approx(7.0)
    assert longer.minutes > usual.minutes + 3.9


@pytest.mark.parametrize("lagging", ["1 mm felt", "2 mm cork", "5 mm foam"])
@pytest.mark.parametrize("power", [350.0, 700.0])
def test_a_thin_jacket_and_much_steam_leave_nothing_that_a_budget_must_refuse(
    bench: Bench, lagging: str, power: float
) -> None:
    # Faded exponentials of 1e-70 are neither nothing nor anything: a budget refuses such contributions.
    design = lagged(bench, lagging, power=power, steady=900.0)

    assert value(design, "stored_1") == 0.0
    assert propagate(design.model).standard_uncertainty > 0.0
