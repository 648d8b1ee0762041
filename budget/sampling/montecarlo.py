"""Propagation of distributions (JCGM 101): plain, adaptive, and with scrambled Sobol' points."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.propagation import check_coverage
from budget.sampling.control import control_of
from budget.sampling.draws import sampler
from budget.sampling.outcomes import numerical_tolerance, quantiles
from budget.sampling.quasirandom import uniform_draws
from budget.sampling.replicates import Replicates, control_levels
from budget.sampling.trials import Trials

__all__ = ["Method", "Simulation", "numerical_tolerance", "simulate", "uniform_draws"]

Method = Literal["quasi", "plain", "adaptive"]
MOST_TRIALS = 5_000_000
"""Trials after which a simulation left to itself gives up and says that it has not converged."""
FEWEST_TRIALS = 100
FEWEST_BATCHES = 10
"""Batches before the adaptive procedure may stop: two or three can agree by chance."""


@dataclass(frozen=True)
class Simulation:
    """
    Distribution of the measurand by simulation.

    Parameters
    ----------
    method : str
        "quasi", "plain" or "adaptive".
    trials : int
        Number of evaluations of the equation.
    coverage : float
        Coverage probability of the intervals.
    estimate, standard_uncertainty : float
        Mean and standard deviation of the outcomes, JCGM 101, 7.6.
    interval_symmetric, interval_shortest : tuple of float
        Probabilistically symmetric and shortest coverage interval, JCGM 101, 7.7.
    errors : tuple of float
        Standard errors of estimate, standard uncertainty and both ends of the symmetric interval.
    numerical_tolerance : float
        Half a unit in the second significant digit of the standard uncertainty, JCGM 101, 7.9.2.
    converged : bool
        True where twice every error is within the part of the tolerance that was asked for, JCGM 101, 7.9.4 and 8.2.
    invalid : int
        Trials without a value, left out.
    note : str
        Why trials were invalid; else empty.
    values, probabilities : ndarray
        Distribution function of the outcomes at 1,001 points, for figures.
    """

    method: str
    trials: int
    coverage: float
    estimate: float
    standard_uncertainty: float
    interval_symmetric: tuple[float, float]
    interval_shortest: tuple[float, float]
    errors: tuple[float, float, float, float]
    numerical_tolerance: float
    converged: bool
    invalid: int
    note: str
    values: FloatArray
    probabilities: FloatArray


def simulate(
    model: MeasurementModel,
    trials: int | None = None,
    seed: int = 0,
    coverage: float = 0.95,
    method: Method = "quasi",
    workers: int = 1,
    accuracy: float = 1.0,
) -> Simulation:
    """
    Propagate distributions through a measurement model.

    Parameters
    ----------
    model : MeasurementModel
        Model with its inputs.
    trials : int, optional
        Evaluations to make, at most; left out, as many as the numerical tolerance needs.
    seed : int
        The same seed gives the same answer, for any number of workers.
    coverage : float
        Coverage probability of the intervals.
    method : {"quasi", "plain", "adaptive"}
        Replicated scrambled Sobol' points; pseudo-random; pseudo-random in batches until the results are
        stable (JCGM 101, 7.9).
    workers : int
        Threads to use.
    accuracy : float
        Part of the numerical tolerance to reach; 0.2 where the simulation is to judge a propagation
        (JCGM 101, 8.2).

    Raises
    ------
    BudgetError
        If an argument is out of range, or too many draws have no value.
    """
    check_coverage(coverage)
    _check_numbers(trials, seed, method)
    drawing = sampler(model)
    if drawing.dimension == 0:
        return _certain(model, coverage, method)
    control = control_of(model, drawing, control_levels(coverage)) if method == "quasi" else None
    with Trials(model, drawing, seed, workers, control) as run:
        replicates = Replicates(coverage, accuracy)
        if method == "plain":
            replicates.take_plain(run, trials or 1_000_000)
        elif method == "adaptive":
            _run_adaptive(run, replicates, trials or MOST_TRIALS)
        elif trials is not None:
            replicates.take_nets(run, trials)
        else:
            while not replicates.stable() and run.count < MOST_TRIALS:
                replicates.take_more(run)
        return _summary(run, replicates, method)


def _check_numbers(trials: int | None, seed: int, method: str) -> None:
    if method not in ("quasi", "plain", "adaptive"):
        raise BudgetError(f"method: must be quasi, plain or adaptive (got {method})")
    if trials is not None and trials < FEWEST_TRIALS:
        raise BudgetError(f"trials: must be at least {FEWEST_TRIALS} (got {trials})")
    if seed < 0:
        raise BudgetError(f"seed: must not be negative (got {seed})")


def _run_adaptive(run: Trials, replicates: Replicates, most: int) -> None:
    """JCGM 101, 7.9.4: batches until twice the standard error of each result is within the tolerance."""
    size = min(max(math.ceil(100.0 / (1.0 - replicates.coverage)), 10_000), most)
    while run.count + size <= most and (replicates.count < FEWEST_BATCHES or not replicates.stable()):
        replicates.take_batch(run, size)


def _summary(run: Trials, replicates: Replicates, method: str) -> Simulation:
    (estimate, uncertainty, low, high), errors = (found.tolist() for found in replicates.results())
    sample = replicates.outcomes.sample()
    grid = np.linspace(0.0, 1.0, 1001)
    return Simulation(
        method=method,
        trials=run.count,
        coverage=replicates.coverage,
        estimate=estimate,
        standard_uncertainty=uncertainty,
        interval_symmetric=(low, high),
        interval_shortest=replicates.shortest_interval(),
        errors=(errors[0], errors[1], errors[2], errors[3]),
        numerical_tolerance=numerical_tolerance(uncertainty),
        converged=replicates.stable(),
        invalid=run.invalid,
        note=run.note,
        values=quantiles(sample, grid),
        probabilities=grid,
    )


def _certain(model: MeasurementModel, coverage: float, method: str) -> Simulation:
    """Return the simulation of a model without uncertain inputs."""
    value = model.at_estimates()
    interval = (value, value)
    return Simulation(
        method=method,
        trials=1,
        coverage=coverage,
        estimate=value,
        standard_uncertainty=0.0,
        interval_symmetric=interval,
        interval_shortest=interval,
        errors=(0.0, 0.0, 0.0, 0.0),
        numerical_tolerance=0.0,
        converged=True,
        invalid=0,
        note="",
        values=np.array(interval),
        probabilities=np.array([0.0, 1.0]),
    )
