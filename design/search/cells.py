"""One cell of the search: a procedure with one heater in one vessel, and all the rest of the shelves at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from budget.arrays import BoolArray, FloatArray
from design.chosen import number_to_buy
from design.kit import Balance, Heater, Item, Kit, MassSet, Meter, Role
from design.limits import LIMITS, UNSUITABLE, WAY, Row, broken, first_hits
from design.procedures.face import Correction, Procedure, pace_of
from design.search.candidates import Fitted, corrections_of, meters_of, settings_of
from design.search.combinations import (
    AS_IT_IS,
    LONGER,
    MOST_POWERS,
    NONE,
    RICHER,
    STRONGER,
    Columns,
    Combinations,
    gathered,
    joined,
    relaxations_of,
)
from design.search.estimate import Variants, estimates_of, floor_of, slack_of
from design.search.sample import Aim, Sample
from design.setting.constants import BENCH, given_of, given_of_items, given_of_shelves
from design.setting.equations import Values
from design.setting.hardware import Conditions, Hardware
from design.setting.situation import Pace, Settings, Situation, situation_of

BY_ROW = ("powers", "mass", "repeats", "spare", "steady")
"""Columns of settings."""
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
        conditions, benches = self.situation.conditions, [(AS_IT_IS, dict[str, BoolArray]())]
        for relaxation in relaxations_of(conditions.bench):
            values = Values({**self.values, **given_of(BENCH, replace(conditions, bench=relaxation.bench))})
            moved = [row for row in LIMITS if not np.array_equal(values[row.bound], self.values[row.bound])]
            benches.append((relaxation.mark, {row.key: self._broken(row, values) for row in moved}))
        movable = {key for _, moved in benches for key in moved}
        rest = _any([one for key, one in self.found.items() if key not in movable])
        shape = (*self.shelf.prices.shape[:2], self.set_of.size)
        marks = np.zeros(shape, dtype=np.int8)
        for mark, instead in benches:
            bars = _any([rest, *(instead.get(key, self.found[key]) for key in movable)])
            marks |= np.where(bars, np.int8(0), np.int8(mark))
        return marks

    def _broken(self, row: Row, values: Values) -> BoolArray:
        """Whether a limit is broken; prices are by mass set."""
        found = broken(row, values)
        return found[:, :, self.set_of] if row == PRICE and found.shape[2] > 1 else found


def _any(found: Sequence[BoolArray]) -> BoolArray:
    """Whether anything is broken; what has the fewest values comes first."""
    bars: BoolArray = np.zeros((), dtype=bool)
    for one in sorted(found, key=np.size):
        bars = bars | one
    return bars


@dataclass(frozen=True)
class Cell:
    """
    A share of the search: one procedure with one heater in one vessel, and all the rest of the shelves.

    ``way`` is the place of the procedure in ``design.search.candidates.procedures_of``, ``heater`` that on its shelf,
    ``use`` the vessel with what is put on it, ``sample`` the one on which the best will be compared.
    """

    conditions: Conditions
    procedure: Procedure
    way: int
    heater: int
    use: Fitted
    hardware: Hardware
    sample: Sample
    aim: Aim


@dataclass(frozen=True)
class Grid:
    """Settings of all mass sets in one list, and the mass set that each belongs to."""

    settings: Settings
    set_of: NDArray[np.intp]


def look_at(cell: Cell) -> Combinations:
    """Look at every combination of a cell: which are feasible, why not, and what error each promises."""
    bench = cell.conditions.bench
    heater = bench.heaters[cell.heater]
    corrections = corrections_of(bench, cell.procedure)
    sets = bench.mass_sets if cell.procedure.needs_mass_set else (None,)
    grid, sizes = _grid(cell, heater, sets)
    rejected: Counter[str] = Counter()
    readings = meters_of(bench, cell.procedure)
    shelf = _suitable(cell, heater, readings, sets, rejected, sizes)
    parts = []
    if grid is not None and shelf.balances and shelf.meters:
        for pace, group in groupby(corrections, key=lambda correction: _without_cooling(cell.procedure, correction)):
            parts.append(_looked_at(cell, shelf, grid, pace, tuple(group)))
    considered = int(np.maximum(sizes, 1).sum()) * len(bench.balances) * len(readings)
    barred = {reason: number * len(corrections) for reason, number in (+rejected).items()}
    whole = Combinations.counted(considered * len(corrections), 0, barred)
    return gathered([whole, *(replace(part, considered=0) for part in parts)])


def _grid(cell: Cell, heater: Heater, sets: Sequence[MassSet | None]) -> tuple[Grid | None, NDArray[np.intp]]:
    """Settings for every mass set, and their numbers; None where there is none."""
    bench = cell.conditions.bench
    grids = [
        settings_of(bench, Kit(bench.balances[0], bench.meters[0], heater, cell.use.vessel, mass_set), cell.procedure)
        for mass_set in sets
    ]
    sizes = np.array([settings.mass.size for settings in grids])
    filled = [settings for settings in grids if settings.mass.size]
    if not filled:
        return None, sizes
    powers, mass, repeats, spare, steady = (np.concatenate([getattr(part, name) for part in filled]) for name in BY_ROW)
    settings = Settings(powers, mass, repeats, spare, steady)
    return Grid(settings, np.repeat(np.arange(len(sets)), sizes)), sizes


def _suitable(
    cell: Cell,
    heater: Heater,
    readings: Sequence[tuple[int, Meter]],
    sets: Sequence[MassSet | None],
    rejected: Counter[str],
    sizes: NDArray[np.intp],
) -> Shelf:
    """What is left when unsuitable items are taken away; their combinations are counted under the reason."""
    bench, procedure = cell.conditions.bench, cell.procedure
    kit = Kit(bench.balances[0], readings[0][1], heater, cell.use.vessel)
    shelves: dict[Role, Sequence[Item]] = {"balance": bench.balances, "meter": [meter for _, meter in readings]}
    values = Values(given_of(BENCH, cell.conditions) | given_of_items(kit.items) | given_of(WAY, procedure))
    values |= given_of_shelves(shelves, np.zeros(1, dtype=np.intp))
    found = {row.key: broken(row, values) for row in UNSUITABLE}
    shape = (len(bench.balances), len(readings), 1)
    for key, number in first_hits(UNSUITABLE, found, shape):
        rejected[key] += number * int(np.maximum(sizes, 1).sum())
    suitable = ~np.any([np.broadcast_to(one, shape) for one in found.values()], axis=0)[:, :, 0]
    rejected["no_setting"] += int(np.count_nonzero(suitable)) * int((sizes == 0).sum())
    balances, meters = (np.flatnonzero(suitable.any(axis=axis)).tolist() for axis in (1, 0))
    groups = bench.lesson.groups
    fixed = sum(_price(item, groups) for item in (heater, cell.use.vessel, *cell.use.fittings))
    prices = (
        np.array([_price(bench.balances[place], groups) for place in balances])[:, None, None]
        + np.array([_price(readings[place][1], groups) for place in meters])[None, :, None]
        + np.array([_price(mass_set, groups) if mass_set else 0.0 for mass_set in sets])[None, None, :]
        + fixed
    )
    return Shelf(
        balances=tuple(bench.balances[place] for place in balances),
        meters=tuple(readings[place][1] for place in meters),
        sets=tuple(sets),
        balance_places=np.array(balances, dtype=np.intp),
        meter_places=np.array([readings[place][0] for place in meters], dtype=np.intp),
        prices=prices,
    )


def _price(item: Item, groups: int) -> float:
    return item.price * number_to_buy(item, groups)


def _looked_at(cell: Cell, shelf: Shelf, grid: Grid, pace: Pace, corrections: tuple[Correction, ...]) -> Combinations:
    """Look at a cell with corrections that differ, as far as the pace goes, in the cooling run alone."""
    situation = _situation(cell, shelf, grid.settings, pace).over(shelf.items, grid.set_of)
    barred = Barred(cell.procedure, shelf, situation, grid.set_of)
    rejected, marks, by_pace = Counter[str](), {}, {}
    for correction in corrections:
        own = pace_of(cell.procedure, correction)
        if own not in by_pace:
            at_pace = barred if own == pace else barred.at(situation.with_pace(own))
            by_pace[own] = at_pace.counted(), at_pace.marks()
        counts, marks[correction] = by_pace[own]
        rejected.update(counts)
    feasible = sum(int(np.count_nonzero(each & AS_IT_IS)) for each in marks.values())
    anything = np.any(list(marks.values()), axis=0)
    balances, meters, chosen = (np.flatnonzero(anything.any(axis=axes)) for axes in ((1, 2), (0, 2), (0, 1)))
    if not chosen.size:
        return Combinations.counted(0, feasible, rejected)
    shelf, set_of = shelf.only(balances, meters), grid.set_of[chosen]
    few = _situation(cell, shelf, grid.settings.only(chosen), pace)
    by_meter = tuple(few.with_kit(replace(few.kit, meter=meter)) for meter in shelf.meters)
    variants = Variants(by_meter, shelf.balances, shelf.sets, set_of)
    estimates = estimates_of(cell.procedure, corrections, variants, cell.sample, cell.aim)
    every, tables = few.over(shelf.items, set_of), []
    for correction in corrections:
        paced = every.with_pace(pace_of(cell.procedure, correction))
        some = marks[correction][np.ix_(balances, meters, chosen)]
        tables.append(_worth_keeping(cell, shelf, (paced, set_of), some, (estimates[correction], correction)))
    return Combinations(0, feasible, dict(rejected), joined(tables))


def _without_cooling(procedure: Procedure, correction: Correction) -> Pace:
    return replace(pace_of(procedure, correction), cooling=0.0)


def _situation(cell: Cell, shelf: Shelf, settings: Settings, pace: Pace) -> Situation:
    """What the settings ask of the kit, with the first of each shelf."""
    heater = cell.conditions.bench.heaters[cell.heater]
    kit = Kit(shelf.balances[0], shelf.meters[0], heater, cell.use.vessel, shelf.sets[0], cell.use.fittings)
    return situation_of(cell.conditions, kit, cell.hardware, settings, pace)


def _worth_keeping(
    cell: Cell,
    shelf: Shelf,
    asked: tuple[Situation, NDArray[np.intp]],
    marks: NDArray[np.int8],
    promised: tuple[FloatArray, Correction],
) -> Columns:
    """Rows that may be the best of their kit, on the bench as it is or on one with a limit moved."""
    (estimate, correction), (situation, set_of) = promised, asked
    place_of = corrections_of(cell.conditions.bench, cell.procedure).index(correction)
    keep = np.zeros(marks.shape, dtype=bool)
    loose = slack_of(cell.aim, cell.sample) / floor_of(cell.aim, cell.sample)
    for place in range(len(shelf.sets)):
        rows = set_of == place
        for mark in (AS_IT_IS, LONGER, STRONGER, RICHER):
            fits = (marks[:, :, rows] & mark) > 0
            least = np.where(fits, estimate[:, :, rows], np.inf).min(axis=2, initial=np.inf)
            keep[:, :, rows] |= fits & (estimate[:, :, rows] <= loose * least[:, :, None])
    balance, meter, row = np.nonzero(keep)
    settings, sets = situation.settings, set_of[row]
    minutes = np.broadcast_to(situation.values["lesson_time"] / 60.0, marks.shape)
    size = row.size
    powers = np.zeros((settings.mass.size, MOST_POWERS))
    powers[:, : settings.powers.shape[1]] = settings.powers
    vessel, *fittings = (np.full(size, place) for place in cell.use.places)
    masses = sets if cell.procedure.needs_mass_set else np.full(size, NONE)
    kit = [shelf.balance_places[balance], shelf.meter_places[meter], np.full(size, cell.heater), vessel, masses]
    timed = np.array([one.reads == "timed" for one in shelf.meters])
    return Columns(
        kit=np.column_stack([*kit, *fittings]).astype(np.int16),
        timed=timed[meter],
        way=np.column_stack([np.full(size, cell.way), np.full(size, place_of)]).astype(np.int16),
        setting=row.astype(np.int32),
        price=np.round(shelf.prices[balance, meter, sets], 6),
        minutes=minutes[balance, meter, row],
        estimate=estimate[balance, meter, row],
        marks=marks[balance, meter, row],
        settings=np.column_stack([powers, settings.mass, settings.repeats, settings.spare]),
    )
