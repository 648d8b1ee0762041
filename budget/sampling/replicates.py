"""Figures of independent replicates of a simulation, and the numerical error that follows from their spread."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.sampling.tails import Tails

POOLED = 1 << 18
"""Outcomes up to which quantiles are those of all together; beyond, so that memory is bounded, their mean over nets."""
STEPS = 2000
"""Steps of the probability that the shortest interval is looked for in."""
LOW = 2 + STEPS // 2
HIGH = LOW + STEPS + 1
"""Places of the ends of the symmetric interval among the figures of a replicate."""
NO_TAILS = Tails(math.inf)
"""Of a distribution with all moments."""
FIGURE_LEVELS = np.linspace(0.0, 1.0, 1001)


class Replicates:
    """
    Figures of independent replicates; from their spread follows the numerical error.

    ``accuracy`` is the part of the numerical tolerance to reach, ``tails`` which moments there are to be found.
    """

    def __init__(self, coverage: float, accuracy: float = 1.0, tails: Tails = NO_TAILS) -> None:
        self.coverage = coverage
        self.tails = tails
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
        errors = np.std(figures, axis=0, ddof=1) / math.sqrt(self.count)
        return np.where([self.tails.has_mean, self.tails.has_variance, True, True], errors, np.nan)

    def stable(self) -> bool:
        """Tell whether twice every standard error that exists is within the numerical tolerance, JCGM 101, 7.9.4."""
        figures = np.mean([row[[1, LOW, HIGH]] for row in self._figures], axis=0)
        spread = figures[0] if self.tails.has_variance else normal_spread((figures[1], figures[2]), self.coverage)
        return bool(2.0 * np.nanmax(self.errors()) <= self._accuracy * numerical_tolerance(float(spread)))

    def _figures_of(self, outcomes: FloatArray) -> FloatArray:
        ranks = (np.arange(outcomes.size) + 0.5) / outcomes.size
        deviation = float(np.std(outcomes, ddof=1)) if outcomes.size > 1 else 0.0
        return np.concatenate(
            [[float(np.mean(outcomes)), deviation], np.interp(self._levels, ranks, np.sort(outcomes))]
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


def normal_spread(interval: tuple[float, float], coverage: float) -> float:
    """Return the standard deviation of a normal quantity with an interval of a coverage probability."""
    return float((interval[1] - interval[0]) / (2.0 * special.ndtri(0.5 * (1.0 + coverage))))


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
