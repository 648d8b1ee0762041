"""The result of a group: value, budget, interval, and how it compares with the reference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from budget.arrays import FloatArray
from budget.model.measurement import MeasurementModel
from budget.propagation import Propagation, propagate
from budget.quantities.shapes import Shape, standard_ppf
from budget.sampling.draws import sampler
from budget.sampling.quasirandom import uniform_draws
from design.chosen import Design
from design.errors import DesignError
from design.evaluation.measured import ANEW, Measured, matching, measured, rated_power, unnumbered
from design.evaluation.runs import Run, runs_of
from design.evaluation.scatter import SCATTER, UNSEEN_FACTOR, Scatter, noise_factors, with_noise
from design.message import Message
from design.physics.evidence import default
from design.physics.water import ICE_POINT
from design.procedures.cooling_run import CoolingRun, cooling_loss
from design.setting.situation import Situation
from design.sheets.readings import Finding, Reading

REFERENCE_UNCERTAINTY = 0.001
"""
Relative standard uncertainty of the reference: room pressure to ± 3 kPa, -0.73 kJ/kg per kPa, makes 0.1 %.
(IAPWS-95 itself is far better.)
"""
TRIALS = 2**13
"""Trials of the simulation that gives the interval."""


@dataclass(frozen=True)
class Agreement:
    """
    A value beside the reference.

    Parameters
    ----------
    reference, reference_uncertainty : float
        Latent heat at room pressure and its standard uncertainty. [J/kg]
    difference_percent : float
        Value less reference, in per cent of the reference.
    normalised_error : float
        E_n, difference over the root of the sum of the squared expanded uncertainties (ISO/IEC 17043; ISO 13528).
    z_score : float
        Difference over the root of the sum of the squared standard uncertainties (a ζ score in ISO 13528's words).
    """

    reference: float
    reference_uncertainty: float
    difference_percent: float
    normalised_error: float
    z_score: float

    @property
    def agrees(self) -> bool:
        """Whether E_n is at most 1 in size."""
        return abs(self.normalised_error) <= 1.0


@dataclass(frozen=True)
class Outcome:
    """
    A value with its budget.

    Parameters
    ----------
    model, propagation : MeasurementModel, Propagation
        What it is worked out from, and its budget by the law of propagation.
    interval : tuple of float
        Probabilistically symmetric coverage interval by simulation (JCGM 101). [J/kg]
    agreement : Agreement
        With the reference.
    """

    model: MeasurementModel
    propagation: Propagation
    interval: tuple[float, float]
    agreement: Agreement

    @property
    def value(self) -> float:
        """Latent heat at the estimates. [J/kg]"""
        return self.propagation.estimate

    @property
    def standard_uncertainty(self) -> float:
        """By the law of propagation. [J/kg]"""
        return self.propagation.standard_uncertainty

    @property
    def scatter(self) -> dict[str, float]:
        """Contributions of the inputs that come anew with every group's readings. [J/kg]"""
        contributions = self.propagation.contributions
        return {symbol: contributions[symbol] for symbol in self.model.uncertain if unnumbered(symbol) in ANEW}

    @property
    def expanded_uncertainty_unseen(self) -> float:
        """Expanded uncertainty if the noise were `UNSEEN_FACTOR` times that in the budget. [J/kg]"""
        noise = _noise(self.model, self.propagation)
        more = math.sqrt(UNSEEN_FACTOR**2 - 1.0) * math.hypot(*noise.values(), 0.0)
        return self.propagation.coverage_factor * math.hypot(self.standard_uncertainty, more)


@dataclass(frozen=True)
class GroupResult:
    """
    What a group's readings say.

    Parameters
    ----------
    used : Design
        Procedure and correction as the readings allow them.
    measured : Measured
        Readings with their models.
    best : Outcome
        With the losses taken off, if any are.
    cooled : float or None
        Heat loss by the cooling run, where the sheet has one. [W]
    notes : tuple of Finding
        What could not be done as the bench says.
    coverage, seed : float, int
        Coverage probability [1] and seed of the simulations.
    """

    used: Design
    measured: Measured
    best: Outcome
    cooled: float | None
    notes: tuple[Finding, ...]
    coverage: float
    seed: int

    @cached_property
    def uncorrected(self) -> Outcome:
        """With nothing taken off; worked out when it is asked for."""
        return _outcome(self.measured.uncorrected, self.measured.scatter, self.used.reference, self.coverage, self.seed)

    @property
    def corrected(self) -> bool:
        """Whether something is taken off."""
        return self.used.corrected


def group_result(readings: tuple[Reading, ...], used: Design, *, coverage: float = 0.95, seed: int = 0) -> GroupResult:
    """
    Work out the result of one group's readings.

    A series takes as many powers as the readings have, and without a cooling run on the sheet the losses are
    calculated. ``used`` is as the bench says; ``coverage`` [1] and ``seed`` are those of the simulation.

    Raises
    ------
    DesignError
        If the readings do not make a result.
    """
    heated, cooling = parted(readings)
    runs = heated_runs(heated, used)
    used = matching(used, runs)
    calculated = replace(used, correction="calculated")
    cooled = _cooled(cooling, calculated, runs, wanted=used.has_cooling_run)
    notes: tuple[Finding, ...] = ()
    if used.has_cooling_run and cooled is None:
        used, first = calculated, readings[0]
        message = Message("no_cooling_run", {"group": first.group})
        notes = (Finding(first.row, "", "no_cooling_run", message, first.group),)
    what = measured(used, runs, cooled if used.has_cooling_run else None)
    best = _outcome(what.model, what.scatter, used.reference, coverage, seed)
    return GroupResult(used, what, best, cooled, notes, coverage, seed)


def _cooled(cooling: Sequence[Reading], used: Design, runs: Sequence[Run], *, wanted: bool) -> float | None:
    """Heat loss by the cooling run; one that nobody asks for may fail. [W]"""
    if not cooling:
        return None
    try:
        return loss_from(cooling, used, measured(used, runs).situation)
    except DesignError:
        if wanted:
            raise
        return None


def heated_runs(readings: Sequence[Reading], used: Design) -> tuple[Run, ...]:
    """Runs of readings with the heater on, as the procedure takes them."""
    return runs_of(readings, used.kit, steps_of_mass=used.procedure.needs_mass_set, rated_power=rated_power(used))


def _outcome(model: MeasurementModel, scatter: Scatter, reference: float, coverage: float, seed: int) -> Outcome:
    budget = propagate(model, coverage)
    budget = with_noise(budget, _noise(model, budget), scatter.effective_dof)
    agreement = agreement_of(budget.estimate, budget.standard_uncertainty, budget.coverage_factor, reference)
    return Outcome(model, budget, _interval(model, scatter, coverage, seed), agreement)


def _noise(model: MeasurementModel, budget: Propagation) -> dict[str, float]:
    """Contributions of the inputs whose size the scatter of the readings tells. [J/kg]"""
    return {symbol: budget.contributions[symbol] for symbol in model.uncertain if unnumbered(symbol) in SCATTER}


def agreement_of(value: float, standard_uncertainty: float, factor: float, reference: float) -> Agreement:
    """Put a value [J/kg] with its standard uncertainty and coverage factor beside the reference."""
    own, difference = reference * REFERENCE_UNCERTAINTY, value - reference
    together = math.hypot(standard_uncertainty, own)
    return Agreement(
        reference, own, 100.0 * difference / reference, difference / (factor * together), difference / together
    )


def _interval(model: MeasurementModel, scatter: Scatter, coverage: float, seed: int) -> tuple[float, float]:
    """
    Probabilistically symmetric coverage interval, by propagating distributions on one scrambled Sobol' sample.

    The inputs of readings are uncorrelated; the noise of all is as much larger or smaller as its one estimate may err.

    References
    ----------
    .. [1] JCGM 101:2008, 7.7 (intervals from the sorted values).
    """
    drawing = sampler(model)
    if drawing.dimension == 0:
        return model.at_estimates(), model.at_estimates()
    columns = drawing.dimension + math.isfinite(scatter.effective_dof)
    draws = {
        symbol: _standard_draws(form.shape, column, columns, seed) * form.scale + form.location
        for column, (symbol, form) in enumerate(zip(drawing.symbols, drawing.forms, strict=True))
    }
    if columns > drawing.dimension:
        larger = noise_factors(scatter, _points(columns, seed)[:, -1])
        means = {symbol: model.distributions[symbol].mean for symbol in draws if unnumbered(symbol) in SCATTER}
        draws |= {symbol: mean + larger * (draws[symbol] - mean) for symbol, mean in means.items()}
    values = model.evaluate(draws)
    low, high = np.quantile(values, [0.5 * (1.0 - coverage), 0.5 * (1.0 + coverage)])
    return float(low), float(high)


@lru_cache(maxsize=64)
def _standard_draws(shape: Shape, column: int, dimension: int, seed: int) -> FloatArray:
    """Draws of a standard shape at one column of the sample: the same for every sheet of a class."""
    draws = standard_ppf(shape, _points(dimension, seed)[:, column])
    draws.setflags(write=False)
    return draws


@lru_cache(maxsize=4)
def _points(dimension: int, seed: int) -> FloatArray:
    return uniform_draws(dimension, TRIALS, seed)


def parted(readings: Sequence[Reading]) -> tuple[tuple[Reading, ...], tuple[Reading, ...]]:
    """
    Part the readings of a group into those of runs and those of a cooling run.

    A run belongs to the cooling run where the heater is off at every mark and each has a temperature.
    """
    by_name: dict[str, list[Reading]] = {}
    for reading in readings:
        by_name.setdefault(reading.run, []).append(reading)
    cold = {name for name, rows in by_name.items() if len(rows) > 1 and all(_is_cooling(row) for row in rows)}
    runs = tuple(reading for reading in readings if reading.run not in cold)
    return runs, tuple(reading for reading in readings if reading.run in cold)


def _is_cooling(reading: Reading) -> bool:
    return reading.heater is False and {"temperature", "time", "mass"} <= set(reading.numbers)


def loss_from(readings: Sequence[Reading], used: Design, situation: Situation) -> float:
    """
    Heat loss at the boiling point by the cooling balance, without the dry wall and the returning steam. [W].

    ``situation`` is that of the runs before; its last level tells how much water is left.

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


def _water(shown: float, used: Design, situation: Situation) -> float:
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
