"""Every row that a plan shows keeps every limit of its bench, worked out alone, apart from the search that found it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from design.bench import Bench
from design.bench_files.reader import read_bench
from design.chosen import price_of
from design.kit import ROLES, kit_from
from design.limits import END, TOLERANCE, limits_of, unsuitables
from design.procedures.face import pace_of
from design.search.plan import MovedLimit, Plan, RankedDesign, Tried
from design.search.planning import plan_bench
from design.setting.hardware import conditions_of, hardware_of
from design.setting.situation import Settings, situation_of

ROOT = Path(__file__).parents[3]
BENCHES = {
    **{name: ROOT / "configs" / f"{name}.toml" for name in ("demo", "altitude", "mains120", "low-voltage", "cupboard")},
    "fitted": ROOT / "tests" / "reports" / "fitted_bench.toml",
}
EVERY_BENCH = pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] if name == "demo" else []) for name in BENCHES]
)
TRIALS = 1024
TOO_LONG, TOO_MUCH_CURRENT, TOO_DEAR = "time", "circuit", "price"
MAY_BREAK = {"lesson": TOO_LONG, "circuit": TOO_MUCH_CURRENT, "purse": TOO_DEAR}
"""What a row of a moved limit may break on the bench as it is."""


@dataclass(frozen=True)
class Alone:
    """A row worked out alone: the limits that it breaks, its price, and the minutes it takes."""

    broken: tuple[str, ...]
    price: float
    minutes: float


Row = RankedDesign | Tried


def alone(bench: Bench, row: Row) -> Alone:
    """Work a row out from the shelves: the one place here that knows how that is done inside."""
    shown = row.design
    chosen = {
        role: next(item for item in bench.shelves[role] if item.name == shown.items[role])
        for role in ROLES
        if role in shown.items
    }
    kit, conditions, procedure = kit_from(chosen), conditions_of(bench), shown.procedure
    kit = kit.read(shown.reading) if shown.reading else kit
    settings = Settings(
        powers=np.array([shown.powers]),
        mass=np.array([shown.mass]),
        repeats=np.array([float(shown.repeats)]),
        spare=np.array([shown.spare]),
        steady=np.array([shown.steady]),
    )
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    situation = situation_of(conditions, kit, hardware, settings, pace_of(procedure, shown.correction))
    price = price_of(kit, bench.lesson.groups)
    limits = limits_of(situation, procedure, price)
    faults, _ = unsuitables(kit, conditions, procedure)
    broken = [limit.key for limit in limits if not float(np.max(limit.excess)) <= TOLERANCE]
    return Alone((*broken, *(fault.key for fault in faults)), price, float(situation.total_time[0]) / 60.0)


def doubled(row: Row, *, repeats: int = 1) -> Row:
    """The row with twice its mass step, and so many times its runs."""
    design = row.design
    return replace(row, design=replace(design, mass=2.0 * design.mass, repeats=repeats * design.repeats))


@cache
def planned(name: str) -> tuple[Bench, Plan]:
    bench = read_bench(BENCHES[name])
    return bench, plan_bench(bench, seed=7, trials=TRIALS)


def shown(plan: Plan) -> Iterator[tuple[str, Row]]:
    """Every row that a plan shows as possible on the bench as it is, with the name of its place."""
    assert plan.recommended is not None
    assert plan.answers is not None
    yield "recommended", plan.recommended
    if plan.cheapest is not None:
        yield "cheapest", plan.cheapest
    yield from ((f"ranking {place}", row) for place, row in enumerate(plan.ranking, start=1))
    yield from ((f"tied {place}", plan.ranking[place]) for place in plan.answers.tied)
    yield from ((f"frontier {place}", row) for place, row in enumerate(plan.frontier, start=1))
    ladder = plan.answers.ladder
    if ladder.start is not None:
        yield "start of the ladder", ladder.start
    yield from ((f"rung {place}", rung.choice) for place, rung in enumerate(ladder.rungs, start=1))


def moved(bench: Bench, limit: MovedLimit) -> Bench:
    """Move one limit of a bench by the step that the plan states."""
    match limit.unit:
        case "min":
            return replace(bench, lesson=replace(bench.lesson, length=bench.lesson.length + 60.0 * limit.step))
        case "A":
            supply = replace(bench.supply, current_limit=bench.supply.current_limit + limit.step)
            return replace(bench, supply=supply)
        case _:
            return replace(bench, purse=replace(bench.purse, amount=bench.purse.amount + limit.step))


@EVERY_BENCH
def test_every_row_shown_keeps_every_limit(name: str) -> None:
    bench, plan = planned(name)
    rows = dict(shown(plan))
    broken = {place: found.broken for place, row in rows.items() if (found := alone(bench, row)).broken}

    assert len(rows) >= 10
    assert not broken


@EVERY_BENCH
def test_every_row_shown_states_its_price_and_its_time(name: str) -> None:
    bench, plan = planned(name)
    for place, row in shown(plan):
        found = alone(bench, row)

        assert row.design.price == pytest.approx(found.price, abs=1e-9), place
        assert row.design.minutes == pytest.approx(found.minutes, rel=1e-9), place


@EVERY_BENCH
def test_a_row_of_a_moved_limit_keeps_every_limit_of_the_bench_with_that_limit_moved(name: str) -> None:
    bench, plan = planned(name)
    assert plan.answers is not None
    rows = plan.answers.limits

    assert {row.limit for row in rows} == set(MAY_BREAK)
    for row in rows:
        found, as_it_is = alone(moved(bench, row), row.choice), alone(bench, row.choice)

        assert not found.broken, row.limit
        assert set(as_it_is.broken) <= {MAY_BREAK[row.limit], f"{MAY_BREAK[row.limit]}{END}"}, row.limit
        assert row.choice.design.minutes == pytest.approx(found.minutes, rel=1e-9), row.limit
        assert row.lowered_percent == 0.0 or as_it_is.broken, row.limit


@EVERY_BENCH
def test_a_row_made_wrong_is_reported(name: str) -> None:
    """The check itself can fail: each change below breaks the limit named beside it."""
    bench, plan = planned(name)
    best = plan.recommended
    assert best is not None
    heavy = doubled(best, repeats=2)
    short = replace(bench, lesson=replace(bench.lesson, length=0.5 * 60.0 * best.design.minutes))
    weak = replace(
        bench, supply=replace(bench.supply, current_limit=0.5 * best.design.powers[0] / bench.supply.voltage)
    )

    assert alone(bench, heavy).minutes > best.design.minutes
    assert alone(replace(bench, lesson=replace(bench.lesson, length=60.0 * best.design.minutes)), heavy).broken
    assert alone(short, best).broken == (TOO_LONG, f"{TOO_LONG}{END}")
    assert TOO_MUCH_CURRENT in alone(weak, best).broken
    if best.design.price > 0.0:
        poor = replace(bench, purse=replace(bench.purse, amount=0.5 * best.design.price))
        assert alone(poor, best).broken == (TOO_DEAR,)


def test_a_wrong_row_among_the_right_ones_is_named() -> None:
    """On the demo bench a doubled mass no longer fits: the row is named, and the others are not."""
    bench, plan = planned("demo")
    rows: Mapping[str, Row] = dict(shown(plan))
    wrong = doubled(rows["recommended"])
    found = {place: alone(bench, row).broken for place, row in {**rows, "recommended": wrong}.items()}

    assert {place for place, broken in found.items() if broken} == {"recommended"}
