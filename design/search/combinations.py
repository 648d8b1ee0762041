"""Combinations of kit, procedure and setting as columns of numbers: small, quick to filter, cheap to send and store."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.bench import Bench
from design.kit import ROLES

Places = NDArray[np.int16]
Marks = NDArray[np.int8]
NONE = -1
"""Place of an item that a kit does without: a mass set where the procedure needs none, or a fitting."""
MOST_POWERS = 3
"""Columns kept for the powers of a setting; unused ones are 0."""


@dataclass(frozen=True)
class Columns:
    """
    Combinations worth keeping, one row each; arrays of length n, but for the settings that many rows share.

    Parameters
    ----------
    kit : ndarray of int, shape (n, roles)
        Places on the shelves in the order of ``design.kit.ROLES``.
    timed : ndarray of bool
        Whether the marks of the meter are timed.
    way : ndarray of int, shape (n, 2)
        Place of the procedure and of its correction.
    setting : ndarray of int
        Place of the setting among ``settings``.
    price, minutes : ndarray
        Of all that has to be bought; of the lesson.
    estimate : ndarray
        What is made small, in closed form. [1]
    marks : ndarray of int
        Benches on which it is feasible, see ``design.search.combinations``.
    settings : ndarray, shape (k, ``MOST_POWERS`` + 3)
        Nominal powers, the highest first [W], mass step [kg], number of runs, spare water [kg].
    """

    kit: Places
    timed: NDArray[np.bool_]
    way: Places
    setting: NDArray[np.int32]
    price: FloatArray
    minutes: FloatArray
    estimate: FloatArray
    marks: Marks
    settings: FloatArray

    def __len__(self) -> int:
        """Number of rows."""
        return len(self.estimate)

    def only(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> Columns:
        """Some of the rows."""
        return replace(self, **{name: getattr(self, name)[rows] for name in BY_ROW})


BY_ROW = tuple(field.name for field in fields(Columns) if field.name != "settings")
"""Columns of length n."""


@dataclass(frozen=True)
class Combinations:
    """Outcome of a share of the search: numbers of combinations, reasons of rejection, and the rows worth keeping."""

    considered: int
    feasible: int
    rejected: Mapping[str, int]
    columns: Columns

    @staticmethod
    def counted(considered: int, feasible: int, rejected: Mapping[str, int]) -> Combinations:
        """Numbers alone, no rows."""
        return Combinations(considered, feasible, rejected, no_rows())


def no_rows() -> Columns:
    """Columns of length none."""
    nothing = np.empty(0)
    return Columns(
        kit=np.empty((0, len(ROLES)), dtype=np.int16),
        timed=np.empty(0, dtype=np.bool_),
        way=np.empty((0, 2), dtype=np.int16),
        setting=np.empty(0, dtype=np.int32),
        price=nothing,
        minutes=nothing,
        estimate=nothing,
        marks=np.empty(0, dtype=np.int8),
        settings=np.empty((0, MOST_POWERS + 3)),
    )


def joined(parts: Iterable[Columns]) -> Columns:
    """Rows of several tables, in their order; settings that they share stand once."""
    tables = [no_rows(), *parts]
    settings, place = np.unique(np.concatenate([table.settings for table in tables]), axis=0, return_inverse=True)
    first = np.cumsum([0, *(len(table.settings) for table in tables)])
    renumbered = [
        replace(table, setting=place.ravel()[start + table.setting].astype(np.int32))
        for start, table in zip(first[:-1], tables, strict=True)
    ]
    rows = {name: np.concatenate([getattr(table, name) for table in renumbered]) for name in BY_ROW}
    return Columns(**rows, settings=settings)


def ordered(columns: Columns) -> Columns:
    """Rows by estimate, then price and minutes; the same object where they stand so already."""
    order = _order_of(columns)
    return columns if np.array_equal(order, np.arange(order.size)) else columns.only(order)


def _order_of(columns: Columns) -> NDArray[np.intp]:
    """Places of the rows by estimate, then price and minutes; quick where parts of them stand so already."""
    keys = np.empty(len(columns), dtype=np.complex128)  # ordered by real part, then by imaginary part
    keys.real, keys.imag = columns.estimate, columns.price
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    ties = np.zeros(order.size, dtype=bool)
    ties[1:] = keys[1:] == keys[:-1]
    ties[:-1] |= ties[1:]
    tied = order[ties]
    order[ties] = tied[np.lexsort((columns.minutes[tied], columns.price[tied], columns.estimate[tied]))]
    return order


def gathered(parts: Iterable[Combinations]) -> Combinations:
    """Add up the outcomes of several shares, in their order."""
    shares, rejected = list(parts), Counter[str]()
    for part in shares:
        rejected.update(part.rejected)
    return Combinations(
        considered=sum(part.considered for part in shares),
        feasible=sum(part.feasible for part in shares),
        rejected=dict(rejected),
        columns=joined(part.columns for part in shares),
    )


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
