"""Standard shapes of distributions: every input is location + scale × one of these (JCGM 101, 6.4)."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.errors import BudgetError

Shape: TypeAlias = tuple[str | float, ...]
"""Hashable key of a standard shape: its name and parameters."""
REVERSED = "reversed"


@dataclass(frozen=True)
class StandardForm:
    """A distribution as location + scale × a standard shape."""

    shape: Shape
    location: float
    scale: float


@dataclass(frozen=True)
class Moments:
    """Mean, standard uncertainty, and lowest and highest possible value of a standard shape."""

    mean: float
    deviation: float
    low: float
    high: float


def standard_ppf(shape: Shape, u: FloatArray) -> FloatArray:
    """
    Return the quantiles of a standard shape at probabilities u in the open interval (0, 1).

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
        quantile, _ = _SHAPES[str(name)]
    except KeyError:
        raise BudgetError(f"distribution: the shape must be one of {', '.join(_SHAPES)} (got {name})") from None
    return np.asarray(quantile(u, *parameters), dtype=float)


def standard_isf(shape: Shape, q: FloatArray) -> FloatArray:
    """Return the quantiles of a standard shape that are exceeded with probability q, however small that is."""
    name, *parameters = shape
    if name == REVERSED:
        return -standard_ppf(shape[1:], q)
    if name in ("normal", "t"):
        return -standard_ppf(shape, q)
    if name == "lognormal":
        sigma = float(parameters[0])
        return np.asarray(np.exp(-sigma * special.ndtri(q) - 0.5 * sigma**2), dtype=float)
    if name == "exponential":
        return -np.log(q)
    if name == "gamma":
        return np.asarray(special.gammainccinv(float(parameters[0]), q), dtype=float)
    return standard_ppf(shape, 1.0 - q)


@lru_cache(maxsize=4096)
def standard_moments(shape: Shape) -> Moments:
    """Return the moments and ends of a standard shape; of a t distribution the scale, as JCGM 100, 4.2.3 has it."""
    name, *parameters = shape
    if name == REVERSED:
        found = standard_moments(shape[1:])
        return Moments(-found.mean, found.deviation, -found.high, -found.low)
    _, moments = _SHAPES[str(name)]
    return Moments(*moments(*parameters))


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
        return 2.0 * u - 1.0
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


def _truncated_moments(low: float, high: float) -> tuple[float, float, float, float]:
    """Moments of a standard normal variable kept within (low, high), by Gauss-Legendre quadrature."""
    peak = min(max(0.0, low), high)
    start, end = max(low, peak - 39.0), min(high, peak + 39.0)
    if abs(peak) > 1.0:  # the density falls off like exp(-|peak|·x) beyond the nearer cut
        reach = 40.0 / abs(peak)
        start, end = max(start, peak - reach), min(end, peak + reach)
    nodes, weights = _quadrature()
    x = start + 0.5 * (end - start) * (nodes + 1.0)
    density = weights * np.exp(-0.5 * (x - peak) * (x + peak))
    mean = float(np.sum(density * x) / np.sum(density))
    return mean, math.sqrt(float(np.sum(density * (x - mean) ** 2) / np.sum(density))), low, high


@cache
def _quadrature() -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on [-1, 1]: sixteen panels of 24 Gauss-Legendre points."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    centres = (np.arange(16) - 7.5) / 8.0
    return (centres[:, None] + nodes / 16.0).ravel(), np.tile(weights / 16.0, 16)


def _even(deviation: float, reach: float = 1.0) -> tuple[float, float, float, float]:
    return 0.0, deviation, -reach, reach


_SHAPES: Mapping[str, tuple[Callable[..., Any], Callable[..., tuple[float, float, float, float]]]] = MappingProxyType(
    {
        "constant": (np.zeros_like, lambda: _even(0.0, 0.0)),
        "normal": (special.ndtri, lambda: _even(1.0, math.inf)),
        "t": (lambda u, dof: special.stdtrit(dof, u), lambda _: _even(1.0, math.inf)),
        "rectangular": (lambda u: 2.0 * u - 1.0, lambda: _even(1.0 / math.sqrt(3.0))),
        "triangular": (lambda u: _trapezoidal(u, 0.0), lambda: _even(1.0 / math.sqrt(6.0))),
        "trapezoidal": (_trapezoidal, lambda top: _even(math.sqrt((1.0 + top**2) / 6.0))),
        "curvilinear trapezoidal": (
            _curvilinear_trapezoidal,
            lambda inexactness: _even(math.sqrt(1.0 / 3.0 + inexactness**2 / 9.0), 1.0 + inexactness),
        ),
        "arcsine": (lambda u: np.sin(np.pi * (u - 0.5)), lambda: _even(1.0 / math.sqrt(2.0))),
        "lognormal": (
            lambda u, sigma: np.exp(sigma * special.ndtri(u) - 0.5 * sigma**2),
            lambda sigma: (1.0, math.sqrt(math.expm1(sigma**2)), 0.0, math.inf),
        ),
        "exponential": (lambda u: -np.log1p(-u), lambda: (1.0, 1.0, 0.0, math.inf)),
        "gamma": (
            lambda u, order: special.gammaincinv(order, u),
            lambda order: (order, math.sqrt(order), 0.0, math.inf),
        ),
        "truncated normal": (_truncated_normal, _truncated_moments),
    }
)
"""Quantile function and moments of every standard shape."""
