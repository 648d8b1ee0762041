"""One cell of the search: a procedure with one heater in one vessel, and all the rest of the shelves at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.chosen import number_to_buy
from design.kit import Heater, Item, Kit, MassSet, Meter
from design.limits import Unsuitable, unsuitable_balance, unsuitable_heater, unsuitable_meter
from design.procedures.face import Correction, Procedure, pace_of
from design.search.barred import Barred, Shelf
from design.search.candidates import Fitted, corrections_of, meters_of, settings_of
from design.search.combinations import MOST_POWERS, NONE, Columns, Combinations, gathered, joined
from design.search.estimate import Variants, estimates_of, floor_of, slack_of
from design.search.relaxed import AS_IT_IS, LONGER, RICHER, STRONGER
from design.search.sample import Aim, Sample
from design.setting.hardware import Conditions, Hardware
from design.setting.situation import Pace, Settings, Situation, situation_of

NO_SETTING = "mass set or heater cannot be set to any of the mass steps and powers asked for"
"""Reason for a kit without a setting to try."""


@dataclass(frozen=True)
class Cell:
    """
    A share of the search: one procedure with one heater in one vessel, and all the rest of the shelves.

    Parameters
    ----------
    conditions : Conditions
        The bench.
    procedure : Procedure
        How readings are taken.
    way : int
        Its place in ``design.search.candidates.procedures_of``.
    heater : int
        Its place on its shelf.
    use : Fitted
        Vessel with what is put on it.
    hardware : Hardware
        Losses, carry-over and stem of the two.
    sample : Sample
        Sample on which the best will be compared.
    aim : Aim
        What is made small.
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
    barred = {reason: number * len(corrections) for reason, number in rejected.items()}
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
    settings = Settings(
        powers=np.concatenate([part.powers for part in filled]),
        mass=np.concatenate([part.mass for part in filled]),
        repeats=np.concatenate([part.repeats for part in filled]),
        spare=np.concatenate([part.spare for part in filled]),
    )
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
    every = int(np.maximum(sizes, 1).sum())
    heater_faults = [fault.reason for fault in unsuitable_heater(heater, bench)]
    meter_faults = [_first_fault(unsuitable_meter(meter, bench, procedure)) for _, meter in readings]
    balance_faults = [_first_fault(unsuitable_balance(balance, procedure)) for balance in bench.balances]
    for meter_fault in meter_faults:
        for balance_fault in balance_faults:
            reason = heater_faults[0] if heater_faults else meter_fault or balance_fault
            if reason:
                rejected[reason] += every
            elif not sizes.all():
                rejected[NO_SETTING] += int((sizes == 0).sum())
    balances = [place for place, fault in enumerate(balance_faults) if not fault and not heater_faults]
    meters = [place for place, fault in enumerate(meter_faults) if not fault and not heater_faults]
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


def _first_fault(faults: Sequence[Unsuitable]) -> str:
    """Reason of the first fault that the bench file does not accept knowingly."""
    for fault in faults:
        if not (fault.acceptable and fault.item.accept_unsuitable):
            return str(fault.reason)
    return ""


def _price(item: Item, groups: int) -> float:
    return item.price * number_to_buy(item, groups)


def _looked_at(cell: Cell, shelf: Shelf, grid: Grid, pace: Pace, corrections: tuple[Correction, ...]) -> Combinations:
    """Look at a cell with corrections that differ, as far as the pace goes, in the cooling run alone."""
    situations = _situations(cell, shelf, grid.settings, pace)
    barred = Barred(cell.procedure, shelf, situations, grid.set_of)
    rejected, marks, by_pace = Counter[str](), {}, {}
    for correction in corrections:
        own = pace_of(cell.procedure, correction)
        if own not in by_pace:
            at_pace = barred if own == pace else barred.at(_at(situations, own))
            by_pace[own] = at_pace.counted(), at_pace.marks()
        counts, marks[correction] = by_pace[own]
        rejected.update(counts)
    feasible = sum(int(np.count_nonzero(each & AS_IT_IS)) for each in marks.values())
    anything = np.any(list(marks.values()), axis=0)
    balances, meters, chosen = (np.flatnonzero(anything.any(axis=axes)) for axes in ((1, 2), (0, 2), (0, 1)))
    if not chosen.size:
        return Combinations.counted(0, feasible, rejected)
    few, shelf = grid.settings.only(chosen), shelf.only(balances, meters)
    variants = Variants(_situations(cell, shelf, few, pace), shelf.balances, shelf.sets, grid.set_of[chosen])
    estimates = estimates_of(cell.procedure, corrections, variants, cell.sample, cell.aim)
    tables = []
    for correction in corrections:
        paced = replace(variants, situations=_at(variants.situations, pace_of(cell.procedure, correction)))
        some = marks[correction][np.ix_(balances, meters, chosen)]
        tables.append(_worth_keeping(cell, shelf, paced, some, (estimates[correction], correction)))
    return Combinations(0, feasible, dict(rejected), joined(tables))


def _at(situations: tuple[Situation, ...], pace: Pace) -> tuple[Situation, ...]:
    """The same situations with the time that another pace takes."""
    return tuple(replace(situation, pace=pace) for situation in situations)


def _without_cooling(procedure: Procedure, correction: Correction) -> Pace:
    return replace(pace_of(procedure, correction), cooling=0.0)


def _situations(cell: Cell, shelf: Shelf, settings: Settings, pace: Pace) -> tuple[Situation, ...]:
    """What the settings ask of the kit: one for each meter, worked out anew only where runs end on its marks."""
    bench = cell.conditions.bench
    kits = [
        Kit(shelf.balances[0], meter, bench.heaters[cell.heater], cell.use.vessel, shelf.sets[0], cell.use.fittings)
        for meter in shelf.meters
    ]
    first = situation_of(cell.conditions, kits[0], cell.hardware, settings, pace)
    if not pace.whole_counts:
        return tuple(replace(first, kit=kit) for kit in kits)
    others = (situation_of(cell.conditions, kit, cell.hardware, settings, pace) for kit in kits[1:])
    return (first, *others)


def _worth_keeping(
    cell: Cell,
    shelf: Shelf,
    variants: Variants,
    marks: NDArray[np.int8],
    promised: tuple[FloatArray, Correction],
) -> Columns:
    """Rows that may be the best of their kit, on the bench as it is or on one with a limit moved."""
    estimate, correction = promised
    place_of = corrections_of(cell.conditions.bench, cell.procedure).index(correction)
    keep = np.zeros(marks.shape, dtype=bool)
    loose = slack_of(cell.aim, cell.sample) / floor_of(cell.aim, cell.sample)
    for place in range(len(shelf.sets)):
        rows = variants.set_of == place
        for mark in (AS_IT_IS, LONGER, STRONGER, RICHER):
            fits = (marks[:, :, rows] & mark) > 0
            least = np.where(fits, estimate[:, :, rows], np.inf).min(axis=2, initial=np.inf)
            keep[:, :, rows] |= fits & (estimate[:, :, rows] <= loose * least[:, :, None])
    balance, meter, row = np.nonzero(keep)
    settings = variants.situations[0].settings
    minutes = np.stack([situation.total_time for situation in variants.situations]) / 60.0
    sets = variants.set_of[row]
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
        minutes=minutes[meter, row],
        estimate=estimate[balance, meter, row],
        marks=marks[balance, meter, row],
        settings=np.column_stack([powers, settings.mass, settings.repeats, settings.spare]),
    )
