"""Everything that is said of one measurement equation, and its JSON form."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.model.unit_check import celsius_note
from budget.propagation import Propagation, propagate
from budget.quantities.distributions import Constant, Distribution, Normal
from budget.rounding import short
from budget.sampling.draws import sampler
from budget.sampling.montecarlo import Simulation, simulate
from budget.sampling.quasirandom import uniform_draws
from budget.sampling.replicates import numerical_tolerance
from budget.sampling.sensitivity import ShapleyEffects, SobolIndices, shapley_effects, sobol_indices
from budget.sampling.tails import tails


@dataclass(frozen=True)
class Validation:
    """
    Whether both end points of propagation and simulation differ by no more than the tolerance, JCGM 101, 8.1.3.

    ``alike`` tells whether they are the same when rounded to the place of that tolerance; ``reason`` says why there is
    no standard uncertainty to validate, where there is none; ``few_readings`` is true where propagation is to be stated
    though it is not valid: few readings leave u in more doubt than the equation does.
    """

    valid: bool
    tolerance: float
    differences: tuple[float, float]
    alike: bool
    reason: str = ""
    few_readings: bool = False

    @property
    def propagation_stands(self) -> bool:
        """Tell whether propagation gives the result that is stated."""
        return self.valid or self.alike or self.few_readings

    def sentence(self) -> str:
        """Say the outcome."""
        low, high = self.differences
        ends = f"interval ends differ by {short(low)} and {short(high)}"
        if self.reason:
            taken = (
                "few readings leave u in more doubt, and the result is that of propagation (JCGM 100, annex G)"
                if self.few_readings
                else "take the simulation"
            )
            return (
                "They cannot be compared as JCGM 101, 8.1 has it, as there is no standard deviation to compare. Their "
                f"{ends}; {taken}."
            )
        allowed = f"where {short(self.tolerance)} is allowed"
        if self.valid:
            return f"Propagation and simulation agree: their {ends}, {allowed}."
        if self.alike:
            return f"Propagation and simulation are the same to two digits: their {ends}, {allowed}."
        taken = (
            "the difference is less than the doubt that few readings leave about u, and the result is that of "
            "propagation (JCGM 100, annex G)"
            if self.few_readings
            else "take the simulation"
        )
        return f"Propagation and simulation do not agree: their {ends}, {allowed}; {taken}."


def validate(propagation: Propagation, simulation: Simulation, digits: int = 2) -> Validation:
    """Compare the end points of the two (symmetric) 100p % intervals to digits that matter, JCGM 101, 8.1."""
    tolerance = numerical_tolerance(propagation.standard_uncertainty, digits)
    pairs = list(zip(propagation.interval, simulation.interval_symmetric, strict=True))
    low, high = (abs(a - b) for a, b in pairs)
    close = max(low, high) <= tolerance
    alike = close or all(_rounded(a, tolerance) == _rounded(b, tolerance) for a, b in pairs)
    return Validation(close and not simulation.reason, tolerance, (low, high), alike, simulation.reason)


def _rounded(end: float, tolerance: float) -> float:
    """Round to the place of which the tolerance is half a unit."""
    return math.floor(0.5 * end / tolerance + 0.5) if tolerance > 0.0 else end


JUDGING = 0.2
"""Part of its numerical tolerance that a simulation must reach to judge a propagation, JCGM 101, 8.2."""
WITHOUT_TRIALS = 1 << 13
"""Points at which the measurand is looked at without one source."""


PROPAGATION = "estimate standard_uncertainty effective_dof coverage_factor expanded_uncertainty interval"
SIMULATION = "estimate standard_uncertainty median interval_symmetric interval_shortest"
"""Figures of each that are written as JSON."""


@dataclass(frozen=True)
class BudgetReport:
    """
    The uncertainty budget of a measurement model.

    Either Sobol' indices, or Shapley effects where inputs are correlated; ``without_source`` is the standard
    uncertainty if one input were known exactly, by symbol of the uncertain inputs; ``notes`` say what a reader should
    know before trusting a figure.
    """

    model: MeasurementModel
    coverage: float
    propagation: Propagation
    simulation: Simulation
    validation: Validation
    sobol: SobolIndices | None
    shapley: ShapleyEffects | None
    without_source: dict[str, float]
    notes: tuple[str, ...]

    def to_json_dict(self) -> dict[str, Any]:
        """Return what ``budget.json`` holds; numbers that are not finite become ``None``."""
        propagation, simulation = self.propagation, self.simulation
        return {
            "measurand": self.model.symbol,
            "name": self.model.name,
            "unit": self.model.unit,
            "coverage": self.coverage,
            "propagation": {
                "order": propagation.order,
                **{name: _written(getattr(propagation, name)) for name in PROPAGATION.split()},
            },
            "simulation": {
                "trials": simulation.trials,
                "method": simulation.method,
                **{name: _written(getattr(simulation, name)) for name in SIMULATION.split()},
                "standard_errors": _written(simulation.errors),
                "standard_errors_shortest": _written(simulation.errors_shortest),
                "converged": simulation.converged,
                "numerical_tolerance": _written(simulation.numerical_tolerance),
                "invalid": simulation.invalid,
                "reason": simulation.reason or None,
            },
            "propagation_valid": self.validation.valid,
            "validation": {
                "tolerance": _written(self.validation.tolerance),
                "differences": _written(self.validation.differences),
                "reason": self.validation.reason or None,
            },
            "inputs": self._inputs(),
            "notes": list(self.notes),
        }

    def _inputs(self) -> list[dict[str, Any]]:
        first, total, effects = self.shares()
        first_interval, total_interval = self._intervals()
        without_share = math.nan if self.simulation.reason else 0.0
        return [
            {
                "symbol": quantity.symbol,
                "name": quantity.name,
                "unit": quantity.unit,
                "distribution": quantity.distribution.describe(),
                "source": quantity.source,
                "estimate": _written(quantity.distribution.mean),
                "standard_uncertainty": _written(quantity.distribution.standard_uncertainty),
                "dof": _written(quantity.distribution.dof),
                "type": quantity.evaluation_type or None,
                "coverage_factor": quantity.divisor,
                "certificate": quantity.certificate or None,
                "calibration_date": quantity.calibration_date or None,
                "sensitivity_coefficient": _written(self.propagation.sensitivity_coefficients[symbol]),
                "contribution": _written(self.propagation.contributions[symbol]),
                "variance_share": _written(self.propagation.variance_shares[symbol]),
                "sobol_first": _written(first.get(symbol, without_share)),
                "sobol_total": _written(total.get(symbol, without_share)),
                "sobol_first_interval": _written(first_interval.get(symbol, (without_share, without_share))),
                "sobol_total_interval": _written(total_interval.get(symbol, (without_share, without_share))),
                "shapley": _written(effects[symbol]) if symbol in effects else None,
                "uncertainty_without": _written(self.without_source.get(symbol, self.simulation.standard_uncertainty)),
                "reason": self.simulation.reason or None,
            }
            for symbol, quantity in zip(self.model.symbols, self.model.inputs, strict=True)
        ]

    def _intervals(self) -> tuple[dict[str, tuple[float, float]], dict[str, tuple[float, float]]]:
        """Return the 95 % confidence intervals of Sobol' indices by symbol."""
        if self.sobol is None:
            return {}, {}
        found = (self.sobol.first_interval, self.sobol.total_interval)
        first, total = (
            {s: (float(low), float(high)) for s, (low, high) in zip(self.sobol.symbols, rows, strict=True)}
            for rows in found
        )
        return first, total

    def shares(self) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
        """Return first-order indices, total indices and Shapley effects by symbol; the last only with correlation."""
        found = self.sobol if self.shapley is None else self.shapley
        if found is None:
            return {}, {}, {}
        first = dict(zip(found.symbols, found.first.tolist(), strict=True))
        total = dict(zip(found.symbols, found.total.tolist(), strict=True))
        if self.shapley is None:
            return first, total, {}
        return first, total, dict(zip(self.shapley.symbols, self.shapley.effects.tolist(), strict=True))


def analyse(
    model: MeasurementModel,
    coverage: float = 0.95,
    order: int = 1,
    trials: int | None = None,
    seed: int = 0,
    workers: int = 1,
) -> BudgetReport:
    """
    Work out everything that is said of a measurement model.

    Parameters
    ----------
    model : MeasurementModel
        The model.
    coverage : float
        Coverage probability.
    order : {1, 2}
        Order of the law of propagation.
    trials : int, optional
        Trials of the simulation; left out, as many as its tolerance needs.
    seed, workers : int
        Seed of every sample; threads of the simulation.

    Raises
    ------
    BudgetError
        If the model cannot be worked out as stated.
    """
    propagation = propagate(model, coverage, order)
    simulation = simulate(model, trials, seed, coverage, workers=workers, accuracy=JUDGING)
    notes = [simulation.note] if simulation.note else []
    sobol: SobolIndices | None = None
    effects: ShapleyEffects | None = None
    try:
        if simulation.reason:
            pass  # no variance that could be shared out
        elif sampler(model).correlated:
            effects = shapley_effects(model, seed=seed)
        else:
            sobol = sobol_indices(model, base=1024, seed=seed, replicates=8)
    except BudgetError as fault:
        notes.append(f"No indices: {fault}.")
    validation = validate(propagation, simulation)
    if not validation.valid and few_readings(model) and propagation.effective_dof < DOMINATED:
        validation = replace(validation, few_readings=_doubt_is_larger(model, coverage, seed, propagation))
    notes += _notes(model, propagation, simulation, validation, sobol)
    notes += [note] if (note := celsius_note(model)) else []
    return BudgetReport(
        model, coverage, propagation, simulation, validation, sobol, effects, without_source(model, seed), tuple(notes)
    )


FEW_READINGS = 6.0
"""Degrees of freedom below which a t distribution is that of few readings: two to six of them."""
DOMINATED = 30.0
"""Effective degrees of freedom below which such readings are what leaves u in doubt."""


def few_readings(model: MeasurementModel) -> tuple[str, ...]:
    """Return the inputs that rest on few readings."""
    return tuple(
        symbol
        for symbol in model.uncertain
        if model.distributions[symbol].dof < FEW_READINGS
        and model.distributions[symbol].standard_form().shape[0] == "t"
    )


def _doubt_is_larger(model: MeasurementModel, coverage: float, seed: int, propagation: Propagation) -> bool:
    """
    Tell whether few readings leave more doubt about u than the bends of the equation make of difference.

    With normal inputs in place of those t distributions, propagation and simulation differ by what the equation
    does; u is in doubt by 1/√(2ν) of itself (JCGM 100, E.4.3).
    """
    few = few_readings(model)
    many = replace(
        model,
        inputs=tuple(
            replace(
                quantity, distribution=Normal(quantity.distribution.mean, quantity.distribution.standard_uncertainty)
            )
            if symbol in few
            else quantity
            for symbol, quantity in zip(model.symbols, model.inputs, strict=True)
        ),
    )
    found = simulate(many, seed=seed, coverage=coverage)
    differences = validate(propagate(many, coverage, propagation.order), found).differences
    doubt = propagation.expanded_uncertainty / math.sqrt(2.0 * propagation.effective_dof)
    return not found.reason and max(differences) <= doubt


def _normal(distribution: Distribution) -> Normal:
    return Normal(distribution.mean, distribution.standard_uncertainty)


def without_source(model: MeasurementModel, seed: int = 0) -> dict[str, float]:
    """Return the standard uncertainty the measurand would have if one input were known exactly, for each input."""
    drawing = sampler(model)
    if not drawing.symbols:
        return {}
    draws = drawing.draws(uniform_draws(drawing.dimension, WITHOUT_TRIALS, seed).T)
    unsettled = not tails(model, drawing).has_variance
    spread = {}
    for symbol in drawing.symbols:
        if unsettled and not tails(_known(model, symbol)).has_variance:
            spread[symbol] = math.nan
            continue
        outcomes = model.evaluate_draws({**draws, symbol: np.full(WITHOUT_TRIALS, model.distributions[symbol].mean)})
        outcomes = outcomes[np.isfinite(outcomes)]
        spread[symbol] = float(np.std(outcomes, ddof=1)) if outcomes.size > 1 else math.nan
    return spread


def _known(model: MeasurementModel, symbol: str) -> MeasurementModel:
    """Return the model with one input known exactly."""
    return replace(
        model,
        inputs=tuple(
            replace(quantity, distribution=Constant(quantity.distribution.mean)) if name == symbol else quantity
            for name, quantity in zip(model.symbols, model.inputs, strict=True)
        ),
        correlations=tuple(pair for pair in model.correlations if symbol not in pair.between),
    )


def _notes(
    model: MeasurementModel,
    propagation: Propagation,
    simulation: Simulation,
    validation: Validation,
    sobol: SobolIndices | None,
) -> list[str]:
    notes = []
    for symbol, error in propagation.derivatives.differences.items():
        notes.append(
            f"The equation has no derivative in {symbol} that tells its effect; its sensitivity coefficient is a "
            f"difference over one standard uncertainty either way, uncertain by {short(error)}."
        )
    if simulation.reason:
        notes.append(
            f"The distribution of {model.symbol} has no {_missing(simulation)}: {simulation.reason}. Median and "
            "intervals exist and are given; the shares are those of propagation."
        )
    elif not simulation.converged:
        notes.append(
            f"The simulation is not stable to {short(JUDGING * simulation.numerical_tolerance)}, the fifth of its "
            f"tolerance that a comparison needs, after {simulation.trials} trials: two standard errors are up to "
            f"{short(2.0 * max(simulation.errors))}."
        )
    if not validation.valid:
        notes.append(validation.sentence())
    if sobol is not None and sobol.note:
        notes.append(sobol.note)
    return notes


def _missing(simulation: Simulation) -> str:
    return "standard deviation" if math.isfinite(simulation.estimate) else "mean and no standard deviation"


def _written(value: float | tuple[float, ...]) -> Any:
    """Put a number or several as JSON holds them; None where one is not finite."""
    if isinstance(value, tuple):
        return [_written(each) for each in value]
    return float(value) if math.isfinite(value) else None
