"""Which combinations of a cell break a limit, on the bench as it is and on one with a limit moved."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
from design.situation import Situation

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


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
    """

    def __init__(
        self, procedure: Procedure, shelf: Shelf, situations: tuple[Situation, ...], set_of: NDArray[np.intp]
    ) -> None:
        self.shelf, self.situations, self.set_of = shelf, situations, set_of
        self.bench = situations[0].conditions.bench
        self.on_setting = [setting_limits(situation) for situation in situations]
        self.on_meter = [meter_limits(one, meter) for one, meter in zip(situations, shelf.meters, strict=True)]
        self.on_balance = [
            [balance_limit(situation, procedure, balance) for situation in situations] for balance in shelf.balances
        ]
        purse = self.bench.purse.amount
        self.affordable = shelf.prices <= purse + TOLERANCE

    @property
    def size(self) -> int:
        """Number of settings."""
        return self.set_of.size

    def counted(self) -> Counter[str]:
        """Combinations that the purse covers and that break a limit, by the first that each breaks."""
        counts: Counter[str] = Counter()
        dear = (~self.affordable).sum(axis=(0, 1))
        counts[TOO_DEAR] += int(dear @ np.bincount(self.set_of, minlength=dear.size))
        tried = self.affordable[:, :, self.set_of]
        for place in range(len(self.situations)):
            left = tried[:, place].sum(axis=0)
            open_, carried = tried[:, place], np.zeros(self.size, dtype=bool)
            for limit in (*self.on_setting[place], *self.on_meter[place]):
                broken = _broken(limit, self.size) & ~carried
                counts[limit.reason] += int(left[broken].sum())
                carried |= broken
            for balance, limits in enumerate(self.on_balance):
                broken = _broken(limits[place], self.size) & ~carried & open_[balance]
                counts[limits[place].reason] += int(broken.sum())
        return +counts

    def marks(self) -> NDArray[np.int8]:
        """Benches on which each combination is feasible, shape (balances, meters, settings)."""
        bench = self.bench
        meters = np.stack([self._kept(limits) for limits in self.on_meter])
        balances = np.stack([[self._kept((limit,)) for limit in limits] for limits in self.on_balance])
        circuit, time, rest = (
            np.stack([self._kept(limits[part]) for limits in self.on_setting])
            for part in (slice(0, 1), slice(1, 2), slice(2, None))
        )
        usual, richer = self._within_purse()
        carried = balances & meters & rest
        marks = np.where(carried & circuit & time & usual, AS_IT_IS, 0)
        marks |= np.where(carried & circuit & time & richer, RICHER, 0)
        for relaxation in relaxations_of(bench):
            if relaxation.mark == LONGER:
                longer = [self._kept((time_limit(one, relaxation.bench),)) for one in self.situations]
                marks |= np.where(carried & circuit & np.stack(longer) & usual, LONGER, 0)
            elif relaxation.mark == STRONGER:
                stronger = [self._kept((circuit_limit(one, relaxation.bench),)) for one in self.situations]
                marks |= np.where(carried & np.stack(stronger) & time & usual, STRONGER, 0)
        return marks.astype(np.int8)

    def _kept(self, limits: Sequence[Limit]) -> BoolArray:
        kept = np.ones(self.size, dtype=bool)
        for limit in limits:
            kept &= limit.excess <= TOLERANCE
        return kept

    def _within_purse(self) -> tuple[BoolArray, BoolArray]:
        """Combinations that the purse covers, as it is and with more in it."""
        bench = self.bench
        richer = self.shelf.prices <= bench.purse.amount + richer_by(bench) + TOLERANCE
        return self.affordable[:, :, self.set_of], richer[:, :, self.set_of]


def _broken(limit: Limit, size: int) -> BoolArray:
    return np.broadcast_to(limit.excess > TOLERANCE, (size,))
