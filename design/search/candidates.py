"""Every combination worth looking at: kits from the shelves, settings for each, and what has to be bought."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import TypeVar

import numpy as np

from design.bench import Bench
from design.kit import Balance, Heater, Item, Kit, MassSet, Meter, Role, Vessel
from design.procedures.face import Correction, Procedure
from design.procedures.registry import PROCEDURES, procedure_named
from design.situation import Settings

AnyItem = TypeVar("AnyItem", bound=Item)

DEFAULT_MASSES = (0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
"""Mass steps tried where the balance reads them and the bench file names none. [kg]"""
DEFAULT_REPEATS = (1, 2, 3, 5)
"""Numbers of runs tried where the bench file names none."""
STEPLESS_SHARES = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
"""Shares of a heater's power tried on a stepless controller where the bench file names none."""
MOST_MASSES = 12
"""Mass steps tried with one mass set, spread evenly over all that it can make up."""
STEP_RANGE = (0.02, 0.6)
"""Range of mass steps that are worth trying. [kg]"""


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


def kits_of(bench: Bench, procedure: Procedure, heater: Heater, vessel: Vessel) -> Iterator[Kit]:
    """Every kit with that heater in that vessel; no mass set where the procedure needs none."""
    sets: tuple[MassSet | None, ...] = bench.mass_sets if procedure.needs_mass_set else (None,)
    choices: product[tuple[Balance, Meter, MassSet | None]] = product(bench.balances, bench.meters, sets)
    for balance, meter, mass_set in choices:
        yield Kit(balance, meter, heater, vessel, mass_set)


def settings_of(bench: Bench, kit: Kit, procedure: Procedure) -> Settings:
    """Grid of power sets, mass steps and repeats to try with a kit; highest power and largest step first."""
    sets = procedure.power_sets(powers_of(bench, kit.heater))
    masses = sorted(masses_of(bench, kit.mass_set), reverse=True)
    repeats = bench.search.repeats or DEFAULT_REPEATS
    rows = [(*powers, mass, number) for powers, mass, number in product(sets, masses, repeats)]
    grid = np.array(rows, dtype=np.float64).reshape(len(rows), procedure.number_of_powers + 2)
    return Settings(powers=grid[:, :-2], mass=grid[:, -2], repeats=grid[:, -1])


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
        return tuple(asked) if bench.search.powers else tuple(full * share for share in STEPLESS_SHARES)
    steps = tuple(power * factor for power in heater.control)
    if not bench.search.powers:
        return steps
    return tuple(power for power in steps if any(abs(power - asked) < 0.02 * asked for asked in bench.search.powers))


def masses_of(bench: Bench, mass_set: MassSet | None) -> tuple[float, ...]:
    """Mass steps to try: those of the bench file, and with a mass set only what it can make up. [kg]"""
    asked = bench.search.masses
    if mass_set is None:
        return asked or DEFAULT_MASSES
    possible = subset_sums(mass_set.steps)
    if asked:
        return tuple(mass for mass in asked if any(abs(mass - sum_) < 1e-6 for sum_ in possible))
    within = [mass for mass in possible if STEP_RANGE[0] <= mass <= STEP_RANGE[1]]
    if len(within) <= MOST_MASSES:
        return tuple(within)
    chosen = np.unique(np.round(np.linspace(0, len(within) - 1, MOST_MASSES)).astype(int))
    return tuple(within[index] for index in chosen)


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


def number_to_buy(item: Item, groups: int) -> int:
    """How many of an item are missing from the cupboard."""
    return max(groups - item.owned, 0)


def price_of(kit: Kit, groups: int) -> float:
    """Price of all that has to be bought, for all groups, in the purse's currency."""
    return float(sum(item.price * number_to_buy(item, groups) for item in kit.items.values()))


def shopping_list(kit: Kit, groups: int) -> tuple[tuple[str, str, int, float], ...]:
    """Role, name, number and price of all, for each item that has to be bought."""
    return tuple(
        (role, item.name, number_to_buy(item, groups), item.price * number_to_buy(item, groups))
        for role, item in kit.items.items()
        if number_to_buy(item, groups) > 0
    )


def owned_only(bench: Bench) -> Bench:
    """The bench with nothing but what is in the cupboard, and an empty purse."""
    return replace(
        bench,
        balances=_owned(bench.balances),
        meters=_owned(bench.meters),
        heaters=_owned(bench.heaters),
        vessels=_owned(bench.vessels),
        mass_sets=_owned(bench.mass_sets),
        purse=replace(bench.purse, amount=0.0),
    )


def _owned(shelf: tuple[AnyItem, ...]) -> tuple[AnyItem, ...]:
    return tuple(item for item in shelf if item.owned > 0)


def shelf_of(bench: Bench, role: Role) -> tuple[Item, ...]:
    """Items of a role."""
    shelves: dict[Role, tuple[Item, ...]] = {
        "balance": bench.balances,
        "meter": bench.meters,
        "heater": bench.heaters,
        "vessel": bench.vessels,
        "mass_set": bench.mass_sets,
    }
    return shelves[role]
