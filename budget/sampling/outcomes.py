"""Outcomes of a simulation, kept in bounded memory: moments, end points of coverage intervals, a histogram."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal, localcontext

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from budget.errors import BudgetError

KEPT = 1 << 22
"""Outcomes kept one by one; beyond this number they go into a fine histogram."""
BINS = 1 << 20
PICKED = 1 << 16
"""Outcomes a figure is drawn from."""


def _scattered(size: int) -> slice | NDArray[np.intp]:
    """
    Places of at most ``PICKED`` of so many outcomes, one at random in each run of equal length.

    Sobol' points at equal distances share digits, so that every 8th would leave out 7/8 of an input's range.
    """
    step = -(-size // PICKED)
    if step == 1:
        return slice(None)
    begins = np.arange(0, size - step + 1, step)
    return begins + np.random.default_rng(size).integers(0, step, begins.size)


@dataclass
class Outcomes:
    """
    Collects outcomes block by block.

    Up to ``KEPT`` outcomes are kept; then they move to a histogram of ``BINS`` classes over twice their range,
    with the outcomes beyond it kept apart, so that memory does not grow with the number of trials.
    """

    count: int = 0
    mean: float = 0.0
    squares: float = 0.0
    _kept: list[FloatArray] = field(default_factory=list)
    _histogram: _Histogram | None = None
    _sorted: tuple[float, FloatArray, FloatArray] | None = None
    _picked: FloatArray | None = None

    def add(self, block: FloatArray) -> None:
        """Take in a block of finite outcomes."""
        if not block.size:
            return
        self._sorted = self._picked = None
        mean = float(np.mean(block))
        difference = mean - self.mean
        total = self.count + block.size
        off = block - mean
        self.squares += float(np.einsum("i,i->", off, off)) + difference**2 * self.count * block.size / total
        self.mean += difference * block.size / total
        self.count = total
        if self._histogram is not None:
            self._histogram.add(block)
            return
        self._kept.append(block)
        if total > KEPT:
            self._histogram = _Histogram.over(self._kept)
            self._kept = []

    @property
    def standard_deviation(self) -> float:
        """Experimental standard deviation of the outcomes, JCGM 101, 7.6."""
        return float(np.sqrt(self.squares / (self.count - 1))) if self.count > 1 else 0.0

    @property
    def resolution(self) -> float:
        """Width of the classes end points are interpolated in; 0 while all outcomes are kept."""
        return self._histogram.width if self._histogram is not None else 0.0

    def distribution(self, tail: float = 0.5) -> tuple[FloatArray, FloatArray]:
        """
        Return the distribution function of the outcomes, JCGM 101, 7.5.

        Parameters
        ----------
        tail : float
            Probability of the part wanted at each end; what lies between is left out, and need not be sorted.

        Returns
        -------
        values, probabilities : ndarray
            Ascending values and the probability of an outcome not above each.
        """
        if self._histogram is not None:
            return self._histogram.distribution()
        if self._sorted is not None and self._sorted[0] == tail:
            return self._sorted[1:]
        self._sorted = (tail, *self._sort(tail))
        return self._sorted[1:]

    def _sort(self, tail: float) -> tuple[FloatArray, FloatArray]:
        values = np.concatenate(self._kept)
        size = values.size
        if tail > 0.2 or size <= PICKED:
            return np.sort(values), (np.arange(size) + 0.5) / size
        picked = self.sample()  # tells where the tails begin, but for its own error
        margin = tail + 5.0 * np.sqrt(tail * (1.0 - tail) / picked.size)
        below, above = quantiles(picked, np.array([margin, 1.0 - margin]))
        low, high = np.sort(values[values <= below]), np.sort(values[values > above])
        if min(low.size, high.size) <= tail * size + 1.0:
            return np.sort(values), (np.arange(size) + 0.5) / size
        ranks = np.concatenate([np.arange(low.size), np.arange(size - high.size, size)])
        return np.concatenate([low, high]), (ranks + 0.5) / size

    def sample(self) -> FloatArray:
        """Return at most ``PICKED`` of the outcomes, in ascending order; of a histogram, as many quantiles."""
        if self._histogram is not None:
            values, probabilities = self._histogram.distribution()
            return inverted(values, probabilities, (np.arange(PICKED) + 0.5) / PICKED)
        if self._picked is None:
            values = np.concatenate(self._kept)
            self._picked = np.sort(values[_scattered(values.size)])
        return self._picked

    def sampling_errors(self, coverage: float) -> FloatArray:
        """
        Return the standard errors of mean, standard deviation and interval ends of independent outcomes.

        Parameters
        ----------
        coverage : float
            Coverage probability of the probabilistically symmetric interval.

        Returns
        -------
        ndarray, shape (4,)
            From the second and fourth central moments, and from the spread of order statistics.
        """
        sample = self.sample()
        squares = np.square(sample - np.mean(sample))
        variance, fourth = float(np.mean(squares)), float(np.mean(np.square(squares)))
        spread = np.sqrt(max(fourth - variance**2, 0.0) / self.count)
        deviation = spread / (2.0 * np.sqrt(variance)) if variance > 0.0 else 0.0
        tail = 0.5 * (1.0 - coverage)
        reach = np.sqrt(tail * (1.0 - tail) / self.count)
        values, probabilities = self.distribution(2.0 * tail)
        low, high = (inverted(values, probabilities, np.array([p - reach, p + reach])) for p in (tail, 1.0 - tail))
        return np.array([np.sqrt(variance / self.count), deviation, 0.5 * np.ptp(low), 0.5 * np.ptp(high)])


@dataclass
class _Histogram:
    start: float
    width: float
    counts: FloatArray
    outside: list[FloatArray] = field(default_factory=list)

    @classmethod
    def over(cls, blocks: list[FloatArray]) -> _Histogram:
        """Make a histogram over twice the range of the central outcomes and take the blocks in."""
        sample = np.concatenate(blocks)
        low, middle, high = np.quantile(sample, [1e-5, 0.5, 1.0 - 1e-5])
        low, high = middle + 1.5 * (low - middle), middle + 1.5 * (high - middle)
        width = max((high - low) / BINS, 4e-16 * max(abs(low), abs(high)), 1e-300)
        histogram = cls(float(low), float(width), np.zeros(BINS, dtype=np.int64))
        for first in range(0, sample.size, 1 << 16):
            histogram.add(sample[first : first + (1 << 16)])
        return histogram

    def add(self, block: FloatArray) -> None:
        place = (block - self.start) * (1.0 / self.width)
        inside = (place >= 0.0) & (place < BINS)
        if not np.all(inside):
            self._add_outside(block[~inside])
            place = place[inside]
        np.add.at(self.counts, place.astype(np.int64), 1)

    def _add_outside(self, block: FloatArray) -> None:
        self.outside.append(block)
        if sum(part.size for part in self.outside) > KEPT:
            raise BudgetError(
                "trials: must be fewer for a distribution with such long tails (got too many outliers to keep)"
            )

    def distribution(self) -> tuple[FloatArray, FloatArray]:
        outside = np.sort(np.concatenate(self.outside)) if self.outside else np.empty(0)
        below = outside[outside < self.start]
        above = outside[below.size :]
        edges = self.start + self.width * np.arange(BINS + 1)
        inner = below.size + np.concatenate([[0], np.cumsum(self.counts)])
        total = inner[-1] + above.size
        values = np.concatenate([below, edges, above])
        ranks = np.concatenate([np.arange(below.size) + 0.5, inner, inner[-1] + np.arange(above.size) + 0.5])
        return values, ranks / total


def inverted(values: FloatArray, probabilities: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return the values at wanted probabilities, interpolated in the distribution function (JCGM 101, 7.7)."""
    return np.interp(wanted, probabilities, values)


def quantiles(outcomes: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return the quantiles of outcomes in any order; only those needed are sorted out."""
    size = outcomes.size
    rank = np.clip(wanted * size - 0.5, 0.0, size - 1.0)
    below = np.floor(rank).astype(int)
    above = np.minimum(below + 1, size - 1)
    sorted_out = np.partition(outcomes, np.unique(np.concatenate([below, above])))
    lower, upper = sorted_out[below], sorted_out[above]
    return np.asarray(lower + (rank - below) * (upper - lower), dtype=float)


def shortest_interval(values: FloatArray, probabilities: FloatArray, coverage: float) -> tuple[float, float]:
    """
    Return the shortest interval of a coverage probability, JCGM 101, 5.3.4 and 7.7.4.

    Parameters
    ----------
    values, probabilities : ndarray
        Distribution function, both ascending.
    coverage : float
        Coverage probability. [1]

    Notes
    -----
    The width as a function of the lower probability is noisy; a quadratic fitted near its minimum places the
    minimum to the noise of the fit, not of single outcomes.
    """
    spare = 1.0 - coverage
    lower = np.linspace(0.0, spare, 2001)
    low, high = inverted(values, probabilities, lower), inverted(values, probabilities, lower + coverage)
    width = high - low
    best = int(np.argmin(width))
    chosen = lower[best]
    if 0 < best < lower.size - 1:
        near = width <= width[best] + 0.02 * (np.median(width) - width[best])
        near &= np.abs(lower - chosen) <= 0.25 * spare
        if np.count_nonzero(near) >= 5:
            curve = np.polynomial.Polynomial.fit(lower[near], width[near], 2).convert().coef
            if len(curve) == 3 and curve[2] > 0.0:
                chosen = float(np.clip(-0.5 * curve[1] / curve[2], lower[near][0], lower[near][-1]))
    ends = inverted(values, probabilities, np.array([chosen, chosen + coverage]))
    return float(ends[0]), float(ends[1])


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


def rounded_statement(estimate: float, uncertainty: float, digits: int = 2) -> tuple[Decimal, Decimal]:
    """
    Round an uncertainty to a few significant digits and its estimate to the same place, JCGM 100, 7.2.6.

    Parameters
    ----------
    estimate, uncertainty : float
        Of one quantity; standard or expanded uncertainty.
    digits : int
        Significant digits kept.

    Returns
    -------
    estimate, uncertainty : decimal.Decimal
        With their trailing zeros; as they are where the uncertainty is 0 or not finite.

    Notes
    -----
    The clause leaves room for sense: it rounds 10.47 up to 11 and 28.05 down to 28. Here an uncertainty is rounded
    up where rounding to the nearest would take away more than 1 % of it.

    Examples
    --------
    >>> print(*rounded_statement(10.05762, 0.027), *rounded_statement(100.0, 10.47), *rounded_statement(0.0, 28.05))
    10.058 0.027 100 11 0 28
    """
    exact = Decimal(repr(float(uncertainty)))
    if not (math.isfinite(uncertainty) and math.isfinite(estimate)) or uncertainty <= 0.0:
        return Decimal(repr(float(estimate))), exact
    place = Decimal(1).scaleb(exact.adjusted() - digits + 1)
    with localcontext() as context:
        context.prec = 400
        rounded = exact.quantize(place, ROUND_HALF_EVEN)
        if rounded < exact * Decimal("0.99"):
            rounded = exact.quantize(place, ROUND_CEILING)
        place = Decimal(1).scaleb(rounded.adjusted() - digits + 1)  # 0.0996 becomes 0.10
        rounded = rounded.quantize(place, ROUND_HALF_EVEN)
        value = Decimal(repr(float(estimate))).quantize(place, ROUND_HALF_EVEN)
    if place.as_tuple().exponent > 0:  # type: ignore[operator]
        return Decimal(int(value)), Decimal(int(rounded))
    return value, rounded
