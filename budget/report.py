"""Everything that is said of one measurement equation, and its JSON form."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.model.unit_check import celsius_note
from budget.propagation import Propagation, propagate
from budget.sampling.draws import sampler
from budget.sampling.montecarlo import Simulation, numerical_tolerance, simulate
from budget.sampling.quasirandom import uniform_draws
from budget.sampling.sensitivity import ShapleyEffects, SobolIndices, shapley_effects, sobol_indices


@dataclass(frozen=True)
class Validation:
    """Whether both end points of propagation and simulation differ by no more than the tolerance, JCGM 101, 8.1.3."""

    valid: bool
    tolerance: float
    differences: tuple[float, float]

    def sentence(self) -> str:
        """Say the outcome."""
        low, high = self.differences
        verdict = "agree" if self.valid else "do not agree"
        return (
            f"Propagation and simulation {verdict}: their interval ends differ by {low:.2g} and {high:.2g}, where "
            f"{self.tolerance:.2g} is allowed{'' if self.valid else '; take the simulation'}."
        )


def validate(propagation: Propagation, simulation: Simulation, digits: int = 2) -> Validation:
    """Compare the end points of the two (symmetric) 100p % intervals to digits that matter, JCGM 101, 8.1."""
    tolerance = numerical_tolerance(propagation.standard_uncertainty, digits)
    low, high = (abs(a - b) for a, b in zip(propagation.interval, simulation.interval_symmetric, strict=True))
    return Validation(max(low, high) <= tolerance, tolerance, (low, high))


JUDGING = 0.2
"""Part of its numerical tolerance that a simulation must reach to judge a propagation, JCGM 101, 8.2."""
WITHOUT_TRIALS = 1 << 13
"""Points at which the measurand is looked at without one source."""


PROPAGATION = "estimate standard_uncertainty effective_dof coverage_factor expanded_uncertainty interval"
SIMULATION = "estimate standard_uncertainty interval_symmetric interval_shortest"
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
                "converged": simulation.converged,
                "numerical_tolerance": _written(simulation.numerical_tolerance),
                "invalid": simulation.invalid,
            },
            "propagation_valid": self.validation.valid,
            "validation": {
                "tolerance": _written(self.validation.tolerance),
                "differences": _written(self.validation.differences),
            },
            "inputs": self._inputs(),
            "notes": list(self.notes),
        }

    def _inputs(self) -> list[dict[str, Any]]:
        first, total, effects = self.shares()
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
                "sensitivity_coefficient": _written(self.propagation.sensitivity_coefficients[symbol]),
                "contribution": _written(self.propagation.contributions[symbol]),
                "variance_share": _written(self.propagation.variance_shares[symbol]),
                "sobol_first": _written(first.get(symbol, 0.0)),
                "sobol_total": _written(total.get(symbol, 0.0)),
                "shapley": _written(effects[symbol]) if symbol in effects else None,
                "uncertainty_without": _written(self.without_source.get(symbol, self.simulation.standard_uncertainty)),
            }
            for symbol, quantity in zip(self.model.symbols, self.model.inputs, strict=True)
        ]

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
    correlated = bool(sampler(model).correlated)
    notes = [simulation.note] if simulation.note else []
    sobol: SobolIndices | None = None
    effects: ShapleyEffects | None = None
    try:
        if correlated:
            effects = shapley_effects(model, seed=seed)
        else:
            sobol = sobol_indices(model, base=4096, seed=seed)
    except BudgetError as fault:
        notes.append(f"No indices: {fault}.")
    validation = validate(propagation, simulation)
    notes += _notes(model, propagation, simulation, validation, sobol)
    notes += [note] if (note := celsius_note(model)) else []
    return BudgetReport(
        model, coverage, propagation, simulation, validation, sobol, effects, without_source(model, seed), tuple(notes)
    )


def without_source(model: MeasurementModel, seed: int = 0) -> dict[str, float]:
    """Return the standard uncertainty the measurand would have if one input were known exactly, for each input."""
    drawing = sampler(model)
    if not drawing.symbols:
        return {}
    draws = drawing.draws(uniform_draws(drawing.dimension, WITHOUT_TRIALS, seed).T)
    spread = {}
    for symbol in drawing.symbols:
        outcomes = model.evaluate_draws({**draws, symbol: np.full(WITHOUT_TRIALS, model.distributions[symbol].mean)})
        outcomes = outcomes[np.isfinite(outcomes)]
        spread[symbol] = float(np.std(outcomes, ddof=1)) if outcomes.size > 1 else math.nan
    return spread


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
            f"difference over ± one standard uncertainty, uncertain by {error:.2g}."
        )
    if not simulation.converged:
        notes.append(
            f"The simulation is not stable to {JUDGING * simulation.numerical_tolerance:.2g}, the fifth of its "
            f"tolerance that a comparison needs, after {simulation.trials} trials: two standard errors are up to "
            f"{2.0 * max(simulation.errors):.2g}."
        )
    if not validation.valid:
        notes.append(validation.sentence())
    for symbol in model.uncertain:
        dof = model.distributions[symbol].dof
        if dof <= 2.0 and model.distributions[symbol].standard_form().shape[0] == "t":
            notes.append(
                f"{symbol} has {dof:g} degrees of freedom: its t distribution has no standard deviation, so the "
                "simulated standard uncertainty and the variance shares do not settle; use the intervals."
            )
    if sobol is not None and sobol.note:
        notes.append(sobol.note)
    return notes


def _written(value: float | tuple[float, ...]) -> Any:
    """Put a number or several as JSON holds them; None where one is not finite."""
    if isinstance(value, tuple):
        return [_written(each) for each in value]
    return float(value) if math.isfinite(value) else None
