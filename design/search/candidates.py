"""Every combination worth looking at: kits from the shelves, settings for each, and what has to be bought."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from design.bench import READING_RULES, Bench
from design.kit import (
    Balance,
    Fitting,
    Heater,
    Kit,
    MassSet,
    Meter,
    Role,
    Vessel,
    fitted,
    kit_from,
)
from design.procedures.face import Correction, Procedure
from design.procedures.registry import PROCEDURES, procedure_named
from design.search.combinations import NONE
from design.setting.situation import Settings

DEFAULT_MASSES = (0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
"""Mass steps tried where the balance reads them and the bench file names none. [kg]"""
DEFAULT_REPEATS = (1, 2, 3, 5)
"""Numbers of runs tried where the bench file names none."""
DEFAULT_SPARE = (0.0,)
"""Spare water of the coarse grid where the bench file names none: more is tried about the best designs. [kg]"""
STEPLESS_SHARES = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
"""Shares of a heater's power tried on a stepless controller where the bench file names none."""
MOST_MASSES = 12
"""Mass steps tried with one mass set, spread evenly over all that it can make up."""
STEP_RANGE = (0.02, 0.6)
"""Range of mass steps that are worth trying. [kg]"""
TIMED_KINDS = ("disk", "pulse")
"""Kinds of meters whose marks can be watched one by one, and timed."""


@dataclass(frozen=True)
class Fitted:
    """
    A vessel as it may be used.

    Parameters
    ----------
    vessel : Vessel
        With what is put on it.
    fittings : tuple of Fitting
        What that is.
    places : tuple of int
        Places on their shelves: of the vessel, and in each of ``FITTING_ROLES``; ``NONE`` for none.
    """

    vessel: Vessel
    fittings: tuple[Fitting, ...]
    places: tuple[int, ...]


def vessels_of(bench: Bench) -> Iterator[Fitted]:
    """Every vessel with every set of fittings that goes on it, bare first."""
    shelves = [tuple(enumerate(shelf)) for shelf in bench.fittings]
    for place, vessel in enumerate(bench.vessels):
        choices = [((NONE, None), *((at, one) for at, one in shelf if one.goes_on(vessel))) for shelf in shelves]
        for combination in product(*choices):
            chosen = tuple(one for _, one in combination if one is not None)
            yield Fitted(fitted(vessel, chosen), chosen, (place, *(at for at, _ in combination)))


def meters_of(bench: Bench, procedure: Procedure) -> tuple[tuple[int, Meter], ...]:
    """Every meter with its place, read by each of the rules that the procedure and the bench leave open."""
    rules = bench.search.readings or READING_RULES
    readings = []
    for place, meter in enumerate(bench.meters):
        timed = can_be_timed(procedure, meter) and "timed" in rules
        if "plain" in rules or not timed:
            readings.append((place, meter))
        if timed:
            readings.append((place, replace(meter, reads="timed")))
    return tuple(readings)


def can_be_timed(procedure: Procedure, meter: Meter) -> bool:
    """Whether the marks of the meter can be timed, and whether that makes a difference."""
    return procedure.reads_in_passing and meter.kind in TIMED_KINDS


def procedures_of(bench: Bench) -> tuple[Procedure, ...]:
    """Procedures to try, in the order of the reports."""
    if not bench.search.procedures:
        return PROCEDURES
    wanted = [procedure_named(identifier).identifier for identifier in bench.search.procedures]
    return tuple(procedure for procedure in PROCEDURES if procedure.identifier in wanted)


def corrections_of(bench: Bench, procedure: Procedure) -> tuple[Correction, ...]:
    """Corrections to try with a procedure."""
    wanted = bench.search.corrections or procedure.corrections
    return tuple(correction for correction in procedure.corrections if correction in wanted)


def kits_of(bench: Bench, procedure: Procedure, heater: Heater, use: Fitted) -> Iterator[Kit]:
    """Every kit with that heater in that vessel; no mass set where the procedure needs none."""
    sets: tuple[MassSet | None, ...] = bench.mass_sets if procedure.needs_mass_set else (None,)
    meters = [meter for _, meter in meters_of(bench, procedure)]
    choices: product[tuple[Balance, Meter, MassSet | None]] = product(bench.balances, meters, sets)
    for balance, meter, mass_set in choices:
        yield Kit(balance, meter, heater, use.vessel, mass_set, use.fittings)


def kit_at(bench: Bench, places: Mapping[Role, int], *, timed: bool) -> Kit:
    """Kit of items by their places on the shelves; ``NONE`` for a role that it does without."""
    kit = kit_from({role: bench.shelves[role][place] for role, place in places.items() if place != NONE})
    return kit.read("timed") if timed else kit


def settings_of(bench: Bench, kit: Kit, procedure: Procedure) -> Settings:
    """Grid of power sets, mass steps, repeats and spare water to try; highest power and largest step first."""
    sets = procedure.power_sets(powers_of(bench, kit.heater))
    masses = sorted(masses_of(bench, kit.mass_set), reverse=True)
    repeats, spare = bench.search.repeats or DEFAULT_REPEATS, bench.search.spare_water or DEFAULT_SPARE
    rows = [(*powers, *others) for powers, *others in product(sets, masses, repeats, spare)]
    grid = np.array(rows, dtype=np.float64).reshape(len(rows), procedure.number_of_powers + 3)
    return Settings(powers=grid[:, :-3], mass=grid[:, -3], repeats=grid[:, -2], spare=grid[:, -1])


def powers_of(bench: Bench, heater: Heater) -> tuple[float, ...]:
    """
    Powers that a heater can be set to on the bench's supply. [W].

    A bare heater has one: nameplate times the square of the voltage ratio (P = V²/R).
    """
    factor = (bench.supply.voltage / heater.rated_voltage) ** 2
    full = heater.power * factor
    if heater.control == "none":
        return (full,)
    if heater.control == "stepless":
        asked = [power for power in bench.search.powers if power <= full * (1.0 + 1e-9)]
        step = power_step(full)
        shares = [round(full * share / step) * step for share in STEPLESS_SHARES[:-1]]
        return tuple(asked) if bench.search.powers else (*shares, full)
    steps = tuple(power * factor for power in heater.control)
    if not bench.search.powers:
        return steps
    return tuple(power for power in steps if any(abs(power - asked) < 0.02 * asked for asked in bench.search.powers))


def power_step(full: float) -> float:
    """
    Step to which people set a stepless controller: a power of ten, at most a hundredth of the full power. [W].

    Examples
    --------
    >>> power_step(1047.0), power_step(950.0)
    (10.0, 1.0)
    """
    return float(10.0 ** np.floor(np.log10(full / 100.0)))


def masses_of(bench: Bench, mass_set: MassSet | None) -> tuple[float, ...]:
    """Mass steps to try: those of the bench file, and with a mass set only what it can make up. [kg]"""
    asked = bench.search.masses
    if mass_set is None:
        return asked or DEFAULT_MASSES
    if asked:
        possible = subset_sums(mass_set.steps)
        return tuple(mass for mass in asked if any(abs(mass - sum_) < 1e-6 for sum_ in possible))
    within = steps_within(mass_set)
    if len(within) <= MOST_MASSES:
        return within
    chosen = np.unique(np.round(np.linspace(0, len(within) - 1, MOST_MASSES)).astype(int))
    return tuple(within[index] for index in chosen)


def steps_within(mass_set: MassSet) -> tuple[float, ...]:
    """Mass steps that a set makes up and that are worth trying, smallest first. [kg]"""
    return tuple(mass for mass in subset_sums(mass_set.steps) if STEP_RANGE[0] <= mass <= STEP_RANGE[1])


def subset_sums(steps: tuple[float, ...]) -> tuple[float, ...]:
    """
    Every mass that some of the masses make up, to the milligram, smallest first. [kg].

    Examples
    --------
    >>> subset_sums((0.05, 0.12))
    (0.05, 0.12, 0.17)
    """
    sums = {0}
    for step in steps:
        sums |= {partial + round(step * 1e6) for partial in sums}
    return tuple(sorted(total / 1e6 for total in sums if total > 0))


def owned_only(bench: Bench) -> Bench:
    """The bench with nothing but what is in the cupboard, and an empty purse."""
    shelves = {role: tuple(item for item in items if item.owned > 0) for role, items in bench.shelves.items()}
    return replace(bench, shelves=shelves, purse=replace(bench.purse, amount=0.0))
