"""Error of one kit over power and mass step, with the limits that close off part of the map."""

from __future__ import annotations

from itertools import product

import numpy as np

from design.chosen import Design, all_terms
from design.limits import first_broken, limits_of
from design.search.candidates import powers_of
from design.search.plan import ErrorMap
from design.search.sample import Aim, Sample, screen
from design.setting.situation import Settings

POWER_SHARES = (0.15, 1.6)
"""Range of the map's powers over that of the design, whatever the heater's control."""
MASS_RANGE = (0.02, 0.5)
"""Range of the map's mass steps. [kg]"""
POINTS = (25, 25)
"""Points along power and mass."""


def error_map(design: Design, sample: Sample, aim: Aim) -> ErrorMap:
    """
    Work out the error of a design's kit over power and mass step, other settings as they are.

    Parameters
    ----------
    design : Design
        Kit, procedure, correction and repeats.
    sample, aim : Sample, Aim
        Sample, and what is made small.

    Returns
    -------
    ErrorMap
        Powers other than the heater's own stand for a like heater of that power.
    """
    own, mass = design.powers[0], design.mass
    strongest = max(*powers_of(design.conditions.bench, design.kit.heater), own)
    powers = np.unique(np.append(np.linspace(POWER_SHARES[0] * own, POWER_SHARES[1] * strongest, POINTS[0] - 1), own))
    highest = max(MASS_RANGE[1], 1.3 * mass)
    masses = np.unique(np.append(np.linspace(MASS_RANGE[0], highest, POINTS[1] - 1), mass))
    grid = np.array(list(product(masses, powers)))
    settings = Settings(
        powers=grid[:, 1:] * (np.array(design.powers) / own),
        mass=grid[:, 0],
        repeats=np.full(len(grid), float(design.repeats)),
        spare=np.full(len(grid), design.spare),
        steady=np.full(len(grid), design.steady),
    )
    situation = design.situation_at(settings)
    terms = all_terms(design.procedure, design.correction, situation)
    objective = screen(design.program, terms, len(grid), sample, aim)
    limits = limits_of(situation, design.procedure, design.price)
    keys = np.array([*(limit.key for limit in limits), ""])
    shape = (masses.size, powers.size)
    return ErrorMap(
        powers_W=powers,
        masses_kg=masses,
        objective_percent=100.0 * objective.reshape(shape),
        limit=keys[first_broken(limits)].reshape(shape),
    )
