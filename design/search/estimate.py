"""What error each combination promises, in closed form for a whole cell of the search."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray
from scipy import special

from budget.arrays import FloatArray
from budget.model.equation import Program
from design.chosen import program_of
from design.kit import Balance, MassSet
from design.procedures.face import Correction, Procedure
from design.procedures.shared import with_estimates
from design.search.moments import Knowledge, alike, knowledge_of, moments, stacked
from design.search.sample import Aim, Sample, replicate_sizes
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
    Estimate what is made small for every balance, meter and setting.

    Parameters
    ----------
    procedure, corrections
        How readings are taken and turned into the latent heat.
    variants : Variants
        Kits and settings.
    sample : Sample
        Sample on which the best will be compared.
    aim : Aim
        What is made small.

    Returns
    -------
    dict of str to ndarray, shape (balances, meters, g)
        For each correction; relative to the true value. [1]

    Notes
    -----
    What hangs on the balance or on the mass set is worked out once, as a slope, and sized for each of them.
    Where a balance changes a constant of the model and not only an uncertainty, each balance is worked out by itself.
    """
    by_meter = [_terms(procedure, situation) for situation in variants.situations]
    by_balance = [_terms(procedure, _with(variants.situations[0], balance=balance)) for balance in variants.balances]
    changing = [
        symbol for symbol in by_meter[0] if not all(alike(other[symbol], by_balance[0][symbol]) for other in by_balance)
    ]
    if any(_changes_constant(by_balance, symbol) for symbol in changing):
        parts = [
            estimates_of(procedure, corrections, _one_balance(variants, balance), sample, aim)
            for balance in variants.balances
        ]
        return {key: np.concatenate([part[key] for part in parts]) for key in corrections}
    by_set = [_terms(procedure, _with(variants.situations[0], mass_set=mass_set)) for mass_set in variants.sets]
    masses = [symbol for symbol in by_meter[0] if not all(alike(other[symbol], by_set[0][symbol]) for other in by_set)]
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
    """
    What the search makes small, from mean and variance of the relative error.

    Parameters
    ----------
    bias, variance : ndarray
        Of the relative error; shapes broadcast. [1]
    aim : Aim
        Objective and coverage probability.

    Returns
    -------
    ndarray
        The worst error as that of a normal distribution. [1]
    """
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
