"""Input quantities of which a mean and a variance say too little: points that stand for all of their draws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from budget.equation import Program
from design.search.expectation import Sample, standard_draws
from design.search.moments import Knowledge, alike
from design.terms import InputTerm

FloatArray = NDArray[np.float64]

SKEWED = 1.8
"""Skewness beyond which points stand for draws: a lognormal quantity known to half its value has 1.6, an exponential
one 2, droplets, known to a factor of three, more than 9."""
TAILED = 9.5
"""Kurtosis beyond which they do: a t distribution with 5 degrees of freedom has 9."""
SPLIT = 1.65
"""Kurtosis below which they do: a rectangular distribution has 1.8, an arcsine one 1.5."""
EDGES = (0.0, 0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95, 0.99, 0.999, 1.0)
"""Probabilities between which draws are taken together."""
FEW_EDGES = (0.0, 0.3, 0.7, 0.95, 0.99, 1.0)
"""The same where two quantities need it, and every pair of points is worked out."""
MOST_TOGETHER = 2
"""Quantities that points stand for; of more, those with the highest kurtosis."""


@dataclass(frozen=True)
class Points:
    """
    Values that stand for the draws of an input quantity over a grid: two for each part of the draws.

    Parameters
    ----------
    values : ndarray, shape (k, 2, ...)
        One standard deviation of a part below and above its mean, in the unit of the quantity; broadcasts to the grid's
        shape behind the first two axes.
    weights : ndarray, shape (k,)
        Probability of each part. [1]
    """

    values: FloatArray
    weights: FloatArray


@dataclass(frozen=True)
class Shifts:
    """
    What sharp quantities do to the relative error, part by part of their draws.

    Parameters
    ----------
    errors : ndarray, shape (k, *grid)
        Mean of the relative error in each part, less that at the mean of the quantity. [1]
    variances : ndarray, shape (k, *grid)
        Variance of the relative error within each part. [1]
    weights : ndarray, shape (k,)
        Probability of each part. [1]
    """

    errors: FloatArray
    variances: FloatArray
    weights: FloatArray

    @property
    def mean(self) -> FloatArray:
        """Mean, the grid's shape. [1]"""
        return np.asarray(np.tensordot(self.weights, self.errors, 1))

    @property
    def variance(self) -> FloatArray:
        """Variance, the grid's shape. [1]"""
        return np.asarray(np.tensordot(self.weights, (self.errors - self.mean) ** 2 + self.variances, 1))


def sharp_among(terms: Sequence[InputTerm], sample: Sample) -> tuple[str, ...]:
    """Symbols of the quantities that need points, those with the highest kurtosis first."""
    sharp: dict[str, float] = {}
    for term in terms:
        if term.base.standard_uncertainty > 0.0:
            skewness, kurtosis = _shape_of(term.symbol, term.base.standard_form().shape, sample)
            if abs(skewness) > SKEWED or not SPLIT <= kurtosis <= TAILED:
                sharp[term.symbol] = kurtosis
    return tuple(sorted(sharp, key=lambda symbol: -sharp[symbol]))


@lru_cache(maxsize=4096)
def _shape_of(symbol: str, shape: tuple[str | float, ...], sample: Sample) -> tuple[float, float]:
    """Skewness and kurtosis of the draws of a quantity. [1]"""
    draws = standard_draws(symbol, shape, sample)
    standard = (draws - draws.mean()) / draws.std()
    return float(np.mean(standard**3)), float(np.mean(standard**4))


def points_of(alternatives: Sequence[InputTerm], sample: Sample, edges: tuple[float, ...] = EDGES) -> Points:
    """
    Stand for the draws of a quantity, by two points with the mean and the variance of each part of them.

    Parameters
    ----------
    alternatives : sequence of InputTerm
        The quantity for each kit of a grid.
    sample : Sample
        Shared sample.
    edges : tuple of float
        Probabilities between which draws are taken together. [1]

    Returns
    -------
    Points
        Of shape (k, 2, kits, g), with 1 for the last two where they do not matter.
    """
    if all(alike(term, alternatives[0]) for term in alternatives):
        alternatives = alternatives[:1]
    forms = [term.base.standard_form() for term in alternatives]
    standard = [
        _standard_points(term.symbol, form.shape, sample, edges) for term, form in zip(alternatives, forms, strict=True)
    ]
    rows = [
        np.multiply.outer(form.location + form.scale * points, np.atleast_1d(term.size))
        for term, form, (points, _) in zip(alternatives, forms, standard, strict=True)
    ]
    return Points(np.stack(np.broadcast_arrays(*rows), axis=2), standard[0][1])


@lru_cache(maxsize=1024)
def _standard_points(
    symbol: str, shape: tuple[str | float, ...], sample: Sample, edges: tuple[float, ...]
) -> tuple[FloatArray, FloatArray]:
    draws = np.sort(standard_draws(symbol, shape, sample))
    cuts = np.unique(np.round(np.array(edges) * draws.size).astype(int))
    parts = [draws[start:end] for start, end in pairwise(cuts)]
    centre, spread = np.array([part.mean() for part in parts]), np.array([part.std() for part in parts])
    weights = np.array([part.size for part in parts]) / draws.size
    return np.stack([centre - spread, centre + spread], axis=1), weights


def shifts_of(
    program: Program, inputs: Mapping[str, Knowledge], points: Mapping[str, Points], shape: tuple[int, ...]
) -> Shifts | None:
    """
    Work out what one or two quantities do to the relative error, the others at their means.

    Parameters
    ----------
    program : Program
        Compiled measurement model.
    inputs : mapping of str to Knowledge
        Every symbol of the program.
    points : mapping of str to Points
        What stands for the draws of the quantities, at most ``MOST_TOGETHER``.
    shape : tuple of int
        Shape of the grid.

    Returns
    -------
    Shifts or None
        None where there is no such quantity.
    """
    if not points:
        return None
    together = len(points)
    parts = np.indices([each.weights.size for each in points.values()]).reshape(together, -1, 1)
    sides = np.indices((2,) * together).reshape(together, 1, -1)
    weights = np.ones(parts.shape[1])
    values = {symbol: known.mean for symbol, known in inputs.items()}
    base = program.evaluate(values) / values["L_ref"]
    for (symbol, each), part, side in zip(points.items(), parts, sides, strict=True):
        values[symbol] = each.values[part, side]
        weights = weights * each.weights[part[:, 0]]
    errors = np.broadcast_to(program.evaluate(values) / values["L_ref"] - base, (weights.size, 2**together, *shape))
    return Shifts(errors.mean(axis=1), errors.var(axis=1), weights)


def at_mean(known: Knowledge) -> Knowledge:
    """Knowledge of a quantity that is kept at its mean."""
    return replace(known, low=known.mean, high=known.mean)
