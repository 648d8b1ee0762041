"""What each single change to what was done would be worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from design.chosen import Design
from design.comparison.changes import IMPROVEMENTS, extra_price
from design.evaluation.measured import rated_power
from design.evaluation.result import GroupResult
from design.procedures.face import Correction
from design.search.sample import Sample, errors_of

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


def improvements_of(result: GroupResult, *, seed: int = 0) -> tuple[Improvement, ...]:
    """
    Work out what each single change to what was done would be worth, the smallest error afterwards first.

    The readings give power, mass and number of runs; before is the value as the bench says it is reckoned today.
    """
    used, contrasts = result.used, result.measured.contrasts
    bench, mass = used.conditions.bench, contrasts[0].mass
    today: Correction = "none" if bench.current.correction in (None, "none") else used.correction
    powers = tuple(contrast.power or rated_power(used) for contrast in contrasts)
    step = float(np.round(mass, 4)) if used.procedure.needs_mass_set else mass
    done = Design(used.conditions, used.kit, used.procedure, today, powers, step, contrasts[0].runs)
    sample = Sample(TRIALS, seed)
    before = _error(done, sample)
    found = []
    for change in IMPROVEMENTS:
        changed = change.make(done)
        if changed is None:
            continue
        bias, spread, rms = zip(before, _error(changed, sample), strict=True)
        price = extra_price(bench, used.kit, changed.kit)
        found.append(Improvement(change.key, bias, spread, rms, price, changed.obstacles))
    return tuple(sorted(found, key=lambda one: (one.rms_error_percent[1], one.key)))


def _error(design: Design, sample: Sample) -> tuple[float, float, float]:
    """Bias, standard uncertainty and rms error. [%]"""
    errors = errors_of(design, sample)
    bias, spread = float(errors.mean()), float(errors.std())
    return 100.0 * bias, 100.0 * spread, 100.0 * float(np.hypot(bias, spread))
