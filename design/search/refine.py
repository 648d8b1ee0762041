"""Settings that can be dialled in finely, refined about the best point of the coarse grid."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from design.chosen import Design
from design.kit import MassSet
from design.limits import first_broken
from design.search.candidates import masses_of, powers_of, steps_within
from design.search.plan import Tried
from design.search.sample import Aim, Sample, objective_at

MASS_STEP, POWER_STEP = 1e-3, 1.0
"""Steps to which a refined mass [kg] and power [W] are rounded: finer ones cannot be dialled in or read off in time."""
SPARE_STEP = 0.05
"""Spare water that is tried first: more is looked for only where this much helps. [kg]"""
LONGEST_STEADY, STEADY_STEP = 900.0, 30.0
"""Longest time of settling that is tried, and its step. [s]"""
ROUNDS = 2
"""Times that mass and power are refined in turn."""
EVALUATIONS = 14
"""Most evaluations in refining one of them."""
LEAST_GAIN = 1e-3
"""Part of the error by which a refined setting must be better to be taken."""


def refined(found: Tried, sample: Sample, aim: Aim) -> Design:
    """
    Refine what a design lets one set finely, other settings as they are.

    Parameters
    ----------
    found : Tried
        The best point of the coarse grid.
    sample, aim : Sample, Aim
        Sample on which combinations are compared, and what is made small.

    Returns
    -------
    Design
        The same where nothing can be set finely, where the bench file says what to try, or where nothing is gained.
    """
    kit, bench = found.design.kit, found.design.conditions.bench
    fine_mass = kit.mass_set is None and not bench.search.masses
    fine_power = kit.heater.control == "stepless" and not bench.search.powers
    best, on = found, (sample, aim)
    for _ in range(ROUNDS if fine_mass and fine_power else 1):
        if fine_mass:
            mass = best.design.mass
            best = _along(best, on, ("mass", 0.6 * mass, 1.5 * mass, MASS_STEP))
        if fine_power:
            power, full = best.design.powers[0], max(powers_of(bench, kit.heater))
            best = _along(best, on, ("power", 0.8 * power, min(1.25 * power, full), POWER_STEP))
    if not bench.search.masses and kit.mass_set is not None:
        best = _among_sums(best, kit.mass_set, on)
    if not bench.search.spare_water:
        best = _fuller(best, on)
    if best.design.hardware.jacket_loss > 0.0:
        best = _along(best, on, ("steady", best.design.steady, LONGEST_STEADY, STEADY_STEP))
    return best.design if best.objective < (1.0 - LEAST_GAIN) * found.objective else found.design


def _among_sums(found: Tried, mass_set: MassSet, on: tuple[Sample, Aim]) -> Tried:
    """Best among the mass steps that the mass set makes up between the neighbours on the coarse grid."""
    mass, grid = found.design.mass, masses_of(found.design.conditions.bench, mass_set)
    low = max((tried for tried in grid if tried < mass), default=mass)
    high = min((tried for tried in grid if tried > mass), default=mass)
    between = [step for step in steps_within(mass_set) if low < step < high and step != mass]
    tried = [_tried(_with(found.design, "mass", step), *on) for step in between]
    return min([found, *tried], key=lambda candidate: candidate.order)


def _fuller(found: Tried, on: tuple[Sample, Aim]) -> Tried:
    """Best with more water than the runs need, where a little more helps at all."""
    design = found.design
    if _tried(_with(design, "spare", SPARE_STEP), *on).objective >= found.objective:
        return found
    most = design.kit.vessel.capacity * design.conditions.water.liquid_density
    return _along(found, on, ("spare", 0.0, most, SPARE_STEP / 5.0))


def _along(found: Tried, on: tuple[Sample, Aim], line: tuple[str, float, float, float]) -> Tried:
    """Best along one setting, rounded to what can be dialled in."""
    from scipy.optimize import minimize_scalar

    name, low, high, step = line
    if high - low < step:
        return found
    known: dict[float, Tried] = {}

    def value(setting: float) -> float:
        rounded = round(round(setting / step) * step, 9)
        if rounded not in known:
            known[rounded] = _tried(_with(found.design, name, rounded), *on)
        return known[rounded].objective

    minimize_scalar(value, bounds=(low, high), method="bounded", options={"maxiter": EVALUATIONS, "xatol": step})
    best = min(known.values(), key=lambda candidate: candidate.order)
    return best if best.objective < found.objective else found


def _with(design: Design, name: str, value: float) -> Design:
    if name == "power":
        return replace(design, powers=tuple(power * (value / design.powers[0]) for power in design.powers))
    changed: dict[str, Any] = {name: value}
    return replace(design, **changed)


def _tried(design: Design, sample: Sample, aim: Aim) -> Tried:
    """The design with its error; with one that grows with the excess where it breaks a limit."""
    limits = design.limits()
    if first_broken(limits)[0] < len(limits):
        return Tried(design, 10.0 + max(float(np.max(limit.excess)) for limit in limits))
    return Tried(design, objective_at(design, sample, aim))
