"""The result of a group: value, budget, interval, and how it compares with the reference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from budget.model.measurement import MeasurementModel
from budget.propagation import Propagation, propagate
from budget.sampling.draws import sampler
from budget.sampling.quasirandom import uniform_draws
from design.errors import DesignError
from design.evaluation.in_use import InUse
from design.evaluation.measured import Measured
from design.physics.evidence import default
from design.physics.water import ICE_POINT
from design.procedures.cooling_run import CoolingRun, cooling_loss
from design.setting.situation import Situation
from design.sheets.readings import Reading

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


def parted(readings: Sequence[Reading]) -> tuple[tuple[Reading, ...], tuple[Reading, ...]]:
    """
    Part the readings of a group into those of runs and those of a cooling run.

    A run belongs to the cooling run where the heater is off at every mark and each has a temperature.

    Returns
    -------
    tuple of (runs, cooling)
    """
    by_name: dict[str, list[Reading]] = {}
    for reading in readings:
        by_name.setdefault(reading.run, []).append(reading)
    cold = {name for name, rows in by_name.items() if len(rows) > 1 and all(_is_cooling(row) for row in rows)}
    runs = tuple(reading for reading in readings if reading.run not in cold)
    return runs, tuple(reading for reading in readings if reading.run in cold)


def _is_cooling(reading: Reading) -> bool:
    return reading.heater is False and {"temperature", "time", "mass"} <= set(reading.numbers)


def loss_from(readings: Sequence[Reading], used: InUse, situation: Situation) -> float:
    """
    Heat loss at the boiling point by the cooling balance.

    Parameters
    ----------
    readings : sequence of Reading
        Of the cooling run, in order.
    used : InUse
        The bench in use.
    situation : Situation
        Of the runs before; its last level tells how much water is left.

    Returns
    -------
    float
        Loss, without the dry wall of the freeboard and the returning steam. [W]

    Raises
    ------
    DesignError
        If the readings are too few or not those of cooling water.
    """
    time, temperature, mass = (
        np.array([row.numbers[name].value for row in readings]) for name in ("time", "temperature", "mass")
    )
    if np.any(np.diff(time) <= 0.0):
        raise DesignError(f"row {readings[0].row}: the times of the cooling run must rise from mark to mark")
    vapour = (1.0 - used.hardware.stem) * used.conditions.buoyancy
    run = CoolingRun(
        time=time,
        temperature=temperature + ICE_POINT,
        fall=np.abs(mass - mass[0]) * vapour,
        water=_water(float(mass[0]), used, situation),
        vessel_heat_capacity=used.hardware.heat_capacity,
    )
    water = used.conditions.water
    return cooling_loss(run, water.specific_heat, water.boiling_point, used.conditions.room_temperature)


def _water(shown: float, used: InUse, situation: Situation) -> float:
    """
    Water left in the vessel, as the balance shows it, tared or not.

    A heater held from outside pushes the balance down by the water that it displaces, which is taken off. Beside a
    mass set the balance shows no mass: there, and where it shows none that the vessel could hold, that of the bench's
    level.
    """
    kit, expected = used.kit, float(situation.levels.left[0])
    if used.procedure.needs_mass_set:
        return expected
    hung = default("vessel_heater_mass") if kit.heater.held_by == "vessel" else 0.0
    capacity = kit.vessel.capacity * used.conditions.water.liquid_density
    pushed_down = used.hardware.displaced if kit.heater.held_by == "stand" else 0.0
    seen = (shown - pushed_down, shown - pushed_down - kit.vessel.mass - hung)
    possible = [water for water in seen if 0.0 < water <= capacity]
    return min(possible, key=lambda water: abs(water - expected), default=expected)
