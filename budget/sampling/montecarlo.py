"""Propagation of distributions (JCGM 101) by replicates: scrambled Sobol' nets, or pseudo-random batches."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.propagation import check_coverage
from budget.sampling.draws import sampler
from budget.sampling.quasirandom import LARGEST_EXPONENT
from budget.sampling.replicates import (
    FIGURE_LEVELS,
    STEPS,
    Replicates,
    normal_spread,
    numerical_tolerance,
)
from budget.sampling.tails import tails
from budget.sampling.trials import Trials, joined

Method = Literal["quasi", "plain"]
FEWEST_TRIALS = 100
FIRST_TRIALS = 1 << 15
MOST_TRIALS = 1 << 24
"""Trials with which a simulation left to itself begins, and after which it says that it has not converged."""
REPLICATES = 8
"""Independent replicates at least: enough to judge the error by their spread."""
FEWEST_BATCHES = 10
"""Batches before the adaptive procedure may stop: two or three can agree by chance."""


@dataclass(frozen=True)
class Simulation:
    """
    Distribution of the measurand by simulation.

    Estimate and standard uncertainty are those of the outcomes, JCGM 101, 7.6, and not a number where the distribution
    has none, which ``reason`` explains; the median and the intervals always exist. ``errors`` are the standard errors
    of both and of the ends of the symmetric interval, ``errors_shortest`` those of the shortest: twice each covers with
    95 %. ``converged`` says whether estimate and standard uncertainty exist and twice each of ``errors`` is within the
    part of the numerical tolerance (7.9.2) that was asked for. ``invalid`` trials had no value,
    which ``note`` explains. ``values`` and ``probabilities``, of shape (1001,), are the distribution function, for
    figures.
    """

    method: str
    trials: int
    coverage: float
    estimate: float
    standard_uncertainty: float
    median: float
    interval_symmetric: tuple[float, float]
    interval_shortest: tuple[float, float]
    errors: tuple[float, float, float, float]
    errors_shortest: tuple[float, float]
    numerical_tolerance: float
    converged: bool
    invalid: int
    note: str
    reason: str
    values: FloatArray
    probabilities: FloatArray

    @property
    def spread(self) -> float:
        """Standard uncertainty, or where there is none, that of a normal quantity with the same symmetric interval."""
        if math.isfinite(self.standard_uncertainty):
            return self.standard_uncertainty
        return normal_spread(self.interval_symmetric, self.coverage)


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
    method : {"quasi", "plain"}
        Replicated scrambled Sobol' nets, or pseudo-random batches, which without ``trials`` are the adaptive
        procedure of JCGM 101, 7.9.
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
    ends = tails(model, drawing)
    if method == "quasi" and ends.has_variance:
        drawing = drawing.stretching(ends.heavy)
    with ThreadPoolExecutor(workers) if workers > 1 else nullcontext() as pool:
        run = Trials(model, drawing, seed, pool)
        found = Replicates(coverage, accuracy, ends, even=method == "quasi")
        if method == "plain":
            _plain(run, found, trials)
        elif trials is None:
            found = _growing(run, found)
        else:
            exponent = min((trials // REPLICATES).bit_length() - 1, LARGEST_EXPONENT)
            for _ in range(trials >> exponent):
                found.add(*run.of_net(run.fresh_net(), 0, 1 << exponent))
        settles = bool(drawing.stretched.issuperset(map(drawing.symbols.index, ends.heavy)) or ends.order > 4.0)
        return _summary(run, found, method, settles=settles)


def _plain(run: Trials, found: Replicates, trials: int | None) -> None:
    """Pseudo-random batches; without a number of trials by JCGM 101, 7.9.4: until every result is stable."""
    if trials is not None:
        exponent = min((trials // REPLICATES).bit_length() - 1, LARGEST_EXPONENT)
        for _ in range(trials >> exponent):
            found.add(*run.batch(1 << exponent))
        return
    size = max(math.ceil(100.0 / (1.0 - found.coverage)), 10_000)
    while run.count + size <= MOST_TRIALS and (found.count < FEWEST_BATCHES or not found.stable()):
        found.add(*run.batch(size))


def _growing(run: Trials, found: Replicates) -> Replicates:
    """Let nets grow, each by as many points again, and then their number, until the figures are stable."""
    size, largest = FIRST_TRIALS // REPLICATES, 1 << LARGEST_EXPONENT
    nets = [run.fresh_net() for _ in range(REPLICATES)]
    parts = [run.of_net(net, 0, size) for net in nets]
    while True:
        found = found.anew()
        for part in parts:
            found.add(*part)
        if found.stable():
            return found
        if size == largest:
            break
        parts = [joined([part, run.of_net(net, size, 2 * size)]) for net, part in zip(nets, parts, strict=True)]
        size *= 2
    parts.clear()
    while not found.stable() and run.count < MOST_TRIALS:
        for _ in range(found.count):
            found.add(*run.of_net(run.fresh_net(), 0, largest))
    return found


def _check_numbers(trials: int | None, seed: int, method: str) -> None:
    if method not in ("quasi", "plain"):
        raise BudgetError(f"method: must be quasi or plain (got {method})")
    if trials is not None and trials < FEWEST_TRIALS:
        raise BudgetError(f"trials: must be at least {FEWEST_TRIALS} (got {trials})")
    if seed < 0:
        raise BudgetError(f"seed: must not be negative (got {seed})")


def _summary(run: Trials, found: Replicates, method: str, *, settles: bool) -> Simulation:
    moments, low, high, values = np.split(found.means(), [2, 3 + STEPS, 4 + 2 * STEPS])
    shortest, errors_shortest = found.shortest()
    errors = found.errors().tolist()
    estimate = float(moments[0]) if found.tails.has_mean else math.nan
    uncertainty = float(moments[1]) if found.tails.has_variance else math.nan
    symmetric = (float(low[STEPS // 2]), float(high[STEPS // 2]))
    spread = uncertainty if found.tails.has_variance else normal_spread(symmetric, found.coverage)
    return Simulation(
        method=method,
        trials=run.count,
        coverage=found.coverage,
        estimate=estimate,
        standard_uncertainty=uncertainty,
        median=float(values[FIGURE_LEVELS.size // 2]),
        interval_symmetric=symmetric,
        interval_shortest=shortest,
        errors=(errors[0], errors[1], errors[2], errors[3]),
        errors_shortest=errors_shortest,
        numerical_tolerance=numerical_tolerance(spread),
        converged=found.tails.has_variance and settles and found.stable(),
        invalid=run.invalid,
        note=run.note,
        reason="" if found.tails.has_variance else found.tails.reason,
        values=values,
        probabilities=FIGURE_LEVELS,
    )


def _certain(model: MeasurementModel, coverage: float, method: str) -> Simulation:
    """Return the simulation of a model without uncertain inputs."""
    value = model.at_estimates()
    ends = (value, value)
    return Simulation(
        method=method,
        trials=1,
        coverage=coverage,
        estimate=value,
        standard_uncertainty=0.0,
        median=value,
        interval_symmetric=ends,
        interval_shortest=ends,
        errors=(0.0, 0.0, 0.0, 0.0),
        errors_shortest=(0.0, 0.0),
        numerical_tolerance=0.0,
        converged=True,
        invalid=0,
        note="",
        reason="",
        values=np.array(ends),
        probabilities=np.array([0.0, 1.0]),
    )
