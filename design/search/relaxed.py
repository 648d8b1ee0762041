"""The limits that a school could move: what the search would find with a little more time, current or money."""

from __future__ import annotations

from dataclasses import dataclass, replace

from design.bench import Bench

EXTRA_TIME = 600.0
"""Lengthening of the lesson that is tried. [s]"""
EXTRA_CURRENT = 5.0
"""Strengthening of the circuit that is tried. [A]"""
EXTRA_MONEY = 0.25
"""Share of the purse that is added; at least the price of the cheapest thing on the shelves."""

AS_IT_IS, LONGER, STRONGER, RICHER = 1, 2, 4, 8
"""Marks of the benches that a combination is feasible on; a combination may carry several."""


@dataclass(frozen=True)
class Relaxation:
    """A bench with one limit moved: its mark, the key of the limit, and by how much in the limit's own unit."""

    mark: int
    limit: str
    step: float
    unit: str
    bench: Bench


def relaxations_of(bench: Bench) -> tuple[Relaxation, ...]:
    """Benches with one limit moved."""
    lesson = replace(bench.lesson, length=bench.lesson.length + EXTRA_TIME)
    supply = replace(bench.supply, current_limit=bench.supply.current_limit + EXTRA_CURRENT)
    money = richer_by(bench)
    purse = replace(bench.purse, amount=bench.purse.amount + money)
    return (
        Relaxation(LONGER, "lesson", EXTRA_TIME / 60.0, "min", replace(bench, lesson=lesson)),
        Relaxation(STRONGER, "circuit", EXTRA_CURRENT, "A", replace(bench, supply=supply)),
        Relaxation(RICHER, "purse", money, bench.purse.currency, replace(bench, purse=purse)),
    )


def richer_by(bench: Bench) -> float:
    """Money that is added to the purse."""
    prices = [item.price for shelf in bench.shelves.values() for item in shelf if item.price > 0.0]
    return max(EXTRA_MONEY * bench.purse.amount, min(prices, default=0.0))
