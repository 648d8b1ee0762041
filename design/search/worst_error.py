"""
The worst error in closed form: a quantile of the size of the error, and how far off it may be.

What is sharp (``design.search.sharp``: droplets, above all) is stood for by points, and enters with all of its shape.
The rest is a sum of quantities that are each symmetric and of one hump, or a little skewed, and is taken as normal.

Mean and mean square M bound a quantile of the size from above: at coverage q it is at most (M/(1 - q))^(1/2) by
Chebyshev's inequality, and for a distribution of one hump two thirds of that from q = 5/6 on [1]_. They do not bound it
from below, since nearly all of the probability may lie at 0. So the bounds are taken from shapes. With all quantities
but one held at any values, the size stays below t at most as often as that one lies in its best interval of length 2t:
one that is alone is the worst case. A rectangular one gives a smaller quantile than a normal one at high coverage (0.84
of it at 0.95, 0.44 at 0.9999), one with a long tail a larger. ``FAMILIES`` are the extremes of what is not sharp; each
by itself, with every bias, gives ``least_factor`` and ``largest_factor`` at the coverage asked. That mixtures of them
lie in between is no theorem; a sweep in the tests holds it. Near coverage 1 few draws lie beyond the quantile of a
sample, and its scatter is added.

Not held are knowledge so wide that one draw makes the variance, as a heat loss that may exceed the power, and more than
two sharp quantities that matter alike.

References
----------
.. [1] Vysochanskij and Petunin 1980, Theory of Probability and Mathematical Statistics 21, 25-36, after Gauss 1823,
   whose origin is the mode (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

FloatArray = NDArray[np.float64]
DistributionFunction = Callable[[FloatArray], FloatArray]

RESERVE = 0.95
"""What mixtures may lie below the least of the pure families; held by a sweep over mixtures."""
TAIL = 0.95
"""Coverage beyond which products of errors lengthen the tail: they grow with the square of the coverage factor."""
FINE = 2.0**-10
"""How closely a quantile is looked for, over the root of the mean square."""
LEAST_SPREAD = 1e-12
"""Standard uncertainty that stands for none. [1]"""
BIASES = np.concatenate([np.linspace(0.0, 8.0, 161), np.geomspace(8.5, 100.0, 20)])
"""Biases, in standard uncertainties, over which families are compared."""
MODERATE = math.sqrt(math.log(1.25))
"""Standard deviation of the logarithm of a lognormal quantity known to half its value."""


def quantile(
    bias: FloatArray, variance: FloatArray, weights: FloatArray, shifts: FloatArray, more: FloatArray, coverage: float
) -> FloatArray:
    """
    Quantile of the size of a normal quantity that is shifted, and widened, by one of several amounts.

    Parameters
    ----------
    bias, variance : ndarray
        Of the normal quantity; shapes broadcast. [1]
    weights : ndarray, shape (k,)
        Probabilities of the shifts. [1]
    shifts, more : ndarray, shape (k, ...)
        Amounts, and what each adds to the variance. [1]
    coverage : float
        Probability that is not to be exceeded. [1]

    Returns
    -------
    ndarray
        To about ``FINE`` times the root of the mean square. [1]
    """
    parts = [
        (weight, bias + shift, np.maximum(np.sqrt(variance + wider), LEAST_SPREAD))
        for weight, shift, wider in zip(weights, shifts, more, strict=True)
    ]
    mean_square = sum((weight * (size**2 + spread**2) for weight, size, spread in parts), np.zeros(()))
    low, high = np.zeros(mean_square.shape), np.sqrt(mean_square / (1.0 - coverage))
    for _ in range(math.ceil(-math.log2(FINE * math.sqrt(1.0 - coverage)))):
        middle = 0.5 * (low + high)
        inside = np.zeros(middle.shape)
        for weight, size, spread in parts:
            inside += weight * (special.ndtr((middle - size) / spread) - special.ndtr((-middle - size) / spread))
        low, high = np.where(inside < coverage, middle, low), np.where(inside < coverage, high, middle)
    return np.asarray(0.5 * (low + high))


def _rectangular(x: FloatArray) -> FloatArray:
    return np.clip(0.5 * (x / math.sqrt(3.0) + 1.0), 0.0, 1.0)


def _lognormal(x: FloatArray) -> FloatArray:
    mean = math.exp(0.5 * MODERATE**2)
    value = mean * (1.0 + x * math.sqrt(math.expm1(MODERATE**2)))
    return np.asarray(special.ndtr(np.log(np.maximum(value, 1e-300)) / MODERATE))


def _turned(function: DistributionFunction) -> DistributionFunction:
    return lambda x: 1.0 - function(-x)


FAMILIES: Mapping[str, DistributionFunction] = {
    "normal": special.ndtr,
    "rectangular": _rectangular,
    "lognormal": _lognormal,
    "lognormal, turned": _turned(_lognormal),
}
"""Distribution functions of mean 0 and variance 1."""


def least_factor(coverage: float, trials: int) -> float:
    """Least value that a sample of ``trials`` gives, over the estimate; see the notes of this module. [1]"""
    return RESERVE * (_ratios(coverage)[0] - _scatter(coverage, trials))


def largest_factor(coverage: float, trials: int) -> float:
    """Largest value that a sample of ``trials`` gives, over the estimate; see the notes of this module. [1]"""
    return _ratios(coverage)[1] * max(_factor(coverage) / _factor(TAIL), 1.0) + _scatter(coverage, trials)


@lru_cache(maxsize=64)
def _ratios(coverage: float) -> tuple[float, float]:
    """Least and largest quantile of the families over that of a normal distribution, whatever the bias. [1]"""
    normal = _by_bias(special.ndtr, coverage)
    ratios = [_by_bias(function, coverage) / normal for function in FAMILIES.values()]
    return float(np.min(ratios)), float(np.max(ratios))


def _factor(coverage: float) -> float:
    """Coverage factor of a normal distribution. [1]"""
    return float(special.ndtri(0.5 + 0.5 * coverage))


def _scatter(coverage: float, trials: int) -> float:
    """Relative standard error of a normal distribution's quantile in a random sample. [1]"""
    factor = _factor(coverage)
    density = 2.0 * math.exp(-0.5 * factor**2) / math.sqrt(2.0 * math.pi)
    return math.sqrt(coverage * (1.0 - coverage) / trials) / (density * factor)


def _by_bias(function: DistributionFunction, coverage: float) -> FloatArray:
    low, high = np.zeros(BIASES.shape), BIASES + 1.0 / math.sqrt(1.0 - coverage)
    for _ in range(60):
        middle = 0.5 * (low + high)
        inside = function(middle - BIASES) - function(-middle - BIASES) >= coverage
        low, high = np.where(inside, low, middle), np.where(inside, middle, high)
    return high
