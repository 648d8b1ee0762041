"""Which combinations of a cell break a limit, on the bench as it is and on one with a limit moved."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray, FloatArray
from design.bench import Bench
from design.kit import Balance, MassSet, Meter
from design.limits import (
    TOLERANCE,
    TOO_DEAR,
    Limit,
    balance_limit,
    circuit_limit,
    meter_limits,
    setting_limits,
    time_limit,
)
from design.procedures.face import Procedure
from design.search.relaxed import AS_IT_IS, LONGER, RICHER, STRONGER, relaxations_of, richer_by
from design.setting.situation import Situation

CIRCUIT, TIME = 0, 1
"""Places of two limits among those of ``design.limits.setting_limits``."""


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


class Barred:
    """
    Which combinations break a limit.

    Parameters
    ----------
    procedure, shelf, situations, set_of
        How readings are taken, what is suitable, one situation for each meter, mass set of each setting.

    Notes
    -----
    Where runs do not end on the marks of a meter, all meters share what a setting asks of the kit: that is looked at
    once. Arrays broadcast over balances, meters and settings.
    """

    def __init__(
        self, procedure: Procedure, shelf: Shelf, situations: tuple[Situation, ...], set_of: NDArray[np.intp]
    ) -> None:
        self.shelf, self.set_of, self.bench = shelf, set_of, situations[0].conditions.bench
        alike = all(one.levels is situations[0].levels for one in situations)
        self.distinct = situations[:1] if alike else situations
        by_setting = [setting_limits(one) for one in self.distinct]
        by_meter = [meter_limits(one, meter) for one, meter in zip(situations, shelf.meters, strict=True)]
        by_balance = [[balance_limit(one, procedure, balance) for one in self.distinct] for balance in shelf.balances]
        self.reasons = [limit.reason for limit in (*by_setting[0], *by_meter[0])]
        self.too_heavy = by_balance[0][0].reason
        self.on_setting, self.on_meter = self._broken(by_setting), self._broken(by_meter)
        self.on_balance = self._broken(by_balance).transpose(1, 0, 2)
        self.affordable = (shelf.prices <= self.bench.purse.amount + TOLERANCE)[:, :, set_of]

    @property
    def size(self) -> int:
        """Number of settings."""
        return self.set_of.size

    def at(self, situations: tuple[Situation, ...]) -> Barred:
        """The same with another length of lesson, and nothing else changed."""
        changed = copy(self)
        changed.distinct = situations[: len(self.distinct)]
        changed.on_setting = self.on_setting.copy()
        changed.on_setting[TIME] = self._anew(time_limit, changed.distinct, self.bench)
        return changed

    def counted(self) -> Counter[str]:
        """Combinations that the purse covers and that break a limit, by the first that each breaks."""
        counts = Counter({TOO_DEAR: int(np.count_nonzero(~self.affordable))})
        shape = (len(self.shelf.meters), self.size)
        rows = [np.broadcast_to(row, shape) for row in (*self.on_setting, *self.on_meter)]
        tried, left = self.affordable.sum(axis=0), np.ones(shape, dtype=bool)
        for reason, row in zip(self.reasons, rows, strict=True):
            counts[reason] += int(tried[row & left].sum())
            left &= ~row
        counts[self.too_heavy] += int(np.count_nonzero(self.affordable & self.on_balance & left))
        return +counts

    def marks(self) -> NDArray[np.int8]:
        """Benches on which each combination is feasible, shape (balances, meters, settings)."""
        circuit, time = self.on_setting[CIRCUIT], self.on_setting[TIME]
        rest = np.delete(self.on_setting, (CIRCUIT, TIME), axis=0).any(axis=0) | self.on_meter.any(axis=0)
        carried = ~(self.on_balance | rest)
        usual, richer = self._within_purse()
        marks = np.where(carried & ~(circuit | time) & usual, np.int8(AS_IT_IS), np.int8(0))
        marks |= np.where(carried & ~(circuit | time) & richer, np.int8(RICHER), np.int8(0))
        for relaxation in relaxations_of(self.bench):
            if relaxation.mark == LONGER:
                longer = self._anew(time_limit, self.distinct, relaxation.bench)
                marks |= np.where(carried & ~(circuit | longer) & usual, np.int8(LONGER), np.int8(0))
            elif relaxation.mark == STRONGER:
                stronger = self._anew(circuit_limit, self.distinct, relaxation.bench)
                marks |= np.where(carried & ~(stronger | time) & usual, np.int8(STRONGER), np.int8(0))
        return marks

    def _broken(self, limits: Sequence[Sequence[Limit]]) -> BoolArray:
        """Whether limits are broken, shape (limits, alternatives, settings), from those of each alternative."""
        broken = np.empty((len(limits[0]), len(limits), self.size), dtype=bool)
        for alternative, some in enumerate(limits):
            for place, limit in enumerate(some):
                broken[place, alternative] = limit.excess > TOLERANCE
        return broken

    def _anew(
        self, limit: Callable[[Situation, Bench], Limit], situations: Sequence[Situation], bench: Bench
    ) -> BoolArray:
        """Whether one limit is broken on another bench or at another pace, shape (meters or 1, settings)."""
        return np.asarray(self._broken([[limit(one, bench)] for one in situations])[0])

    def _within_purse(self) -> tuple[BoolArray, BoolArray]:
        """Combinations that the purse covers, as it is and with more in it."""
        richer = self.shelf.prices <= self.bench.purse.amount + richer_by(self.bench) + TOLERANCE
        return self.affordable, richer[:, :, self.set_of]
