"""What each single change to what was done would be worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from design.comparison.changes import IMPROVEMENTS, extra_price
from design.evaluation.in_use import InUse
from design.evaluation.measured import Measured, rated_power
from design.procedures.face import Correction
from design.search.sample import Sample
from design.search.setup import Setup, errors_of, obstacles, situation_for

TRIALS = 2048
"""Trials of the shared sample: differences are sharper than each value."""


@dataclass(frozen=True)
class Improvement:
    """
    One change; errors of the reported value in per cent of the true one, before and after.

    Parameters
    ----------
    key : str
        Which change, as in ``design.comparison.changes``.
    bias_percent, standard_uncertainty_percent, rms_error_percent : tuple of float
        Before and after.
    price : float or None
        Of what is to be bought for it; None where no shelf has it.
    obstacles : tuple of str
        Limits of kit and lesson that stand in its way.
    """

    key: str
    bias_percent: tuple[float, float]
    standard_uncertainty_percent: tuple[float, float]
    rms_error_percent: tuple[float, float]
    price: float | None
    obstacles: tuple[str, ...]


def improvements_of(used: InUse, what: Measured, *, seed: int = 0) -> tuple[Improvement, ...]:
    """
    Work out what each single change to what was done would be worth.

    Parameters
    ----------
    used : InUse
        What the readings were taken with.
    what : Measured
        Readings: they give power, mass and number of runs.
    seed : int
        Seed of the sample.

    Returns
    -------
    tuple of Improvement
        Smallest error afterwards first. Before is the value as the bench says it is reckoned today.
    """
    today: Correction = "none" if used.conditions.bench.current.correction in (None, "none") else used.correction
    contrast = what.contrasts[0]
    powers = tuple(one.energy / one.time if one.time else rated_power(used) for one in what.contrasts)
    mass = float(np.round(contrast.mass, 4)) if used.procedure.needs_mass_set else contrast.mass
    setup = Setup(used.kit, used.procedure, today, powers, mass, contrast.runs)
    sample = Sample(TRIALS, seed)
    before = _error(used, setup, sample)
    found = []
    for change in IMPROVEMENTS:
        changed = change.make(used.conditions, setup)
        if changed is None:
            continue
        after = _error(used, changed, sample)
        pairs = list(zip(before, after, strict=True))
        found.append(
            Improvement(
                key=change.key,
                bias_percent=pairs[0],
                standard_uncertainty_percent=pairs[1],
                rms_error_percent=pairs[2],
                price=extra_price(used.conditions.bench, used.kit, changed.kit),
                obstacles=obstacles(situation_for(used.conditions, changed), changed.procedure),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.rms_error_percent[1], one.key)))


def _error(used: InUse, setup: Setup, sample: Sample) -> tuple[float, float, float]:
    """Bias, standard uncertainty and rms error. [%]"""
    errors = errors_of(used.conditions, setup, sample)
    bias, spread = float(errors.mean()), float(errors.std())
    return 100.0 * bias, 100.0 * spread, 100.0 * float(np.hypot(bias, spread))
