"""First pass over every combination: which are feasible, why not, and the best setting of each kit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from design.candidates import corrections_of, kits_of, price_of, settings_of
from design.expectation import Aim, Sample, all_terms, rows, screen
from design.hardware import Conditions, Hardware, hardware_of
from design.kit import Heater, Kit, Vessel
from design.limits import (
    TOO_DEAR,
    Unsuitable,
    first_broken,
    limits_of,
    unsuitable_balance,
    unsuitable_heater,
    unsuitable_meter,
)
from design.procedures.face import Correction, Procedure, pace_of
from design.situation import Settings, Situation, situation_of

NO_SETTING = "mass set or heater cannot be set to any of the mass steps and powers asked for"
"""Reason for a kit without a setting to try."""


@dataclass(frozen=True)
class Branch:
    """
    A kit with a procedure and a correction, at one setting.

    Parameters
    ----------
    kit, procedure, correction
        What is used, and how.
    settings : Settings
        One row.
    price : float
        Of all that has to be bought.
    minutes : float
        Of the lesson.
    objective : float
        On the screening sample. [1]
    """

    kit: Kit
    procedure: Procedure
    correction: Correction
    settings: Settings
    price: float
    minutes: float
    objective: float

    @property
    def order(self) -> tuple[object, ...]:
        """Key that sorts branches: objective, then price, minutes, and names where all else is equal."""
        names = tuple(item.name for item in self.kit.items.values())
        powers = tuple(self.settings.powers[0])
        rest = (float(self.settings.mass[0]), float(self.settings.repeats[0]))
        return (
            self.objective,
            self.price,
            self.minutes,
            self.procedure.identifier,
            self.correction,
            names,
            powers,
            rest,
        )


@dataclass(frozen=True)
class Screened:
    """Outcome of a task: numbers of combinations, reasons of rejection, and the best branch of each kit."""

    considered: int
    feasible: int
    rejected: Mapping[str, int]
    branches: tuple[Branch, ...]


@dataclass(frozen=True)
class Task:
    """A share of the search: one procedure with one heater in one vessel, and all the rest of the shelves."""

    conditions: Conditions
    procedure: Procedure
    heater: Heater
    vessel: Vessel
    sample: Sample
    aim: Aim


def run(task: Task) -> Screened:
    """Screen every kit of a task."""
    hardware = hardware_of(task.conditions, task.vessel, task.heater)
    bench = task.conditions.bench
    parts = [_kit(task, hardware, kit) for kit in kits_of(bench, task.procedure, task.heater, task.vessel)]
    return gathered(parts)


def gathered(parts: list[Screened]) -> Screened:
    """Add up the outcomes of several tasks, in their order."""
    rejected: Counter[str] = Counter()
    for part in parts:
        rejected.update(part.rejected)
    return Screened(
        considered=sum(part.considered for part in parts),
        feasible=sum(part.feasible for part in parts),
        rejected=dict(rejected),
        branches=tuple(branch for part in parts for branch in part.branches),
    )


def unsuitables(kit: Kit, conditions: Conditions, procedure: Procedure) -> tuple[list[Unsuitable], list[Unsuitable]]:
    """Properties that rule a kit out, and those that the bench file accepts knowingly."""
    bench = conditions.bench
    found = unsuitable_heater(kit.heater, bench)
    found += unsuitable_meter(kit.meter, bench, procedure)
    found += unsuitable_balance(kit.balance, procedure)
    accepted = [fault for fault in found if fault.acceptable and fault.item.accept_unsuitable]
    return [fault for fault in found if fault not in accepted], accepted


def _kit(task: Task, hardware: Hardware, kit: Kit) -> Screened:
    """Screen the settings of one kit; what bars the kit as a whole is looked at first."""
    bench = task.conditions.bench
    settings = settings_of(bench, kit, task.procedure)
    corrections = corrections_of(bench, task.procedure)
    considered = max(settings.mass.size, 1) * len(corrections)
    barred = bars(task, kit, settings)
    if barred:
        return Screened(considered, 0, {barred[0]: considered}, ())
    same_pace = groupby(corrections, key=lambda correction: pace_of(task.procedure, correction))
    return gathered([_at_pace(task, hardware, kit, settings, tuple(group)) for _, group in same_pace])


def _at_pace(
    task: Task, hardware: Hardware, kit: Kit, settings: Settings, corrections: tuple[Correction, ...]
) -> Screened:
    """Screen the settings of one kit with corrections that take the same time."""
    bench, pace = task.conditions.bench, pace_of(task.procedure, corrections[0])
    situation = situation_of(task.conditions, kit, hardware, settings, pace)
    considered = settings.mass.size * len(corrections)
    limits = limits_of(situation, task.procedure, price_of(kit, bench.lesson.groups))
    broken = first_broken(limits)
    chosen = np.flatnonzero(broken == len(limits))
    counts = np.bincount(broken, minlength=len(limits) + 1)
    rejected = {limit.reason: int(n) * len(corrections) for limit, n in zip(limits, counts, strict=False) if n}
    branches = tuple(_best(task, situation, correction, chosen) for correction in corrections if chosen.size)
    return Screened(considered, chosen.size * len(corrections), rejected, branches)


def bars(task: Task, kit: Kit, settings: Settings) -> list[str]:
    """Reasons that rule a kit out whatever the setting."""
    bench = task.conditions.bench
    reasons = [fault.reason for fault in unsuitables(kit, task.conditions, task.procedure)[0]]
    if settings.mass.size == 0:
        reasons.append(NO_SETTING)
    if price_of(kit, bench.lesson.groups) > bench.purse.amount:
        reasons.append(TOO_DEAR)
    return reasons


def _best(task: Task, situation: Situation, correction: Correction, chosen: NDArray[np.intp]) -> Branch:
    """Best feasible setting of a kit: least objective, then shortest."""
    terms = rows(all_terms(task.procedure, correction, situation), chosen)
    objective = screen(task.procedure, correction, terms, chosen.size, task.sample, task.aim)
    minutes = situation.total_time[chosen] / 60.0
    best = int(np.lexsort((minutes, objective))[0])
    return Branch(
        kit=situation.kit,
        procedure=task.procedure,
        correction=correction,
        settings=one_row(situation.settings, int(chosen[best])),
        price=price_of(situation.kit, task.conditions.bench.lesson.groups),
        minutes=float(minutes[best]),
        objective=float(objective[best]),
    )


def one_row(settings: Settings, index: int) -> Settings:
    """One setting of a grid."""
    return replace(
        settings,
        powers=settings.powers[index : index + 1],
        mass=settings.mass[index : index + 1],
        repeats=settings.repeats[index : index + 1],
    )
