"""Error of one kit over power and mass step, with the limits that close off part of the map."""

from __future__ import annotations

from itertools import product

import numpy as np

from design.limits import first_broken, limits_of
from design.procedures.face import pace_of
from design.search.branch import Branch
from design.search.candidates import powers_of
from design.search.plan import ErrorMap
from design.search.sample import Aim, Sample, all_terms, screen
from design.setting.hardware import Conditions, hardware_of
from design.setting.situation import Settings, situation_of

POWER_SHARES = (0.15, 1.6)
"""Range of the map's powers over that of the design, whatever the heater's control."""
MASS_RANGE = (0.02, 0.5)
"""Range of the map's mass steps. [kg]"""
POINTS = (25, 25)
"""Points along power and mass."""


def error_map(conditions: Conditions, branch: Branch, sample: Sample, aim: Aim) -> ErrorMap:
    """
    Work out the error of a branch's kit over power and mass step, other settings as they are.

    Parameters
    ----------
    conditions : Conditions
        The bench.
    branch : Branch
        Kit, procedure, correction and repeats.
    sample, aim : Sample, Aim
        Sample, and what is made small.

    Returns
    -------
    ErrorMap
        Powers other than the heater's own stand for a like heater of that power.
    """
    kit, procedure = branch.kit, branch.procedure
    own = float(branch.settings.power[0])
    strongest = max(*powers_of(conditions.bench, kit.heater), own)
    powers = np.unique(np.append(np.linspace(POWER_SHARES[0] * own, POWER_SHARES[1] * strongest, POINTS[0] - 1), own))
    mass = float(branch.settings.mass[0])
    highest = max(MASS_RANGE[1], 1.3 * mass)
    masses = np.unique(np.append(np.linspace(MASS_RANGE[0], highest, POINTS[1] - 1), mass))
    grid = np.array(list(product(masses, powers)))
    ratios = branch.settings.powers[0] / own
    settings = Settings(
        powers=grid[:, 1:] * ratios,
        mass=grid[:, 0],
        repeats=np.full(len(grid), float(branch.settings.repeats[0])),
        spare=np.full(len(grid), branch.settings.spare[0]),
    )
    hardware = hardware_of(conditions, kit.vessel, kit.heater)
    situation = situation_of(conditions, kit, hardware, settings, pace_of(procedure, branch.correction))
    terms = all_terms(procedure, branch.correction, situation)
    objective = screen(procedure, branch.correction, terms, len(grid), sample, aim)
    limits = limits_of(situation, procedure, branch.price)
    keys = np.array([*(limit.key for limit in limits), ""])
    shape = (masses.size, powers.size)
    return ErrorMap(
        powers_W=powers,
        masses_kg=masses,
        objective_percent=100.0 * objective.reshape(shape),
        limit=keys[first_broken(limits)].reshape(shape),
    )
