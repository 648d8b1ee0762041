"""The result of a group: value, budget, interval, and how it compares with the reference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from budget.draws import sampler
from budget.model import MeasurementModel
from budget.propagation import Propagation, propagate
from budget.quasirandom import uniform_draws
from design.evaluation.measured import Measured

REFERENCE_UNCERTAINTY = 0.001
"""
Relative standard uncertainty of the reference: room pressure to ± 3 kPa, -0.73 kJ/kg per kPa, makes 0.1 %.
(IAPWS-95 itself is far better.)
"""
TRIALS = 2**13
"""Trials of the simulation that gives the interval."""


@dataclass(frozen=True)
class Outcome:
    """
    A value with its uncertainty.

    Parameters
    ----------
    model : MeasurementModel
        It is worked out from.
    propagation : Propagation
        Budget by the law of propagation.
    value, standard_uncertainty : float
        At the estimates, and by propagation. [J/kg]
    expanded_uncertainty, coverage_factor : float
        U = k·u at the coverage asked. [J/kg, 1]
    interval : tuple of float
        Probabilistically symmetric coverage interval by simulation (JCGM 101). [J/kg]
    """

    model: MeasurementModel
    propagation: Propagation
    value: float
    standard_uncertainty: float
    expanded_uncertainty: float
    coverage_factor: float
    interval: tuple[float, float]


@dataclass(frozen=True)
class Agreement:
    """
    A value beside the reference.

    Parameters
    ----------
    reference, reference_uncertainty : float
        Latent heat at room pressure and its standard uncertainty. [J/kg]
    difference : float
        Value less reference. [J/kg]
    normalised_error : float
        E_n, difference over the root of the sum of the squared expanded uncertainties (ISO/IEC 17043; ISO 13528).
    z_score : float
        Difference over the root of the sum of the squared standard uncertainties (a ζ score in ISO 13528's words).
    """

    reference: float
    reference_uncertainty: float
    difference: float
    normalised_error: float
    z_score: float

    @property
    def difference_percent(self) -> float:
        """Difference in per cent of the reference."""
        return 100.0 * self.difference / self.reference

    @property
    def agrees(self) -> bool:
        """Whether E_n is at most 1 in size."""
        return abs(self.normalised_error) <= 1.0


@dataclass(frozen=True)
class Result:
    """What a group's readings say: corrected and uncorrected, each beside the reference."""

    measured: Measured
    corrected: bool
    best: Outcome
    uncorrected: Outcome
    agreement: Agreement
    uncorrected_agreement: Agreement


def result_of(measured: Measured, reference: float, *, corrected: bool, coverage: float, seed: int = 0) -> Result:
    """
    Work out the result of a group.

    Parameters
    ----------
    measured : Measured
        Readings with their models.
    reference : float
        Latent heat at room pressure. [J/kg]
    corrected : bool
        Whether the model in use takes something off.
    coverage : float
        Coverage probability. [1]
    seed : int
        Seed of the simulation.

    Returns
    -------
    Result
    """
    best = outcome_of(measured.model, coverage, seed)
    plain = outcome_of(measured.uncorrected, coverage, seed)
    return Result(measured, corrected, best, plain, compare(best, reference), compare(plain, reference))


def outcome_of(model: MeasurementModel, coverage: float, seed: int = 0) -> Outcome:
    """Value, budget and interval of a model."""
    propagation = propagate(model, coverage)
    return Outcome(
        model=model,
        propagation=propagation,
        value=propagation.estimate,
        standard_uncertainty=propagation.standard_uncertainty,
        expanded_uncertainty=propagation.expanded_uncertainty,
        coverage_factor=propagation.coverage_factor,
        interval=interval_of(model, coverage, seed),
    )


def interval_of(model: MeasurementModel, coverage: float, seed: int = 0) -> tuple[float, float]:
    """
    Probabilistically symmetric coverage interval, by propagating distributions on one scrambled Sobol' sample.

    References
    ----------
    .. [1] JCGM 101:2008, 7.7 (intervals from the sorted values).
    """
    drawing = sampler(model)
    if drawing.dimension == 0:
        return model.at_estimates(), model.at_estimates()
    points = np.ascontiguousarray(np.asarray(uniform_draws(drawing.dimension, TRIALS, seed)).T)
    values = model.evaluate(drawing.draws(points))
    low, high = np.quantile(values, [0.5 * (1.0 - coverage), 0.5 * (1.0 + coverage)])
    return float(low), float(high)


def compare(outcome: Outcome, reference: float, relative_uncertainty: float = REFERENCE_UNCERTAINTY) -> Agreement:
    """Compare a value with the reference; see `Agreement`."""
    own = reference * relative_uncertainty
    difference = outcome.value - reference
    expanded = math.hypot(outcome.expanded_uncertainty, outcome.coverage_factor * own)
    return Agreement(
        reference=reference,
        reference_uncertainty=own,
        difference=difference,
        normalised_error=difference / expanded,
        z_score=difference / math.hypot(outcome.standard_uncertainty, own),
    )


def groups_observed_spread(values: Sequence[float]) -> float:
    """Standard deviation of some values; 0 for one. [their unit]"""
    if len(values) < 2:
        return 0.0
    mean = sum(values) / len(values)
    return math.sqrt(sum((value - mean) ** 2 for value in values) / (len(values) - 1))
