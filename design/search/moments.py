"""Mean and spread of the reported value in closed form, each input by itself: no sampling, a whole grid at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from budget.arrays import FloatArray
from budget.model.equation import Program
from budget.quantities.shapes import StandardForm
from design.search.sample import Sample, standard_draws
from design.setting.terms import InputTerm


@dataclass(frozen=True)
class Knowledge:
    """
    An input quantity over a grid: its mean and two points that stand for its spread.

    Parameters
    ----------
    mean, low, high : ndarray
        In the unit of the quantity; shapes broadcast to the grid's.
    weight : ndarray
        Probability of ``high``; that of ``low`` is the rest. [1]
    """

    mean: FloatArray
    low: FloatArray
    high: FloatArray
    weight: FloatArray


@dataclass(frozen=True)
class Moments:
    """
    Relative error of the reported value over a grid.

    Parameters
    ----------
    bias, variance : ndarray, the grid's shape
        Mean and variance of the relative error. [1]
    slopes : mapping of str to ndarray
        Relative error per unit of each quantity asked for.
    """

    bias: FloatArray
    variance: FloatArray
    slopes: Mapping[str, FloatArray]


@lru_cache(maxsize=4096)
def two_points(symbol: str, form: StandardForm, sample: Sample) -> tuple[float, float, float, float]:
    """
    Mean, and two values with the mean, variance and skewness that the draws of an input quantity have.

    Parameters
    ----------
    symbol : str
        Input quantity, one of ``design.search.sample.COLUMNS``.
    form : StandardForm
        Knowledge of it, as location and scale.
    sample : Sample
        Size and seed of the shared sample: its own moments, not those of the family, are what is compared with.

    Returns
    -------
    mean, low, high : float
        In the unit of the quantity.
    weight : float
        Probability of ``high``. [1]
    """
    draws = standard_draws(symbol, form.shape, sample)
    centre, deviation = float(draws.mean()), float(draws.std())
    half = 0.5 * float(np.mean(((draws - centre) / deviation) ** 3)) if deviation > 0.0 else 0.0
    reach = math.sqrt(1.0 + half**2)
    below, above = half - reach, half + reach
    mean, spread = form.location + form.scale * centre, form.scale * deviation
    return mean, mean + below * spread, mean + above * spread, -below / (above - below)


def knowledge_of(term: InputTerm, sample: Sample) -> Knowledge:
    """Knowledge of one term over its grid of settings."""
    form = term.base.standard_form()
    if form.scale == 0.0:
        constant = term.base.mean * term.size
        return Knowledge(constant, constant, constant, np.asarray(0.5))
    mean, low, high, weight = two_points(term.symbol, form, sample)
    return Knowledge(mean * term.size, low * term.size, high * term.size, np.asarray(weight))


def stacked(alternatives: Sequence[InputTerm], sample: Sample) -> Knowledge:
    """
    Knowledge of one quantity for several kits: a leading axis where the kits differ.

    Parameters
    ----------
    alternatives : sequence of InputTerm
        The same quantity for each kit.
    sample : Sample
        Shared sample.

    Returns
    -------
    Knowledge
        Arrays of shape (kits, g) or (kits, 1), or those of the first where all are alike.
    """
    first = alternatives[0]
    if all(alike(term, first) for term in alternatives):
        return knowledge_of(first, sample)
    parts = [knowledge_of(term, sample) for term in alternatives]
    return Knowledge(
        mean=stacked_rows([part.mean for part in parts]),
        low=stacked_rows([part.low for part in parts]),
        high=stacked_rows([part.high for part in parts]),
        weight=stacked_rows([part.weight for part in parts]),
    )


def stacked_rows(parts: Sequence[FloatArray]) -> FloatArray:
    """Rows of an array, each a number or as long as the longest; shape (rows, g) or (rows, 1)."""
    stack = np.empty((len(parts), max(part.size for part in parts)))
    for place, part in enumerate(parts):
        stack[place] = part
    return stack


def alike(one: InputTerm, other: InputTerm) -> bool:
    """Tell whether two terms say the same, to the last bit: comparing bytes is many times faster than numbers."""
    if one is other:
        return True
    same_size = one.size is other.size or (
        one.size.shape == other.size.shape and one.size.tobytes() == other.size.tobytes()
    )
    return same_size and one.base == other.base


def moments(
    program: Program, inputs: Mapping[str, Knowledge], shape: tuple[int, ...], asked: Mapping[str, float]
) -> Moments:
    """
    Mean and variance of the relative error, each input varied by itself with the others at their means.

    Parameters
    ----------
    program : Program
        Compiled measurement model.
    inputs : mapping of str to Knowledge
        Every symbol of the program.
    shape : tuple of int
        Shape of the grid.
    asked : mapping of str to float
        Symbols whose slope is wanted instead of their part of mean and variance, and the step to take it over.

    Returns
    -------
    Moments

    Notes
    -----
    Two points with the mean, variance and skewness of an input give its part of the mean exactly for a cubic and its
    part of the variance to the same order. What inputs do together is left out: by the decomposition of the variance
    it can only add to it, so that the result lies below what a sample gives.
    """
    varied = [symbol for symbol, known in inputs.items() if symbol not in asked and _varies(known)]
    layers = 1 + 2 * (len(varied) + len(asked))
    values = {symbol: _lifted(known.mean, len(shape)) for symbol, known in inputs.items()}
    for place, symbol in enumerate([*varied, *asked]):
        known = inputs[symbol]
        low, high = (
            (known.mean - asked[symbol], known.mean + asked[symbol]) if symbol in asked else (known.low, known.high)
        )
        low, high, mean = np.broadcast_arrays(low, high, known.mean)
        column = np.repeat(_lifted(mean, len(shape))[None], layers, axis=0)
        column[1 + 2 * place], column[2 + 2 * place] = _lifted(low, len(shape)), _lifted(high, len(shape))
        values[symbol] = column
    errors = program.evaluate(values) / values["L_ref"] - 1.0
    errors = np.broadcast_to(errors, (layers, *shape))
    low, apart = errors[1::2], errors[2::2] - errors[1::2]
    count = len(varied)
    weight = np.ones((count, *shape[:-1], 1))
    for place, symbol in enumerate(varied):
        weight[place] = inputs[symbol].weight
    bias = errors[0] + (low[:count] - errors[0] + weight * apart[:count]).sum(axis=0)
    variance = (weight * (1.0 - weight) * apart[:count] ** 2).sum(axis=0)
    slopes = {symbol: -apart[count + place] / (2.0 * step) for place, (symbol, step) in enumerate(asked.items())}
    return Moments(bias, variance, slopes)


def _varies(known: Knowledge) -> bool:
    return known.high is not known.low and bool(np.any(known.high > known.low))


def _lifted(value: FloatArray, dimensions: int) -> FloatArray:
    """Array with leading axes of length one up to a number of dimensions."""
    array = np.asarray(value, dtype=np.float64)
    return array.reshape((1,) * (dimensions - array.ndim) + array.shape)
