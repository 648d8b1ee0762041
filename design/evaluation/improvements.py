"""What each change would be worth on this bench: before and after, by the models of the plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from design.candidates import price_of, shelf_of
from design.errors import DesignError
from design.evaluation.in_use import InUse
from design.evaluation.measured import rated_power
from design.expectation import Aim, Sample
from design.kit import Balance, Heater, Item, Kit, MassSet, Meter, Role, Vessel
from design.limits import TOLERANCE, excesses, limits_of
from design.procedures.face import Correction, Procedure
from design.procedures.registry import PROCEDURES
from design.ranking import Appraisal, appraise
from design.screening import Branch, unsuitables
from design.situation import Settings

TRIALS = 2048
"""Trials of the shared sample: differences are sharper than each value."""
PRICELESS = 0.0


@dataclass(frozen=True)
class Improvement:
    """
    One change.

    Parameters
    ----------
    kind : str
        What is changed: an item's role, ``procedure``, ``correction``, ``mass`` or ``repeats``.
    change : str
        To what.
    bias_percent, standard_uncertainty_percent, rms_error_percent : tuple of float
        Before and after, of the reported value, in per cent of the true value.
    price : float
        Of what is to be bought for it, in the purse's currency.
    hindrance : str
        First limit of the bench that it breaks; empty where it can be done.
    """

    kind: str
    change: str
    bias_percent: tuple[float, float]
    standard_uncertainty_percent: tuple[float, float]
    rms_error_percent: tuple[float, float]
    price: float
    hindrance: str


def improvements_of(used: InUse, mass: float, runs: int, *, seed: int = 0) -> tuple[Improvement, ...]:
    """
    Work out what each single change to what is done today would be worth.

    Parameters
    ----------
    used : InUse
        What the readings were taken with.
    mass : float
        Mass step that was used. [kg]
    runs : int
        Number of runs.
    seed : int
        Seed of the sample.

    Returns
    -------
    tuple of Improvement
        Smallest error afterwards first; changes that the bench's limits forbid are there with their hindrance.

    Notes
    -----
    Before and after use the uncorrected value where a procedure has no other correction today, so the first change
    of all is the correction itself.
    """
    bench = used.conditions.bench
    today: Correction = "none" if bench.current.correction in (None, "none") else used.correction
    aim = Aim(bench.search.objective, bench.search.coverage)
    sample = Sample(TRIALS, seed)
    base = _branch(used, used.kit, used.procedure, today, (mass, runs))
    before = appraise(used.conditions, base, sample, aim)
    found = []
    for kind, change, branch in _changes(used, base, today, mass, runs):
        try:
            after = appraise(used.conditions, branch, sample, aim)
        except DesignError:
            continue
        found.append(_improvement(used, kind, change, before, after))
    return tuple(sorted(found, key=lambda one: (bool(one.hindrance), one.rms_error_percent[1], one.kind, one.change)))


def _improvement(used: InUse, kind: str, change: str, before: Appraisal, after: Appraisal) -> Improvement:
    pairs = [(100.0 * one.bias, 100.0 * one.standard_uncertainty) for one in (before, after)]
    rms = tuple(float(np.hypot(*pair)) for pair in pairs)
    return Improvement(
        kind=kind,
        change=change,
        bias_percent=(pairs[0][0], pairs[1][0]),
        standard_uncertainty_percent=(pairs[0][1], pairs[1][1]),
        rms_error_percent=(rms[0], rms[1]),
        price=price_of(after.branch.kit, used.conditions.bench.lesson.groups),
        hindrance=_hindrance(used, after),
    )


def _hindrance(used: InUse, after: Appraisal) -> str:
    branch, situation = after.branch, after.situation
    barred, _ = unsuitables(branch.kit, used.conditions, branch.procedure)
    if barred:
        return barred[0].reason
    limits = limits_of(situation, branch.procedure, price_of(branch.kit, used.conditions.bench.lesson.groups))
    broken = [limit.reason for limit, over in zip(limits, excesses(limits)[:, 0], strict=True) if over > TOLERANCE]
    return broken[0] if broken else ""


def _branch(used: InUse, kit: Kit, procedure: Procedure, correction: Correction, setting: tuple[float, int]) -> Branch:
    power = min(
        rated_power(used), kit.heater.power * (used.conditions.bench.supply.voltage / kit.heater.rated_voltage) ** 2
    )
    if kit.heater is not used.kit.heater:
        power = kit.heater.power * (used.conditions.bench.supply.voltage / kit.heater.rated_voltage) ** 2
    ratios = np.linspace(1.0, 0.5, procedure.number_of_powers)
    settings = Settings(power * ratios[np.newaxis, :], np.array([setting[0]]), np.array([float(setting[1])]))
    return Branch(kit, procedure, correction, settings, PRICELESS, PRICELESS, PRICELESS)


def _changes(used: InUse, base: Branch, today: Correction, mass: float, runs: int) -> Iterator[tuple[str, str, Branch]]:
    procedure = used.procedure
    for correction in procedure.corrections:
        if correction != today:
            yield "correction", correction, replace(base, correction=correction)
    for role in ("balance", "meter", "heater", "vessel", "mass_set"):
        yield from _other_items(used, role, today, (mass, runs))
    for other in PROCEDURES:
        able = used.kit.mass_set is not None or not other.needs_mass_set
        if other != procedure and able and today in other.corrections and _powers_can_be_had(used, other):
            kit = used.kit if other.needs_mass_set else replace(used.kit, mass_set=None)
            yield "procedure", other.name, _branch(used, kit, other, today, (mass, runs))
    for factor in (2.0,):
        yield "mass", f"{1e3 * factor * mass:.4g} g", _branch(used, used.kit, procedure, today, (factor * mass, runs))
    yield "repeats", f"{runs + 2} runs", _branch(used, used.kit, procedure, today, (mass, runs + 2))


def _powers_can_be_had(used: InUse, procedure: Procedure) -> bool:
    return procedure.number_of_powers == 1 or used.kit.heater.control != "none"


def _other_items(
    used: InUse, role: Role, today: Correction, setting: tuple[float, int]
) -> Iterator[tuple[str, str, Branch]]:
    chosen = used.kit.items.get(role)
    for item in shelf_of(used.conditions.bench, role):
        if chosen is None or item.name == chosen.name:
            continue
        kit = _with_item(used.kit, role, item)
        yield role.replace("_", " "), item.name, _branch(used, kit, used.procedure, today, setting)


def _with_item(kit: Kit, role: Role, item: Item) -> Kit:
    if isinstance(item, Balance):
        return replace(kit, balance=item)
    if isinstance(item, Meter):
        return replace(kit, meter=item)
    if isinstance(item, Heater):
        return replace(kit, heater=item)
    if isinstance(item, Vessel):
        return replace(kit, vessel=item)
    if isinstance(item, MassSet):
        return replace(kit, mass_set=item)
    raise TypeError(f"no role {role}")
