"""What error each combination promises, in closed form: each input by itself, no sampling, a whole cell at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray
from scipy import special

from budget.arrays import FloatArray
from budget.model.equation import Program
from budget.quantities.shapes import StandardForm
from design.chosen import program_of
from design.kit import Balance, MassSet
from design.procedures.face import Correction, Procedure
from design.procedures.shared import with_estimates
from design.search.sample import Aim, Sample, replicate_sizes, standard_draws
from design.setting.situation import Situation
from design.setting.terms import InputTerm

DEPENDENCE = 24.0
"""How far columns of a net may depend on each other, times its size; found by trial, held by a test."""
SPREADS_AS = (0.998, 1.08)
"""Least and largest that a sample gives of an error's spread, over its estimate; found by trial, held by a test."""
WORST_AS = {0.95: (0.7, 1.4), 0.99: (0.6, 1.6), 1.0: (0.4, 2.5)}
"""The same of the worst error up to each coverage probability: far out, a normal distribution says little of others."""
HALVINGS = 40
"""Halvings of the interval in which the largest error is looked for."""


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
class ErrorMoments:
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
    Mean, and two values with the mean, variance and skewness of an input's draws, and the probability of the higher.

    The shared sample's own moments, not those of the family, are what the search compares with.
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
    """Knowledge of one quantity for several kits: a leading axis of kits where they differ."""
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
) -> ErrorMoments:
    """
    Mean and variance of the relative error over a grid, each input varied by itself with the others at their means.

    Of the symbols ``asked``, each with a step, the slope is given instead of their part of mean and variance.

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
    return ErrorMoments(bias, variance, slopes)


def _varies(known: Knowledge) -> bool:
    return known.high is not known.low and bool(np.any(known.high > known.low))


def _lifted(value: FloatArray, dimensions: int) -> FloatArray:
    """Array with leading axes of length one up to a number of dimensions."""
    array = np.asarray(value, dtype=np.float64)
    return array.reshape((1,) * (dimensions - array.ndim) + array.shape)


@dataclass(frozen=True)
class Variants:
    """
    What a cell's kits may differ in.

    Parameters
    ----------
    situations : tuple of Situation
        One for each meter, over the same settings.
    balances : tuple of Balance
        Balances to try.
    sets : tuple of MassSet or None
        Mass sets to try.
    set_of : ndarray of int, shape (g,)
        Mass set of each setting.
    """

    situations: tuple[Situation, ...]
    balances: tuple[Balance, ...]
    sets: tuple[MassSet | None, ...]
    set_of: NDArray[np.intp]

    @property
    def shape(self) -> tuple[int, int, int]:
        """Numbers of balances, meters and settings."""
        return len(self.balances), len(self.situations), self.set_of.size


Terms = Mapping[str, InputTerm]


def estimates_of(
    procedure: Procedure, corrections: Sequence[Correction], variants: Variants, sample: Sample, aim: Aim
) -> dict[Correction, FloatArray]:
    """
    Estimate what is made small for every balance, meter and setting, by correction; relative to the true value. [1].

    Notes
    -----
    What hangs on the balance or on the mass set is worked out once, as a slope, and sized for each of them.
    Where a balance changes a constant of the model and not only an uncertainty, or one that the meter changes as well,
    each balance is worked out by itself.
    """
    by_meter = [_terms(procedure, situation) for situation in variants.situations]
    by_balance = [_terms(procedure, _with(variants.situations[0], balance=balance)) for balance in variants.balances]
    changing = [symbol for symbol in by_meter[0] if _differs(by_balance, symbol)]
    by_both = [symbol for symbol in changing if _differs(by_meter, symbol)]
    if by_both or any(_changes_constant(by_balance, symbol) for symbol in changing):
        parts = [
            estimates_of(procedure, corrections, _one_balance(variants, balance), sample, aim)
            for balance in variants.balances
        ]
        return {key: np.concatenate([part[key] for part in parts]) for key in corrections}
    by_set = [_terms(procedure, _with(variants.situations[0], mass_set=mass_set)) for mass_set in variants.sets]
    masses = [symbol for symbol in by_meter[0] if _differs(by_set, symbol)]
    known = {symbol: stacked([terms[symbol] for terms in by_meter], sample) for symbol in by_meter[0]}
    spreads = {symbol: _spreads(by_balance, symbol, sample) for symbol in changing}
    per_set = {symbol: _spreads(by_set, symbol, sample) for symbol in masses}
    return {
        correction: _estimate(program_of(procedure, correction), known, spreads, per_set, variants, aim)
        for correction in corrections
    }


def _estimate(
    program: Program,
    known: Mapping[str, Knowledge],
    spreads: Mapping[str, FloatArray],
    per_set: Mapping[str, FloatArray],
    variants: Variants,
    aim: Aim,
) -> FloatArray:
    used = {symbol: value for symbol, value in known.items() if symbol in program.symbols}
    asked = {
        symbol: step
        for symbol, values in (*spreads.items(), *per_set.items())
        if symbol in used and (step := float(np.max(values))) > 0.0
    }
    shape = variants.shape
    found = moments(program, used, shape[1:], asked)
    variance = np.repeat(found.variance[None], shape[0], axis=0)
    for symbol, slope in found.slopes.items():
        if symbol in spreads:
            variance += slope**2 * spreads[symbol][:, None, :] ** 2
        else:
            variance += slope**2 * per_set[symbol][variants.set_of, 0] ** 2
    return objective_from(found.bias, variance, aim)


def _terms(procedure: Procedure, situation: Situation) -> Terms:
    return {term.symbol: term for term in with_estimates(procedure.terms(situation))}


def _with(situation: Situation, **changes: object) -> Situation:
    return situation.with_kit(replace(situation.kit, **changes))  # type: ignore[arg-type]


def _one_balance(variants: Variants, balance: Balance) -> Variants:
    situations = tuple(_with(situation, balance=balance) for situation in variants.situations)
    return replace(variants, situations=situations, balances=(balance,))


def _differs(alternatives: Sequence[Terms], symbol: str) -> bool:
    """Tell whether anything that is known of a quantity differs."""
    return not all(alike(other[symbol], alternatives[0][symbol]) for other in alternatives)


def _changes_constant(alternatives: Sequence[Terms], symbol: str) -> bool:
    """Tell whether the expected value of a quantity differs."""
    means = [terms[symbol].base.mean * terms[symbol].size for terms in alternatives]
    return not all(np.array_equal(mean, means[0]) for mean in means)


def _spreads(alternatives: Sequence[Terms], symbol: str, sample: Sample) -> FloatArray:
    """Standard uncertainty of a quantity for each alternative, shape (alternatives, g) or (alternatives, 1)."""
    known = [knowledge_of(terms[symbol], sample) for terms in alternatives]
    parts = [(one.high - one.low) * np.sqrt(one.weight * (1.0 - one.weight)) for one in known]
    return np.stack(np.broadcast_arrays(*(np.atleast_1d(part) for part in parts)))


def slack_of(aim: Aim, sample: Sample) -> float:
    """Factor between an estimate and the largest value that a sample gives. [1]"""
    return _range_of(aim)[1] + _dependence(sample)


def floor_of(aim: Aim, sample: Sample) -> float:
    """
    Factor between an estimate and the least value that a sample gives. [1].

    What inputs do together is not in the estimate and can only add; the columns of a small sample are not quite
    independent and may take a little off.
    """
    return _range_of(aim)[0] - _dependence(sample)


def _range_of(aim: Aim) -> tuple[float, float]:
    if aim.objective != "worst error":
        return SPREADS_AS
    return next(some for coverage, some in WORST_AS.items() if aim.coverage <= coverage)


def _dependence(sample: Sample) -> float:
    """What columns that are not quite independent may put on or take off; less where several nets average it. [1]"""
    sizes = replicate_sizes(sample.trials)
    return DEPENDENCE / (sizes[0] * math.sqrt(len(sizes)))


def objective_from(bias: FloatArray, variance: FloatArray, aim: Aim) -> FloatArray:
    """What the search makes small, from mean and variance of the relative error taken as normal. [1]"""
    spread = np.sqrt(variance)
    if aim.objective == "standard uncertainty":
        return spread
    if aim.objective == "expanded uncertainty":
        return np.asarray(spread * NormalDist().inv_cdf(0.5 + 0.5 * aim.coverage))
    if aim.objective == "rms error":
        return np.asarray(np.sqrt(bias**2 + variance))
    size, safe = np.broadcast_to(np.abs(bias), spread.shape), np.maximum(spread, 1e-15)
    low, high = np.zeros_like(spread), size + 10.0 * safe
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        inside = special.ndtr((middle - size) / safe) - special.ndtr((-middle - size) / safe)
        low, high = np.where(inside < aim.coverage, middle, low), np.where(inside < aim.coverage, high, middle)
    return np.asarray(0.5 * (low + high))
