"""Settings that can be dialled in finely, refined about the best point of the coarse grid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from design.kit import MassSet
from design.limits import first_broken, limits_of
from design.search.branch import Branch
from design.search.candidates import masses_of, powers_of, steps_within
from design.search.ranking import error_of, situation_at
from design.search.sample import Aim, Sample
from design.setting.hardware import Conditions

MASS_STEP, POWER_STEP = 1e-3, 1.0
"""Steps to which a refined mass [kg] and power [W] are rounded: finer ones cannot be dialled in or read off in time."""
SPARE_STEP = 0.05
"""Spare water that is tried first: more is looked for only where this much helps. [kg]"""
ROUNDS = 2
"""Times that mass and power are refined in turn."""
EVALUATIONS = 14
"""Most evaluations in refining one of them."""
LEAST_GAIN = 1e-3
"""Part of the error by which a refined setting must be better to be taken."""


def refined(conditions: Conditions, branch: Branch, sample: Sample, aim: Aim) -> Branch:
    """
    Refine what a branch lets one set finely, other settings as they are.

    Parameters
    ----------
    conditions : Conditions
        The bench.
    branch : Branch
        The best point of the coarse grid.
    sample, aim : Sample, Aim
        Sample on which combinations are compared, and what is made small.

    Returns
    -------
    Branch
        The same where nothing can be set finely, where the bench file says what to try, or where nothing is gained.
    """
    search, kit = conditions.bench.search, branch.kit
    fine_mass = kit.mass_set is None and not search.masses
    fine_power = kit.heater.control == "stepless" and not search.powers
    best = branch
    for _ in range(ROUNDS if fine_mass and fine_power else 1):
        if fine_mass:
            mass = float(best.settings.mass[0])
            best = _along(conditions, best, (sample, aim), ("mass", 0.6 * mass, 1.5 * mass, MASS_STEP))
        if fine_power:
            power, full = float(best.settings.power[0]), max(powers_of(conditions.bench, kit.heater))
            best = _along(conditions, best, (sample, aim), ("power", 0.8 * power, min(1.25 * power, full), POWER_STEP))
    if not search.masses and kit.mass_set is not None:
        best = _among_sums(conditions, best, kit.mass_set, (sample, aim))
    if not search.spare_water:
        best = _fuller(conditions, best, (sample, aim))
    return best if best.objective < (1.0 - LEAST_GAIN) * branch.objective else branch


def _among_sums(conditions: Conditions, branch: Branch, mass_set: MassSet, on: tuple[Sample, Aim]) -> Branch:
    """Best branch among the mass steps that the mass set makes up between the neighbours on the coarse grid."""
    mass, grid = float(branch.settings.mass[0]), masses_of(conditions.bench, mass_set)
    low = max((tried for tried in grid if tried < mass), default=mass)
    high = min((tried for tried in grid if tried > mass), default=mass)
    between = [step for step in steps_within(mass_set) if low < step < high and step != mass]
    tried = [_measured(conditions, _with(branch, "mass", step), *on) for step in between]
    return min([branch, *tried], key=lambda candidate: candidate.order)


def _fuller(conditions: Conditions, branch: Branch, on: tuple[Sample, Aim]) -> Branch:
    """Best branch with more water than the runs need, where a little more helps at all."""
    if _measured(conditions, _with(branch, "spare", SPARE_STEP), *on).objective >= branch.objective:
        return branch
    vessel = branch.kit.vessel
    most = vessel.capacity * conditions.water.liquid_density
    return _along(conditions, branch, on, ("spare", 0.0, most, SPARE_STEP / 5.0))


def _along(
    conditions: Conditions, branch: Branch, on: tuple[Sample, Aim], line: tuple[str, float, float, float]
) -> Branch:
    """Best branch along one setting, rounded to what can be dialled in."""
    from scipy.optimize import minimize_scalar

    name, low, high, step = line
    sample, aim = on
    if high - low < step:
        return branch
    known: dict[float, Branch] = {}

    def value(setting: float) -> float:
        rounded = round(round(setting / step) * step, 9)
        if rounded not in known:
            known[rounded] = _measured(conditions, _with(branch, name, rounded), sample, aim)
        return known[rounded].objective

    minimize_scalar(value, bounds=(low, high), method="bounded", options={"maxiter": EVALUATIONS, "xatol": step})
    best = min(known.values(), key=lambda candidate: candidate.order)
    return best if best.objective < branch.objective else branch


def _with(branch: Branch, name: str, value: float) -> Branch:
    settings = branch.settings
    if name == "power":
        return replace(branch, settings=replace(settings, powers=settings.powers * (value / settings.power[0])))
    return replace(branch, settings=replace(settings, **{name: np.array([value])}))


def _measured(conditions: Conditions, branch: Branch, sample: Sample, aim: Aim) -> Branch:
    """Branch with its error and minutes; an error that grows with the excess where it breaks a limit."""
    situation = situation_at(conditions, branch)
    limits = limits_of(situation, branch.procedure, branch.price)
    if first_broken(limits)[0] < len(limits):
        return replace(branch, objective=10.0 + max(float(np.max(limit.excess)) for limit in limits))
    minutes = float(situation.total_time[0]) / 60.0
    return replace(branch, minutes=minutes, objective=error_of(conditions, branch, sample, aim))
