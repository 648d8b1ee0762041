"""Figures of independent replicates of a simulation, and the numerical error that follows from their spread."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.sampling.tails import Tails

STEPS = 2000
"""Steps of the probability that the shortest interval is looked for in."""
LOW = 2 + STEPS // 2
HIGH = LOW + STEPS + 1
"""Places of the ends of the symmetric interval among the figures of a replicate."""
TAIL, HEAD = slice(2, 3 + STEPS), slice(3 + STEPS, 4 + 2 * STEPS)
"""Places of the lower and of the upper ends of all intervals of the coverage probability."""
SEEN = 8.0
"""Standard errors by which a width must differ from the smallest to be told from it."""
NO_TAILS = Tails(math.inf)
"""Of a distribution with all moments."""
ROUNDING = 4.0 * float(np.finfo(float).eps)
"""Of a sum of many numbers, as a part of the largest figure."""
FIT = 0.5
"""Part of the difference between a skew and a plain curve that the skew one may be off by."""
SKEWED = 12
"""Places from which a curve through widths may be skew."""
FIGURE_LEVELS = np.linspace(0.0, 1.0, 1001)


class Replicates:
    """
    Figures of independent replicates; from their spread follows the numerical error.

    ``accuracy`` is the part of the numerical tolerance to reach, ``tails`` which moments there are to be found;
    ``even`` draws, those of nets, know the mean so well that no degree of freedom is lost to it.
    """

    def __init__(self, coverage: float, accuracy: float = 1.0, tails: Tails = NO_TAILS, *, even: bool = False) -> None:
        self.coverage = coverage
        self.tails = tails
        self._accuracy = accuracy
        self._even = even
        lower = np.linspace(0.0, 1.0 - coverage, STEPS + 1)
        self._levels = np.concatenate([lower, lower + coverage, FIGURE_LEVELS])
        self._figures: list[FloatArray] = []
        self._fewest = math.inf

    @property
    def count(self) -> int:
        """Number of replicates."""
        return len(self._figures)

    def add(self, outcomes: FloatArray, weights: FloatArray | None = None) -> None:
        """Take in the outcomes of a replicate."""
        if weights is None:
            levels = self._quantiles(np.sort(outcomes))
            mean = float(np.mean(outcomes))
            lost, apart = 0.0 if self._even else 1.0, outcomes - mean
            squares = float(np.sum(np.square(apart, out=apart))) / max(outcomes.size - lost, 1.0)
        else:
            order, whole = np.argsort(outcomes), float(np.sum(weights))
            ordered, sizes = outcomes[order], weights[order]
            ranks = (np.cumsum(sizes) - 0.5 * sizes) / whole
            mean = float(np.sum(weights * outcomes)) / whole
            squares = float(np.sum(weights * (outcomes - mean) ** 2)) / whole
            levels = np.interp(self._levels, ranks, ordered)
        self._fewest = min(self._fewest, outcomes.size)
        self._figures.append(np.concatenate([[mean, squares], levels]))

    def _quantiles(self, ordered: FloatArray) -> FloatArray:
        """Return the quantiles of ordered outcomes, each of which stands for as much probability below as above it."""
        places = np.clip(self._levels * ordered.size - 0.5, 0.0, ordered.size - 1.0)
        below = places.astype(np.intp)
        low, high = ordered[below], ordered[np.minimum(below + 1, ordered.size - 1)]
        return np.asarray(low + (places - below) * (high - low))

    def anew(self) -> Replicates:
        """Return what asks for the same, with no replicate yet."""
        return Replicates(self.coverage, self._accuracy, self.tails, even=self._even)

    def means(self) -> FloatArray:
        """Return estimate, standard uncertainty, and the quantiles at the tails' and the figure's levels."""
        means = np.mean(np.array(self._figures), axis=0)
        means[1] = math.sqrt(means[1])
        return np.asarray(means)

    def errors(self) -> FloatArray:
        """
        Return the standard errors of estimate, standard uncertainty and the ends of the symmetric interval, shape (4,).

        They are enlarged so that twice each covers with 95 %, though it rests on few replicates, and never below what
        rounding does to so many numbers.
        """
        figures = np.array([row[[0, 1, LOW, HIGH]] for row in self._figures])
        deviation = math.sqrt(float(np.mean(figures[:, 1])))
        figures[:, 1] /= 2.0 * deviation if deviation > 0.0 else 1.0  # u is the root of the mean of squares
        there = [self.tails.has_mean, self.tails.has_variance, True, True]
        return np.where(there, self._errors_of(figures, np.abs(figures[:, [0, 2, 3]]).max()), np.nan)

    def stable(self) -> bool:
        """Tell whether twice every standard error is within the numerical tolerance, JCGM 101, 7.9.4."""
        squares, low, high = np.mean([row[[1, LOW, HIGH]] for row in self._figures], axis=0)
        spread = math.sqrt(squares) if self.tails.has_variance else normal_spread((low, high), self.coverage)
        return bool(2.0 * np.nanmax(self.errors()) <= self._accuracy * numerical_tolerance(spread))

    def shortest(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """
        Return the shortest interval, JCGM 101, 5.3.4 and 7.7.4, and the standard errors of its ends.

        The errors are those of the jackknife: the interval is found anew without each replicate. They are not below
        half of what the ends change over a step of the probability.
        """
        lows, highs = (np.array([row[part] for row in self._figures]) for part in (TAIL, HEAD))
        low, high = np.mean(lows, axis=0), np.mean(highs, axis=0)
        noise = np.std(highs - lows, axis=0, ddof=1) / math.sqrt(self.count) if self.count > 1 else np.zeros(low.size)
        window = near_shortest(high - low, noise)
        place = place_of_shortest(high - low, window)
        found = ends_at(place, low, high)
        if self.count < 2:
            return found, (math.inf, math.inf)
        without = [
            ends_at(place_of_shortest(h - v, window), v, h)
            for v, h in (
                (low + (low - one) / (self.count - 1), high + (high - other) / (self.count - 1))
                for one, other in zip(lows, highs, strict=True)
            )
        ]
        errors = self._errors_of((self.count - 1) * np.array(without), np.abs(found).max())
        coarse = STEPS / ((1.0 - self.coverage) * self._fewest)  # a replicate knows nothing beyond its first outcome
        reach = max(2.0 * coarse, 1.0) if min(place, STEPS - place) <= coarse else 1.0
        step = np.abs(np.subtract(ends_at(place + reach, low, high), ends_at(place - reach, low, high)))
        fit = np.subtract(found, ends_at(place_of_shortest(high - low, window, 2), low, high))
        errors = np.maximum(np.hypot(errors, FIT * fit), 0.5 * step)
        return found, (float(errors[0]), float(errors[1]))

    def _errors_of(self, figures: FloatArray, largest: float) -> FloatArray:
        if self.count < 2:
            return np.full(figures.shape[1], np.inf)
        few = float(special.stdtrit(self.count - 1, 0.975) / special.ndtri(0.975))
        errors = few * np.std(figures, axis=0, ddof=1) / math.sqrt(self.count)
        return np.asarray(np.maximum(errors, ROUNDING * largest))


def near_shortest(width: FloatArray, noise: FloatArray) -> FloatArray:
    """Return the places at which the width of intervals cannot be told from the smallest, three at least."""
    best = int(np.argmin(width))
    near = np.flatnonzero(width <= width[best] + SEEN * noise[best])
    low, high = min(near[0], best - 1), max(near[-1], best + 1)
    return np.arange(max(low, 0), min(high, width.size - 1) + 1)


def place_of_shortest(width: FloatArray, window: FloatArray, degree: int = 3) -> float:
    """Return the place of the smallest width by a curve through a window, which has the noise of the fit only."""
    if window[0] == 0 or window[-1] == width.size - 1 or window.size < 3:
        edge = window[int(np.argmin(width[window]))]
        if edge in (0, width.size - 1):
            return float(edge)
    middle, half = 0.5 * (window[0] + window[-1]), 0.5 * (window[-1] - window[0])
    degree = degree if window.size >= SKEWED else 2
    curve = np.polynomial.polynomial.polyfit((window - middle) / half, width[window], degree)
    slope, bend, skew = curve[1], curve[2], curve[3] if degree == 3 else 0.0
    room = bend**2 - 3.0 * skew * slope
    if bend <= 0.0 or room < 0.0:
        return float(window[int(np.argmin(width[window]))])
    return float(middle + half * np.clip(-slope / (bend + math.sqrt(room)), -1.0, 1.0))


def ends_at(place: float, low: FloatArray, high: FloatArray) -> tuple[float, float]:
    """Return the ends of the interval at a place."""
    places = np.arange(low.size)
    return float(np.interp(place, places, low)), float(np.interp(place, places, high))


def shortest_interval(low: FloatArray, high: FloatArray) -> tuple[float, float]:
    """
    Return the shortest of the intervals of one coverage probability, JCGM 101, 5.3.4 and 7.7.4.

    Parameters
    ----------
    low, high : ndarray, shape (k,)
        Their ends, at equal steps of the probability below.
    """
    return ends_at(place_of_shortest(high - low, near_shortest(high - low, np.zeros(low.size))), low, high)


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
