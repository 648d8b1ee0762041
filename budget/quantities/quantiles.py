"""Inverse distribution functions of the standard shapes: every input is location + scale × one of these."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.errors import BudgetError

Shape: TypeAlias = tuple[str | float, ...]
REVERSED = "reversed"


@dataclass(frozen=True)
class StandardForm:
    """
    A distribution as location + scale × a standard shape.

    Parameters
    ----------
    shape : tuple
        Hashable key of the standard shape: its name and parameters.
    location, scale : float
        In the unit of the quantity.
    """

    shape: Shape
    location: float
    scale: float


def standard_ppf(shape: Shape, u: FloatArray) -> FloatArray:
    """
    Return the quantiles of a standard shape.

    Parameters
    ----------
    shape : tuple
        Key from a ``StandardForm``.
    u : ndarray of float
        Probabilities in the open interval (0, 1).

    Returns
    -------
    ndarray of float, shape of u

    Raises
    ------
    BudgetError
        If the shape is not known.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4 and table 1.

    Examples
    --------
    >>> standard_ppf(("triangular",), np.array([0.125, 0.5]))
    array([-0.5,  0. ])
    """
    name, *parameters = shape
    if name == REVERSED:
        return -standard_ppf(shape[1:], 1.0 - u)
    try:
        quantile = _QUANTILES[str(name)]
    except KeyError:
        raise BudgetError(f"distribution: the shape must be one of {', '.join(_QUANTILES)} (got {name})") from None
    return quantile(u, *parameters)


def _constant(u: FloatArray) -> FloatArray:
    return np.zeros_like(u)


def _normal(u: FloatArray) -> FloatArray:
    return np.asarray(special.ndtri(u), dtype=float)


def _student_t(u: FloatArray, degrees_of_freedom: float) -> FloatArray:
    return np.asarray(special.stdtrit(degrees_of_freedom, u), dtype=float)


def _rectangular(u: FloatArray) -> FloatArray:
    return 2.0 * u - 1.0


def _triangular(u: FloatArray) -> FloatArray:
    return _trapezoidal(u, 0.0)


def _trapezoidal(u: FloatArray, top_ratio: float) -> FloatArray:
    """Quantiles on [-1, 1] of the trapezoid with a top of half-width ``top_ratio``; JCGM 101, 6.4.4."""
    tail = np.minimum(u, 1.0 - u)
    depth = np.sqrt(2.0 * (1.0 - top_ratio**2) * tail)  # distance from the nearer limit, on the slope
    flat = (0.5 - tail) * (1.0 + top_ratio)
    distance = np.where(depth < 1.0 - top_ratio, 1.0 - depth, flat)
    return np.copysign(distance, u - 0.5)


def _curvilinear_trapezoidal(u: FloatArray, inexactness: float) -> FloatArray:
    """
    Quantiles of W·V, W rectangular on 1 ± ``inexactness``, V rectangular on ± 1; JCGM 101, 6.4.3.

    Beyond 1 - λ the tail probability is c/(4λ)·(1 - y + y ln y) with c = 1 + λ and y = x/c (the density of
    JCGM 101, 6.4.3.2, integrated); below it the density is flat.
    """
    if inexactness == 0.0:
        return _rectangular(u)
    outer = 1.0 + inexactness
    tail = np.minimum(u, 1.0 - u)
    remainder = 4.0 * inexactness * tail / outer
    distance = outer * (1.0 - _slope_depth(remainder))
    if inexactness < 1.0:
        density = np.log(outer / (1.0 - inexactness)) / (4.0 * inexactness)
        distance = np.where(distance > 1.0 - inexactness, distance, (0.5 - tail) / density)
    return np.copysign(distance, u - 0.5)


def _slope_depth(remainder: FloatArray) -> FloatArray:
    """Solve δ + (1 - δ) ln(1 - δ) = remainder for δ in [0, 1) by Newton's method."""
    capped = np.minimum(remainder, 1.0 - 1e-15)
    root = np.sqrt(2.0 * capped)
    depth = np.minimum(root - capped / 3.0, 1.0 - 1e-12)
    for _ in range(60):
        slope = np.log1p(-depth)
        excess = np.where(depth < 1e-4, depth**2 / 2 + depth**3 / 6, depth + (1.0 - depth) * slope) - capped
        step = np.divide(excess, slope, out=np.zeros_like(depth), where=slope != 0.0)
        depth = np.clip(depth + step, 0.0, 1.0 - 1e-16)
        if np.all(np.abs(step) <= 4e-16 + 1e-14 * depth):
            break
    return depth


def _arcsine(u: FloatArray) -> FloatArray:
    return np.sin(np.pi * (u - 0.5))


def _lognormal(u: FloatArray, sigma: float) -> FloatArray:
    """Quantiles of the lognormal distribution of mean 1 whose logarithm has standard deviation ``sigma``."""
    return np.exp(sigma * special.ndtri(u) - 0.5 * sigma**2)


def _exponential(u: FloatArray) -> FloatArray:
    return -np.log1p(-u)


def _gamma(u: FloatArray, order: float) -> FloatArray:
    return np.asarray(special.gammaincinv(order, u), dtype=float)


def _truncated_normal(u: FloatArray, low: float, high: float) -> FloatArray:
    """Quantiles of the standard normal distribution cut to (low, high); worked in the tail that keeps digits."""
    if low > 0.0:
        return -_truncated_normal(1.0 - u, -high, -low)
    below, above = special.ndtr(low), special.ndtr(high)
    if high < 0.0 and above < 1e-8:
        log_mass = special.log_ndtr(high) + np.log(
            u + (1.0 - u) * np.exp(special.log_ndtr(low) - special.log_ndtr(high))
        )
        quantiles = special.ndtri_exp(log_mass)
    else:
        quantiles = special.ndtri(below + u * (above - below))
    return np.asarray(np.clip(quantiles, low, high), dtype=float)


_QUANTILES: Mapping[str, Callable[..., FloatArray]] = MappingProxyType(
    {
        "constant": _constant,
        "normal": _normal,
        "t": _student_t,
        "rectangular": _rectangular,
        "triangular": _triangular,
        "trapezoidal": _trapezoidal,
        "curvilinear trapezoidal": _curvilinear_trapezoidal,
        "arcsine": _arcsine,
        "lognormal": _lognormal,
        "exponential": _exponential,
        "gamma": _gamma,
        "truncated normal": _truncated_normal,
    }
)
