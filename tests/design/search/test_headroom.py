"""A recommended setting stays within its limits when filling, heater and supply are unlucky, and is one people set."""

from dataclasses import replace
from itertools import product
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from design.bench import Bench, FillLimits
from design.bench_files.reader import read_bench
from design.chosen import Design
from design.kit import Kit
from design.limits import END, LIMITS
from design.procedures.registry import PROCEDURES, procedure_named
from design.search.planning import plan_bench
from design.search.ranking import roomiest
from design.search.today import cautions_of, vessel_needed
from design.setting.hardware import Conditions, conditions_of
from tests.design.conftest import BEAM, DISK, HEATER, MASSES, VESSEL

CONFIGS = Path(__file__).parents[3] / "configs"


def design_of(bench: Bench, **changes: Any) -> Design:
    kit = Kit(BEAM, DISK, HEATER, VESSEL, MASSES)
    design = Design(conditions_of(bench), kit, procedure_named("fixed-mass-kept-on"), "calculated", (1400.0,), 0.12)
    return replace(design, **changes)


def filled(design: Design, fill: float) -> Design:
    """The design with just so much water: the fill is linear in what is spared."""
    exact = replace(design, fill_step=0.0, spare=0.0)
    slope = replace(exact, spare=1.0).fill - exact.fill
    return replace(exact, spare=(fill - exact.fill) / slope)


def at_the_end(design: Design, sign: float, fill: float) -> Design:
    """The design with heater and supply at one end of their tolerances, and so much of the planned water."""
    bench, heater = design.conditions.bench, design.kit.heater
    supply = bench.supply
    voltage = supply.voltage * (1.0 + sign * supply.tolerance)
    power = (1.0 + sign * heater.tolerance) * (1.0 + sign * supply.tolerance) ** 2
    conditions: Conditions = replace(design.conditions, bench=replace(bench, supply=replace(supply, voltage=voltage)))
    moved = replace(design, conditions=conditions, powers=tuple(power * one for one in design.powers))
    return filled(moved, fill * design.fill)


@pytest.mark.parametrize("name", ["altitude", "mains120"])
def test_what_is_recommended_keeps_its_limits_at_every_end(name: str) -> None:
    plan = plan_bench(read_bench(CONFIGS / f"{name}.toml"), seed=7, trials=1024)
    assert plan.recommended is not None
    nominal = [row for row in LIMITS if not row.advice and row.key not in ("price", "steady")]
    for row, sign, fill in product((plan.recommended, *plan.ranking[:5]), (-1.0, 1.0), (0.97, 1.0, 1.03)):
        design = at_the_end(row.design, sign, fill)
        broken = {limit.key for limit in design.limits if float(np.max(limit.excess)) > 1e-3}
        values, vessel = design.situation.values, design.kit.vessel

        assert design.fill == pytest.approx(fill * row.design.fill)
        assert broken.isdisjoint({one.key for one in nominal}), (row.design.items, sign, fill)
        assert design.level("cold_level") <= 2.0 / 3.0 * vessel.height
        assert vessel.height - design.level("crest") > 0.010 - 1e-4
        assert float(np.ravel(values["last_1"])[0]) > design.kit.heater.minimum_depth - 1e-4


@pytest.mark.parametrize("procedure", PROCEDURES, ids=lambda one: f"{one.identifier}-{one.number_of_powers}")
def test_water_is_filled_in_to_ten_grams_and_no_more_than_needed(bench: Bench, procedure: Any) -> None:
    powers = (1400.0, 700.0, 350.0)[: procedure.number_of_powers]
    correction = procedure.corrections[0]
    design = design_of(bench, procedure=procedure, correction=correction, powers=powers)
    exact = replace(design, fill_step=0.0)

    assert design.fill == pytest.approx(round(100.0 * design.fill) / 100.0, abs=1e-12)
    assert 0.0 <= design.fill - exact.fill < 0.010
    assert float(np.ravel(design.situation.values["fill"])[0]) == design.fill


def test_where_the_margin_is_slim_more_is_filled_in_so_that_three_per_cent_less_still_covers(bench: Bench) -> None:
    design = design_of(bench, fill_step=0.0, mass=0.5, repeats=9)
    strongest = at_the_end(design, 1.0, 0.97)

    # A little less evaporates before the boil, as a strong heater gets there sooner.
    over = float(np.ravel(strongest.situation.values["last_1"])[0]) - HEATER.minimum_depth
    assert 0.0 < over < 5e-4


def test_headroom_is_the_distance_to_the_nearest_limit_that_hangs_on_the_setting(bench: Bench) -> None:
    tall = Kit(BEAM, DISK, HEATER, replace(VESSEL, capacity=2.6e-3, height=0.27), MASSES)
    design = design_of(bench, kit=tall)
    most_time = float(np.ravel(design.situation.values["most_time"])[0])
    tight = replace(bench, lesson=replace(bench.lesson, length=1.01 * most_time))

    assert design_of(tight, kit=tall).headroom == pytest.approx(1.0 - 1.0 / 1.01)
    assert f"time{END}" in design_of(tight, kit=tall).stands_on
    poor = replace(bench, purse=replace(bench.purse, amount=0.0))
    assert design_of(poor, kit=tall).headroom == pytest.approx(design.headroom)


def rival(objective: float, price: float, headroom: float, bench: Bench) -> Any:
    design = SimpleNamespace(price=price, headroom=headroom, conditions=SimpleNamespace(bench=bench))
    return SimpleNamespace(objective=objective, design=design)


def test_more_headroom_goes_before_a_price_difference_below_the_margin_of_money(bench: Bench) -> None:
    bench = replace(bench, purse=replace(bench.purse, amount=200.0, margin=0.05))
    first = rival(0.010, 100.0, 0.01, bench)
    roomy = rival(0.0115, 109.0, 0.10, bench)
    dear = rival(0.010, 110.0, 0.20, bench)
    worse = rival(0.0125, 90.0, 0.30, bench)

    assert roomiest([first, roomy, dear, worse], first, 0.002) is roomy
    assert roomiest([first, dear, worse], first, 0.002) is first


def test_a_vessel_that_is_too_full_is_told_what_would_do_and_what_it_costs(bench: Bench) -> None:
    full = design_of(bench, repeats=6)
    wide = replace(VESSEL, name="Tall one", capacity=3.6e-3, height=0.37, price=12.5, owned=0)
    without, with_it = (
        replace(bench, shelves={**bench.shelves, "vessel": vessels}) for vessels in ((VESSEL,), (VESSEL, wide))
    )
    needed, found = vessel_needed(full, without), vessel_needed(full, with_it)

    assert vessel_needed(design_of(bench, kit=Kit(BEAM, DISK, HEATER, wide, MASSES)), bench) is None
    assert needed is not None
    assert needed.key == "vessel_needed"
    assert found is not None
    assert (found.key, found.values["vessel"]) == ("vessel_on_shelf", "Tall one")
    assert found.values["price"] == 12.5 * bench.lesson.groups
    assert isinstance(needed.values["height"], float)
    assert needed.values["height"] > VESSEL.height


def test_limits_that_a_bench_file_loosens_are_said(bench: Bench) -> None:
    loose = replace(bench, limits=FillLimits(fill=0.8, rim=0.004))
    design: Any = SimpleNamespace(design=design_of(loose), accepted=())
    keys = {one.key: one.values for one in cautions_of(conditions_of(loose), design, (None, None), only_owned=False)}
    usual: Any = SimpleNamespace(design=design_of(bench), accepted=())

    assert keys["loosened_fill"]["share"] == pytest.approx(0.8)
    assert keys["loosened_rim"] == {"rim": 0.004, "usual_rim": 0.01}
    assert not any(
        one.key.startswith("loosened")
        for one in cautions_of(conditions_of(bench), usual, (None, None), only_owned=False)
    )
