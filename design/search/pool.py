"""The combinations worth keeping, and the best of any part of them: sampled only where the closed form leaves doubt."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray
from design.chosen import Design
from design.kit import ROLES
from design.search.candidates import corrections_of, kit_at, procedures_of
from design.search.combinations import Columns, ordered
from design.search.estimate import floor_of
from design.search.plan import Tried
from design.search.relaxed import AS_IT_IS
from design.search.sample import Aim, Sample, objective_at
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
