"""No design that a plan shows is one that a technician would refuse: filled near the brim, or boiling over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from design.bench import Bench
from design.bench_files.reader import read_bench
from design.chosen import Design
from design.physics.swell import circulating_pool_drift, still_pool_drift
from design.physics.water import boiling_water
from design.search.plan import Plan, RankedDesign, Tried
from design.search.planning import plan_bench
from tests.design.physics.test_swell import rise

ROOT = Path(__file__).parents[3]
SMALL = ROOT / "configs" / "altitude.toml"
TRIALS = 1024
MOST = 2.0 / 3.0
"""Share of the brimful capacity that water fills, cold, at most. (common practice, no source)"""


def shipped(name: str) -> Bench:
    return read_bench(ROOT / "configs" / f"{name}.toml")


def heated(power: float, scale: float) -> Bench:
    """The small bench with heaters of one power, in vessels so many times as wide and high, a little depth to cover."""
    bench = read_bench(SMALL)
    heaters = tuple(replace(heater, power=power, minimum_depth=0.045) for heater in bench.heaters)
    vessels = tuple(
        replace(
            vessel, height=scale * vessel.height, diameter=scale * vessel.diameter, capacity=scale**3 * vessel.capacity
        )
        for vessel in bench.vessels
    )
    supply = replace(bench.supply, current_limit=16.0)
    balances = tuple(replace(balance, capacity=6.0) for balance in bench.balances)
    return replace(bench, supply=supply).with_shelves(balance=balances, heater=heaters, vessel=vessels)


def lasting(minutes: float) -> Bench:
    bench = read_bench(SMALL)
    return replace(bench, lesson=replace(bench.lesson, length=60.0 * minutes))


def with_purse(amount: float) -> Bench:
    bench = read_bench(SMALL)
    return replace(bench, purse=replace(bench.purse, amount=amount))


def for_groups(number: int) -> Bench:
    bench = read_bench(SMALL)
    supply = replace(bench.supply, current_limit=number * bench.supply.current_limit)
    purse = replace(bench.purse, amount=number * bench.purse.amount)
    return replace(bench, lesson=replace(bench.lesson, groups=number), supply=supply, purse=purse)


def at_pressure(pressure: float) -> Bench:
    bench = read_bench(SMALL)
    return replace(bench, room=replace(bench.room, pressure=pressure))


KINDS: dict[str, Callable[[], Bench]] = {
    "as shipped: demo": lambda: shipped("demo"),
    "as shipped: 82 kPa": lambda: shipped("altitude"),
    "as shipped: 120 V": lambda: shipped("mains120"),
    "as shipped: low voltage": lambda: shipped("low-voltage"),
    "as shipped: cupboard only": lambda: shipped("cupboard"),
    "0.35 kW in 0.6 L": lambda: heated(350.0, 0.75),
    "0.7 kW in 0.9 L": lambda: heated(700.0, 0.86),
    "2.8 kW in 5 L": lambda: heated(2800.0, 1.4),
    "2500 m above the sea": lambda: at_pressure(74.7e3),
    "a lesson of 55 min": lambda: lasting(55.0),
    "a lesson of 120 min": lambda: lasting(120.0),
    "a purse of 40": lambda: with_purse(40.0),
    "a purse of 400": lambda: with_purse(400.0),
    "five groups": lambda: for_groups(5),
}
KIND = pytest.mark.parametrize(
    "kind", [pytest.param(kind, marks=[pytest.mark.slow] if "demo" in kind else []) for kind in KINDS]
)


def shown(plan: Plan) -> Iterator[Design]:
    """Every design that a plan shows as possible."""
    rows: list[RankedDesign | Tried | None] = [plan.recommended, plan.cheapest, *plan.ranking, *plan.frontier]
    if plan.answers is not None:
        ladder = plan.answers.ladder
        rows += [
            ladder.start,
            *(rung.choice for rung in ladder.rungs),
            *(limit.choice for limit in plan.answers.limits),
        ]
    return (row.design for row in rows if row is not None)


def surfaces(design: Design, start: float) -> tuple[float, float]:
    """Height of the boiling surface by either law of drift flux, from the level without bubbles, worked out apart."""
    conditions, vessel = design.conditions, design.kit.vessel
    water = boiling_water(conditions.bench.room.pressure)
    steam = float(design.situation.all_runs.steaming[0, 0])
    flux = steam / (water.latent_heat * water.vapour_density * design.situation.hardware.area)
    drifts = (still_pool_drift(water), circulating_pool_drift(water, vessel.diameter))
    return tuple(start + rise(flux, start - 0.010, drift, 1.195) for drift in drifts)  # type: ignore[return-value]


@KIND
def test_nothing_shown_is_filled_near_the_brim_or_boils_over(kind: str) -> None:
    bench = KINDS[kind]()
    plan = plan_bench(bench, seed=7, trials=TRIALS)

    assert plan.recommended is not None
    for design in shown(plan):
        area, height = design.situation.hardware.area, design.kit.vessel.height
        cold = design.fill / design.conditions.cold_density / area
        density = design.conditions.water.liquid_density
        start = (design.fill + design.situation.hardware.displaced) / density / area
        assert cold <= MOST * height * (1.0 + 1e-9)
        assert max(surfaces(design, start)) < height
        assert design.against_advice == ()
