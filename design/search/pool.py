"""The combinations worth keeping, and the best of any part of them: sampled only where the closed form leaves doubt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray
from design.kit import ROLES
from design.search.branch import Branch
from design.search.candidates import corrections_of, kit_at, price_of, procedures_of
from design.search.combinations import Columns, ordered
from design.search.estimate import floor_of
from design.search.ranking import error_of
from design.search.relaxed import AS_IT_IS
from design.search.sample import Aim, Sample
from design.setting.hardware import Conditions
from design.setting.situation import Settings


@dataclass(frozen=True)
class Found:
    """A combination that was sampled: its row, and its branch with what is made small."""

    row: int
    branch: Branch


class Pool:
    """
    Combinations in the order of their estimates.

    Parameters
    ----------
    conditions : Conditions
        The bench.
    columns : Columns
        Rows worth keeping.
    sample, aim : Sample, Aim
        Sample on which combinations are compared, and what is made small.

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
        self._known: dict[int, Branch] = {}

    @property
    def sampled(self) -> int:
        """Number of combinations that were sampled so far and are feasible on the bench as it is."""
        return sum(bool(self.usual[row]) for row in self._known)

    def look(self, row: int) -> Found:
        """Sample a row, or recall what it gave."""
        if row not in self._known:
            branch = self._branch(row)
            self._known[row] = replace(branch, objective=error_of(self.conditions, branch, self.sample, self.aim))
        return Found(row, self._known[row])

    def best(self, wanted: BoolArray, at_most: float = np.inf) -> Found | None:
        """
        Return the best of the rows wanted.

        Parameters
        ----------
        wanted : ndarray of bool, shape (n,)
            Rows to choose from.
        at_most : float
            Value above which a row is of no interest. [1]

        Returns
        -------
        Found or None
            None where there is no row, or none within ``at_most``.
        """
        best: Found | None = None
        limit = at_most
        for row in np.flatnonzero(wanted):
            if self.least[row] > limit:
                break
            found = self.look(int(row))
            if found.branch.objective <= limit and (best is None or found.branch.order < best.branch.order):
                best, limit = found, found.branch.objective
        return best

    def leaders(self, number: int) -> list[Found]:
        """Best setting of each of the best kits with their procedures and corrections, best first."""
        best: dict[tuple[int, ...], Found] = {}
        for row in np.flatnonzero(self.usual):
            values = sorted(found.branch.objective for found in best.values())
            if len(values) >= number and self.least[row] > values[number - 1]:
                break
            key = (*self.columns.kit[row].tolist(), *self.columns.way[row].tolist())
            if key in best and best[key].branch.objective < self.least[row]:
                continue
            found = self.look(int(row))
            if key not in best or found.branch.order < best[key].branch.order:
                best[key] = found
        return sorted(best.values(), key=lambda found: found.branch.order)[:number]

    def frontier(self) -> list[Found]:
        """Combinations that no cheaper or equally dear one beats, cheapest first."""
        steps: list[Found] = []
        reached = np.inf
        for price, rows in self._by_price():
            if rows.size and self.least[rows[0]] <= reached:
                wanted = np.zeros(len(self.columns), dtype=bool)
                wanted[rows] = True
                found = self.best(wanted, at_most=reached)
                if found is not None and found.branch.objective < reached:
                    steps.append(found)
                    reached = found.branch.objective
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

    def _branch(self, row: int) -> Branch:
        columns, bench = self.columns, self.conditions.bench
        places = dict(zip(ROLES, columns.kit[row].tolist(), strict=True))
        kit = kit_at(bench, places, timed=bool(columns.timed[row]))
        way, correction = columns.way[row].tolist()
        procedure = procedures_of(bench)[way]
        *powers, mass, repeats, spare = columns.settings[columns.setting[row]]
        return Branch(
            kit=kit,
            procedure=procedure,
            correction=corrections_of(bench, procedure)[correction],
            settings=Settings(
                np.array([[power for power in powers if power > 0.0]]),
                np.array([mass]),
                np.array([repeats]),
                np.array([spare]),
            ),
            price=price_of(kit, bench.lesson.groups),
            minutes=float(columns.minutes[row]),
            objective=float("nan"),
        )
