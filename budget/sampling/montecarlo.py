"""Propagation of distributions (JCGM 101) by replicates: scrambled Sobol' nets, or pseudo-random batches."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.propagation import check_coverage
from budget.sampling.draws import Draws, Sampler, random_draws, sampler
from budget.sampling.quasirandom import LARGEST_EXPONENT, scrambled_net

Method = Literal["quasi", "plain"]
FEWEST_TRIALS = 100
FIRST_TRIALS = 1 << 15
MOST_TRIALS = 1 << 24
"""Trials with which a simulation left to itself begins, and after which it says that it has not converged."""
REPLICATES = 8
"""Independent replicates at least: enough to judge the error by their spread."""
FEWEST_BATCHES = 10
"""Batches before the adaptive procedure may stop: two or three can agree by chance."""
POOLED = 1 << 18
"""Outcomes up to which quantiles are those of all together; beyond, so that memory is bounded, their mean over nets."""
STEPS = 2000
"""Steps of the probability that the shortest interval is looked for in."""
LOW = 2 + STEPS // 2
HIGH = LOW + STEPS + 1
"""Places of the ends of the symmetric interval among the figures of a replicate."""
FIGURE_LEVELS = np.linspace(0.0, 1.0, 1001)


@dataclass(frozen=True)
class Simulation:
    """
    Distribution of the measurand by simulation.

    Estimate and standard uncertainty are those of the outcomes, JCGM 101, 7.6; ``errors`` are the standard errors of
    both and of the ends of the symmetric interval; ``converged`` says whether twice every error is within the part of
    the numerical tolerance (7.9.2) that was asked for. ``invalid`` trials had no value, which ``note`` explains.
    ``values`` and ``probabilities``, of shape (1001,), are the distribution function, for figures.
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
    with ThreadPoolExecutor(workers) if workers > 1 else nullcontext() as pool:
        size = trials or FIRST_TRIALS
        while True:
            run = Trials(model, drawing, seed, pool)
            found = Replicates(coverage, accuracy)
            if method == "plain" and trials is None:
                _adaptive(run, found)
            else:
                exponent = min((size // REPLICATES).bit_length() - 1, LARGEST_EXPONENT)
                for _ in range(size >> exponent):
                    found.add(run.net(exponent) if method == "quasi" else run.batch(1 << exponent))
            if trials is not None or method == "plain" or found.stable() or size >= MOST_TRIALS:
                return _summary(run, found, method)
            size *= 2


def _check_numbers(trials: int | None, seed: int, method: str) -> None:
    if method not in ("quasi", "plain"):
        raise BudgetError(f"method: must be quasi or plain (got {method})")
    if trials is not None and trials < FEWEST_TRIALS:
        raise BudgetError(f"trials: must be at least {FEWEST_TRIALS} (got {trials})")
    if seed < 0:
        raise BudgetError(f"seed: must not be negative (got {seed})")


def _adaptive(run: Trials, found: Replicates) -> None:
    """JCGM 101, 7.9.4: batches until twice the standard error of each result is within the tolerance."""
    size = max(math.ceil(100.0 / (1.0 - found.coverage)), 10_000)
    while run.count + size <= MOST_TRIALS and (found.count < FEWEST_BATCHES or not found.stable()):
        found.add(run.batch(size))


class Replicates:
    """
    Figures of independent replicates; from their spread follows the numerical error.

    ``accuracy`` is the part of the numerical tolerance to reach.
    """

    def __init__(self, coverage: float, accuracy: float = 1.0) -> None:
        self.coverage = coverage
        self._accuracy = accuracy
        lower = np.linspace(0.0, 1.0 - coverage, STEPS + 1)
        self._levels = np.concatenate([lower, lower + coverage, FIGURE_LEVELS])
        self._figures: list[FloatArray] = []
        self._kept: list[FloatArray] = []
        self._pooled = 0

    @property
    def count(self) -> int:
        """Number of replicates."""
        return len(self._figures)

    def add(self, outcomes: FloatArray) -> None:
        """Take in the outcomes of a replicate."""
        self._figures.append(self._figures_of(outcomes))
        self._pooled += outcomes.size
        self._kept = [*self._kept, outcomes] if self._pooled <= POOLED else []

    def means(self) -> FloatArray:
        """Return estimate, standard uncertainty, and the quantiles at the tails' and the figure's levels."""
        if self._kept:
            return self._figures_of(np.concatenate(self._kept))
        figures = np.array(self._figures)
        means = np.mean(figures, axis=0)
        means[1] = math.sqrt(float(np.mean(figures[:, 1] ** 2)))
        return np.asarray(means)

    def errors(self) -> FloatArray:
        """Return the standard errors of estimate, standard uncertainty and both ends, shape (4,)."""
        figures = np.array([row[[0, 1, LOW, HIGH]] for row in self._figures])
        if self.count < 2:
            return np.full(4, np.inf)
        return np.asarray(np.std(figures, axis=0, ddof=1) / math.sqrt(self.count))

    def stable(self) -> bool:
        """Tell whether twice every standard error is within the numerical tolerance, JCGM 101, 7.9.4."""
        uncertainty = float(np.mean([row[1] for row in self._figures]))
        return bool(2.0 * np.max(self.errors()) <= self._accuracy * numerical_tolerance(uncertainty))

    def _figures_of(self, outcomes: FloatArray) -> FloatArray:
        ranks = (np.arange(outcomes.size) + 0.5) / outcomes.size
        deviation = float(np.std(outcomes, ddof=1)) if outcomes.size > 1 else 0.0
        return np.concatenate(
            [[float(np.mean(outcomes)), deviation], np.interp(self._levels, ranks, np.sort(outcomes))]
        )


def _summary(run: Trials, found: Replicates, method: str) -> Simulation:
    moments, low, high, values = np.split(found.means(), [2, 3 + STEPS, 4 + 2 * STEPS])
    estimate, uncertainty = moments.tolist()
    errors = found.errors().tolist()
    return Simulation(
        method=method,
        trials=run.count,
        coverage=found.coverage,
        estimate=estimate,
        standard_uncertainty=uncertainty,
        interval_symmetric=(float(low[STEPS // 2]), float(high[STEPS // 2])),
        interval_shortest=shortest_interval(low, high),
        errors=(errors[0], errors[1], errors[2], errors[3]),
        numerical_tolerance=numerical_tolerance(uncertainty),
        converged=found.stable(),
        invalid=run.invalid,
        note=run.note,
        values=values,
        probabilities=FIGURE_LEVELS,
    )


def _certain(model: MeasurementModel, coverage: float, method: str) -> Simulation:
    """Return the simulation of a model without uncertain inputs."""
    value = model.at_estimates()
    ends = (value, value)
    none = (0.0, 0.0, 0.0, 0.0)
    return Simulation(
        method, 1, coverage, value, 0.0, ends, ends, none, 0.0, True, 0, "", np.array(ends), np.array([0.0, 1.0])
    )


def shortest_interval(low: FloatArray, high: FloatArray) -> tuple[float, float]:
    """
    Return the shortest of the intervals of one coverage probability, JCGM 101, 5.3.4 and 7.7.4.

    Parameters
    ----------
    low, high : ndarray, shape (k,)
        Their ends, at equal steps of the probability below.

    Notes
    -----
    The width as a function of the lower probability is noisy; a quadratic fitted near its minimum places the
    minimum to the noise of the fit, not of single outcomes.
    """
    width, place = high - low, np.arange(low.size, dtype=np.float64)
    best = int(np.argmin(width))
    chosen = float(best)
    near = width <= width[best] + 0.02 * (np.median(width) - width[best])
    near &= np.abs(place - best) <= 0.25 * (low.size - 1)
    if 0 < best < low.size - 1 and np.count_nonzero(near) >= 5:
        curve = np.polynomial.Polynomial.fit(place[near], width[near], 2).convert().coef
        if len(curve) == 3 and curve[2] > 0.0:
            chosen = float(np.clip(-0.5 * curve[1] / curve[2], place[near][0], place[near][-1]))
    return float(np.interp(chosen, place, low)), float(np.interp(chosen, place, high))


def numerical_tolerance(standard_uncertainty: float, digits: int = 2) -> float:
    """
    Return half a unit in the last of the significant digits of a standard uncertainty, JCGM 101, 7.9.2.

    Examples
    --------
    >>> numerical_tolerance(0.00035), numerical_tolerance(2.0, digits=1)
    (5e-06, 0.5)
    """
    if standard_uncertainty <= 0.0 or not math.isfinite(standard_uncertainty):
        return 0.0
    exponent = int(f"{standard_uncertainty:.{digits - 1}e}".split("e")[1]) - (digits - 1)
    return float(f"5e{exponent - 1}")


RANDOM_BLOCK = 8192
"""Pseudo-random draws made at a time."""
MOST_INVALID = 1e-3
"""Share of trials without a value above which a simulation is refused."""
_NEEDS: Mapping[str, str] = MappingProxyType(
    {
        "log": "log needs a positive number",
        "log10": "log10 needs a positive number",
        "sqrt": "sqrt needs a number that is not negative",
        "asin": "asin needs a number between -1 and 1",
        "acos": "acos needs a number between -1 and 1",
        "divide": "a divisor must not be zero",
        "reciprocal": "a divisor must not be zero",
        "power": "a fractional power needs a positive number",
    }
)


def fault_of(model: MeasurementModel, draws: Draws) -> str:
    """Say which operation has no value for draws that give none, and through which inputs."""
    program = model.program
    values: dict[str, ArrayLike] = {**model.constants, **draws}
    reach = program.reach
    results = program.all_results(values)
    for index, (name, operands) in enumerate(program.operations):
        if name in ("symbol", "number") or np.all(np.isfinite(results[index])):
            continue
        symbols = reach[operands[-1]] if name in ("divide", "power") else reach[index]
        through = ", ".join(s for s in model.symbols if s in (symbols or reach[index]))
        return f"{_NEEDS.get(name, f'{name} must not overflow')}, not met through {through}"
    return f"every value must be finite, not met through {', '.join(model.uncertain)}"


class Trials:
    """
    Makes replicates of a simulation, in blocks that threads share; every replicate has a seed of its own.

    It counts what it evaluates, and what of it had no value.
    """

    def __init__(self, model: MeasurementModel, drawing: Sampler, seed: int, pool: Executor | None = None) -> None:
        self.count = 0
        self.invalid = 0
        self.note = ""
        self._model = model
        self._drawing = drawing
        self._seeds = np.random.SeedSequence(seed)
        self._pool = pool

    def net(self, exponent: int) -> FloatArray:
        """Return the finite outcomes of a fresh net of 2^exponent points."""
        net = scrambled_net(self._drawing.dimension, exponent, np.random.default_rng(self._seeds.spawn(1)[0]))
        return self._run(lambda index: self._drawing.draws(net.block(index)), net.blocks)

    def batch(self, size: int) -> FloatArray:
        """Return the finite outcomes of pseudo-random draws."""
        seeds = self._seeds.spawn(-(-size // RANDOM_BLOCK))

        def draws(index: int) -> Draws:
            generator = np.random.Generator(np.random.SFC64(seeds[index]))
            return random_draws(self._drawing, generator, min(RANDOM_BLOCK, size - index * RANDOM_BLOCK))

        return self._run(draws, len(seeds))

    def _run(self, draws_of: Callable[[int], Draws], blocks: int) -> FloatArray:
        def work(index: int) -> tuple[FloatArray, Draws]:
            draws = draws_of(index)
            outcomes = self._model.evaluate_draws(draws)
            good = np.isfinite(outcomes)
            return outcomes, {} if good.all() else {symbol: values[~good] for symbol, values in draws.items()}

        results = map(work, range(blocks)) if self._pool is None else self._pool.map(work, range(blocks))
        return np.concatenate([self._valid(outcomes, faulty) for outcomes, faulty in results])

    def _valid(self, outcomes: FloatArray, faulty: Draws) -> FloatArray:
        """Leave out outcomes without a value, say why, and refuse where they are many."""
        self.count += outcomes.size
        if not faulty:
            return outcomes
        valid = outcomes[np.isfinite(outcomes)]
        self.invalid += outcomes.size - valid.size
        share = self.invalid / self.count
        fault = fault_of(self._model, faulty)
        self.note = f"no value in {self.invalid} of {self.count} trials ({100.0 * share:.2g} %): {fault}"
        if share > MOST_INVALID and self.invalid > 5:
            raise BudgetError(
                f"equation of {self._model.symbol}: must have a value for the draws of its inputs, but for at most "
                f"1 in 1000 (got {self.note})"
            )
        return valid
