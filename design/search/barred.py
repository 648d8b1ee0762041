"""Which combinations of a cell break a limit, on the bench as it is and on one with a limit moved."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray, FloatArray
from design.kit import Balance, Item, MassSet, Meter, Role
from design.limits import LIMITS, UNSUITABLE, WAY, Row, broken, first_hits
from design.procedures.face import Procedure
from design.search.relaxed import AS_IT_IS, relaxations_of
from design.setting.constants import BENCH, given_of
from design.setting.equations import Values
from design.setting.situation import Situation

PRICE = next(row for row in LIMITS if row.value == "price")


@dataclass(frozen=True)
class Shelf:
    """Balances, meters and mass sets of a cell that are suitable, with their places on the shelf and prices."""

    balances: tuple[Balance, ...]
    meters: tuple[Meter, ...]
    sets: tuple[MassSet | None, ...]
    balance_places: NDArray[np.intp]
    meter_places: NDArray[np.intp]
    prices: FloatArray
    """Of all that has to be bought, shape (balances, meters, sets)."""

    @property
    def items(self) -> dict[Role, tuple[Item | None, ...]]:
        """The items by role."""
        return {"balance": self.balances, "meter": self.meters, "mass_set": self.sets}

    def only(self, balances: NDArray[np.intp], meters: NDArray[np.intp]) -> Shelf:
        """Shelf with some of its balances and meters."""
        return Shelf(
            balances=tuple(self.balances[place] for place in balances),
            meters=tuple(self.meters[place] for place in meters),
            sets=self.sets,
            balance_places=self.balance_places[balances],
            meter_places=self.meter_places[meters],
            prices=self.prices[np.ix_(balances, meters)],
        )


@dataclass(frozen=True)
class Barred:
    """
    Which combinations of a shelf break a limit; arrays broadcast over balances, meters and settings.

    Parameters
    ----------
    procedure, shelf, set_of
        How readings are taken, what is suitable, mass set of each setting.
    situation : Situation
        Over the whole shelf: its values have an axis for what they hang on, and a limit is looked at no oftener.
    """

    procedure: Procedure
    shelf: Shelf
    situation: Situation
    set_of: NDArray[np.intp]

    @cached_property
    def values(self) -> Values:
        """What limits look at."""
        return Values({**self.situation.values, **given_of(WAY, self.procedure), "price": self.shelf.prices})

    @cached_property
    def found(self) -> dict[str, BoolArray]:
        """What is broken, by the key of the limit."""
        return {row.key: self._broken(row, self.values) for row in (*UNSUITABLE, *LIMITS)}

    def at(self, situation: Situation) -> Barred:
        """The same for another situation."""
        return replace(self, situation=situation)

    def counted(self) -> Counter[str]:
        """Combinations that break a limit, by the first that each breaks."""
        shape = (*self.shelf.prices.shape[:2], self.set_of.size)
        return Counter({key: number for key, number in first_hits(LIMITS, self.found, shape) if number})

    def marks(self) -> NDArray[np.int8]:
        """Benches on which each combination is feasible, shape (balances, meters, settings)."""
        marks = self._mark(AS_IT_IS, self.found)
        bench = self.situation.conditions.bench
        for relaxation in relaxations_of(bench):
            relaxed = given_of(BENCH, replace(self.situation.conditions, bench=relaxation.bench))
            values = Values({**self.values, **relaxed})
            moved = [row for row in LIMITS if not np.array_equal(values[row.bound], self.values[row.bound])]
            marks |= self._mark(
                relaxation.mark, {**self.found, **{row.key: self._broken(row, values) for row in moved}}
            )
        return marks

    def _broken(self, row: Row, values: Values) -> BoolArray:
        """Whether a limit is broken; prices are by mass set."""
        found = broken(row, values)
        return found[:, :, self.set_of] if row == PRICE and found.shape[2] > 1 else found

    def _mark(self, mark: int, found: dict[str, BoolArray]) -> NDArray[np.int8]:
        """A mark for what breaks nothing, limits of the fewest axes first."""
        shape = (*self.shelf.prices.shape[:2], self.set_of.size)
        bars = np.zeros((), dtype=bool)
        for one in sorted(found.values(), key=np.size):
            bars = bars | one
        return np.where(np.broadcast_to(bars, shape), np.int8(0), np.int8(mark))
