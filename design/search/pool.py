"""The combinations worth keeping, the best of any part of them, and what to buy, move or use of the cupboard."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray
from design.bench import Bench
from design.chosen import Design, Purchase, all_terms, number_to_buy
from design.kit import ROLES
from design.limits import END, TOLERANCE, KitLimit, excesses, limits_of
from design.search.candidates import corrections_of, kit_at, procedures_of, settings_of
from design.search.combinations import AS_IT_IS, RICHER, Columns, ordered, relaxations_of
from design.search.estimate import floor_of
from design.search.plan import Ladder, MovedLimit, OwnedItem, Rung, Tried
from design.search.sample import Aim, Sample, objective_at, screen
from design.setting.hardware import Conditions


class Pool:
    """
    Combinations worth keeping in the order of their estimates, compared on a sample by what is made small.

    Notes
    -----
    Every question is answered the same way: rows are sampled in the order of their least possible value, until the
    best one found is better than anything that is left can be. Nothing is sampled twice.
    """

    def __init__(self, conditions: Conditions, columns: Columns, sample: Sample, aim: Aim) -> None:
        self.columns = ordered(columns)
        self.conditions, self.sample, self.aim = conditions, sample, aim
        self.least = self.columns.estimate * floor_of(aim, sample)
        self.usual: BoolArray = (self.columns.marks & AS_IT_IS) > 0
        self._known: dict[int, Tried] = {}

    @property
    def sampled(self) -> int:
        """Number of combinations that were sampled so far and are feasible on the bench as it is."""
        return sum(bool(self.usual[row]) for row in self._known)

    def look(self, row: int) -> Tried:
        """Sample a row, or recall what it gave."""
        if row not in self._known:
            design = self._design(row)
            self._known[row] = Tried(design, objective_at(design, self.sample, self.aim))
        return self._known[row]

    def best(self, wanted: BoolArray, at_most: float = np.inf) -> Tried | None:
        """Return the best of the rows wanted, shape (n,); None where none is within ``at_most``. [1]"""
        best: Tried | None = None
        limit = at_most
        for row in np.flatnonzero(wanted):
            if self.least[row] > limit:
                break
            found = self.look(int(row))
            if found.objective <= limit and (best is None or found.order < best.order):
                best, limit = found, found.objective
        return best

    def leaders(self, number: int) -> list[Tried]:
        """Best setting of each of the best kits with their procedures and corrections, best first."""
        best: dict[tuple[int, ...], Tried] = {}
        for row in np.flatnonzero(self.usual):
            values = sorted(found.objective for found in best.values())
            if len(values) >= number and self.least[row] > values[number - 1]:
                break
            key = (*self.columns.kit[row].tolist(), *self.columns.way[row].tolist())
            if key in best and best[key].objective < self.least[row]:
                continue
            found = self.look(int(row))
            if key not in best or found.order < best[key].order:
                best[key] = found
        return sorted(best.values(), key=lambda found: found.order)[:number]

    def frontier(self) -> list[Tried]:
        """Combinations that no cheaper or equally dear one beats, cheapest first."""
        steps: list[Tried] = []
        reached = np.inf
        for price, rows in self._by_price():
            if rows.size and self.least[rows[0]] <= reached:
                wanted = np.zeros(len(self.columns), dtype=bool)
                wanted[rows] = True
                found = self.best(wanted, at_most=reached)
                if found is not None and found.objective < reached:
                    steps.append(found)
                    reached = found.objective
            if price == np.inf:
                break
        return steps

    def _by_price(self) -> Iterator[tuple[float, NDArray[np.intp]]]:
        """Prices from the lowest, each with its feasible rows in order."""
        rows = np.flatnonzero(self.usual)
        prices = self.columns.price[rows]
        order = np.argsort(prices, kind="stable")
        edges = np.flatnonzero(np.diff(prices[order])) + 1
        for part in np.split(order, edges):
            if part.size:
                yield float(prices[part[0]]), rows[part]

    def _design(self, row: int) -> Design:
        columns, bench = self.columns, self.conditions.bench
        places = dict(zip(ROLES, columns.kit[row].tolist(), strict=True))
        way, correction = columns.way[row].tolist()
        procedure = procedures_of(bench)[way]
        *powers, mass, repeats, spare = columns.settings[columns.setting[row]].tolist()
        return Design(
            conditions=self.conditions,
            kit=kit_at(bench, places, timed=bool(columns.timed[row])),
            procedure=procedure,
            correction=corrections_of(bench, procedure)[correction],
            powers=tuple(power for power in powers if power > 0.0),
            mass=mass,
            repeats=int(repeats),
            spare=spare,
        )


LEAST_GAIN = 0.1
"""Part of the margin by which a purchase must lower the error to count as a help."""
FURTHER = 0.05
"""Part by which a limit of the kit is moved, relative to what it allows. [1]"""
MOVED_FOR_ALL = ("time", "circuit", "price")
"""Limits that are moved for every kit, see ``moved_limits``."""

Thing = tuple[int, int]
"""Role and place on its shelf."""


@dataclass(frozen=True)
class _Step:
    """A purchase that could be made: what, its price, the gain, and the best design with it."""

    things: tuple[Thing, ...]
    price: float
    gain: float
    found: Tried

    @property
    def rate(self) -> float:
        """Gain per money; where nothing was possible before, the cheapest counts most."""
        return self.gain / self.price if np.isfinite(self.gain) else 1.0 / self.price

    @property
    def order(self) -> tuple[object, ...]:
        """Key that sorts purchases: gain per money, then price and the design."""
        return (-self.rate, self.price, self.found.order)


def ladder_of(pool: Pool, today: float | None) -> Ladder:
    """Climb from what is owned; ``today`` is the error of what is done today. [1]"""
    bench = pool.conditions.bench
    costs = _costs(bench)
    missing = np.column_stack(
        [
            np.where(pool.columns.kit[:, role] >= 0, costs[role][pool.columns.kit[:, role]] > 0.0, False)
            for role in range(len(ROLES))
        ]
    )
    start = pool.best(pool.usual & ~missing.any(axis=1))
    reached, spent, rungs = start, 0.0, []
    while True:
        step = _next(pool, costs, missing, (pool.usual, reached, bench.purse.amount - spent))
        if step is None:
            break
        spent += step.price
        lowered = step.gain if np.isfinite(step.gain) else step.found.objective
        rungs.append(Rung(_bought(bench, step.things), step.price, spent, 100.0 * lowered, step.found))
        for role, place in step.things:
            missing[:, role] &= pool.columns.kit[:, role] != place
        reached = step.found
    helped = _next(pool, costs, missing, ((pool.columns.marks & (AS_IT_IS | RICHER)) > 0, reached, np.inf))
    return Ladder(
        today_percent=None if today is None else 100.0 * today,
        start=start,
        rungs=tuple(rungs),
        ends="purse is empty" if helped is not None else "nothing helps",
    )


def _costs(bench: Bench) -> list[NDArray[np.float64]]:
    """Price of what is missing of every item for all groups, role by role."""
    groups = bench.lesson.groups
    return [
        np.array([item.price * number_to_buy(item, groups) for item in shelf]) if shelf else np.zeros(1)
        for shelf in bench.shelves.values()
    ]


def _next(
    pool: Pool,
    costs: Sequence[NDArray[np.float64]],
    missing: BoolArray,
    where: tuple[BoolArray, Tried | None, float],
) -> _Step | None:
    """Best purchase of the fewest items that helps, among some rows and for some money; None where none does."""
    among, reached, money = where
    number = missing.sum(axis=1)
    margin = LEAST_GAIN * pool.conditions.bench.search.margin
    goal = np.inf if reached is None else reached.objective - margin
    for together in range(1, len(ROLES) + 1):
        rows = np.flatnonzero(among & (number == together) & (pool.least <= goal))
        step = _best_step(pool, costs, missing, rows, (reached, goal, money))
        if step is not None:
            return step
    return None


def _best_step(
    pool: Pool,
    costs: Sequence[NDArray[np.float64]],
    missing: BoolArray,
    rows: NDArray[np.intp],
    bounds: tuple[Tried | None, float, float],
) -> _Step | None:
    """Best purchase among rows that lack equally many items; those that promise less than the best are not sampled."""
    reached, goal, money = bounds
    best: _Step | None = None
    for things, part in _by_things(pool, missing, rows):
        price = math.fsum(costs[role][place] for role, place in things)
        if price > money + TOLERANCE:
            continue
        promise = _rate(reached, float(pool.least[part[0]]), price)
        if best is not None and promise < best.rate:
            continue
        wanted = np.zeros(len(pool.columns), dtype=bool)
        wanted[part] = True
        found = pool.best(wanted, at_most=goal)
        if found is None:
            continue
        gain = np.inf if reached is None else reached.objective - found.objective
        step = _Step(things, price, float(gain), found)
        if best is None or step.order < best.order:
            best = step
    return best


def _rate(reached: Tried | None, value: float, price: float) -> float:
    """Gain per money that a value would mean."""
    return 1.0 / price if reached is None else (reached.objective - value) / price


def _by_things(
    pool: Pool, missing: BoolArray, rows: NDArray[np.intp]
) -> Iterable[tuple[tuple[Thing, ...], NDArray[np.intp]]]:
    """Rows by the things that each lacks, rows in the order of their estimates."""
    if not rows.size:
        return
    keys = np.where(missing[rows], pool.columns.kit[rows], -2)
    distinct, group = np.unique(keys, axis=0, return_inverse=True)
    group = group.ravel()
    for place, key in enumerate(distinct):
        yield tuple((role, int(item)) for role, item in enumerate(key) if item != -2), rows[group == place]


def _bought(bench: Bench, things: Iterable[Thing]) -> tuple[Purchase, ...]:
    roles = tuple(ROLES)
    rows = []
    for role, place in things:
        item = bench.shelves[roles[role]][place]
        number = number_to_buy(item, bench.lesson.groups)
        rows.append((roles[role], item.name, number, number * item.price))
    return tuple(rows)


def moved_limits(pool: Pool, best: Tried) -> tuple[MovedLimit, ...]:
    """What more time, current or money would bring beyond the best on the bench as it is, limit by limit."""
    moved = []
    for relaxation in relaxations_of(pool.conditions.bench):
        wanted = (pool.columns.marks & relaxation.mark) > 0
        found = pool.best(wanted, at_most=best.objective) or best
        lowered = max(best.objective - found.objective, 0.0)
        moved.append(
            MovedLimit(
                relaxation.limit, relaxation.step, relaxation.unit, 100.0 * lowered,
                found if lowered > 0.0 else best,
            )
        )  # fmt: skip
    return tuple(moved)


def limits_of_kit(best: Tried, sample: Sample, aim: Aim) -> tuple[KitLimit, ...]:
    """
    What the kit of a design would gain if a limit on which it stands allowed ``FURTHER`` more, limit by limit.

    Those that the search moves for every kit, by ``moved_limits``, are left out.
    """
    design = best.design
    settings = replace(
        settings_of(design.conditions.bench, design.kit, design.procedure), steady=np.asarray(design.steady)
    )
    situation = design.situation_at(settings)
    limits = limits_of(situation, design.procedure, design.price)
    found, moved = np.broadcast_to(excesses(limits), (len(limits), settings.mass.size)), []
    for key in dict.fromkeys(one.removesuffix(END) for one in design.stands_on):
        if key in MOVED_FOR_ALL:
            continue
        twins = np.array([limit.key.removesuffix(END) == key for limit in limits])
        allowed = np.where(twins, FURTHER, TOLERANCE)[:, None]
        open_now = np.flatnonzero((found <= allowed).all(axis=0) & (found[twins] > TOLERANCE).any(axis=0))
        reached = best.objective
        if open_now.size:
            few = settings.only(open_now)
            terms = all_terms(design.procedure, design.correction, design.situation_at(few))
            reached = float(np.min(screen(design.program, terms, open_now.size, sample, aim)))
        moved.append(KitLimit(key, FURTHER, 100.0 * max(best.objective - reached, 0.0)))
    return tuple(moved)


def owned_items(pool: Pool, best: Tried) -> tuple[OwnedItem, ...]:
    """What each item of the cupboard is worth: the best design with it, and the best without it."""
    items, used = [], best.design.kit.items
    for column, role in enumerate(ROLES):
        for place, item in enumerate(pool.conditions.bench.shelves[role]):
            if item.owned <= 0:
                continue
            chosen = pool.columns.kit[:, column] == place
            items.append(
                OwnedItem(
                    role=role,
                    name=item.name,
                    used=role in used and used[role].name == item.name,
                    with_percent=_percent(pool.best(pool.usual & chosen)),
                    without_percent=_percent(pool.best(pool.usual & ~chosen)),
                )
            )
    return tuple(items)


def _percent(found: Tried | None) -> float | None:
    return None if found is None else 100.0 * found.objective
