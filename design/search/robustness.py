"""What if an assumption is otherwise: the error then, whether another design would be better, and what it costs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from budget.arrays import FloatArray
from budget.quantities.distributions import Constant, Distribution, Lognormal, Normal, linear, scaled
from design.chosen import Design
from design.search.sample import Aim, Sample, objective_of, relative_errors

TRIALS = 2048
"""Most trials on which assumptions are compared."""
OTHER_LAW = -1.96
"""Standard deviations of the drift velocity's logarithm at which the slower of its two laws lies."""
LOSSES = ("W_wall", "W_base", "W_return")
Change = Callable[[Distribution], Distribution]


@dataclass(frozen=True)
class Assumption:
    """What could reasonably be otherwise: its key, the inputs it is about, and what their knowledge would be."""

    key: str
    symbols: tuple[str, ...]
    otherwise: Change


@dataclass(frozen=True)
class Otherwise:
    """
    A plan if an assumption is otherwise.

    Parameters
    ----------
    assumption : str
        Key of what is otherwise.
    error_percent : float
        What is made small, of the recommended design.
    best : int
        Row of the ranking that would be the best.
    lost_percent : float
        What keeping the recommended design costs.
    """

    assumption: str
    error_percent: float
    best: int
    lost_percent: float


@dataclass(frozen=True)
class Robustness:
    """
    The plan under every assumption.

    Parameters
    ----------
    rows : tuple of Otherwise
        One an assumption; the first is that all is as assumed.
    least_regret : int
        Row of the ranking whose largest loss over the assumptions is the least.
    largest_loss_percent : tuple of float
        Of each row of the ranking.
    """

    rows: tuple[Otherwise, ...]
    least_regret: int
    largest_loss_percent: tuple[float, ...]


def _times(factor: float) -> Change:
    return lambda known: scaled(known, factor)


def _wider(known: Distribution) -> Distribution:
    """Twice the spread about the same mean, and nothing below zero where there was nothing."""
    mean, spread = known.mean, 2.0 * known.standard_uncertainty
    return Lognormal(mean, spread) if known.support[0] >= 0.0 and mean > 0.0 else Normal(mean, spread)


def _at_its_limit(known: Distribution) -> Distribution:
    high = known.support[1]
    return Constant(high if math.isfinite(high) else known.mean + 2.0 * known.standard_uncertainty)


def _shifted(known: Distribution) -> Distribution:
    return linear(known, OTHER_LAW * known.standard_uncertainty, 1.0)


ASSUMPTIONS = (
    Assumption("as_assumed", (), _times(1.0)),
    Assumption("meter_doubled", ("e_meter",), _times(2.0)),
    Assumption("meter_at_limit", ("e_meter",), _at_its_limit),
    Assumption("losses_doubled", LOSSES, _times(2.0)),
    Assumption("losses_halved", LOSSES, _times(0.5)),
    Assumption("losses_uncertain", LOSSES, _wider),
    Assumption("droplets_threefold", ("s_splash",), _times(3.0)),
    Assumption("droplets_tenfold", ("s_splash",), _times(10.0)),
    Assumption("linearity_doubled", ("d_linearity",), _times(2.0)),
    Assumption("noise_threefold", ("d_boiling", "d_balance"), _times(3.0)),
    Assumption("swell_other_law", ("ln_drift",), _shifted),
)
"""What could reasonably be otherwise (judgement); what a correction takes off stays what the plan takes off."""


def robustness_of(designs: Sequence[Design], sample: Sample, aim: Aim) -> Robustness:
    """
    Work out what every design would do under every assumption.

    Parameters
    ----------
    designs : sequence of Design
        Rows of the ranking, the recommended first.
    sample, aim : Sample, Aim
        Sample, of which ``TRIALS`` are used at most, and what is made small.

    Notes
    -----
    The loss of a design under an assumption is its error less the least of all designs there; the design of least
    regret is that whose largest loss is the least (Savage 1951, J. Amer. Statist. Assoc. 46, 55; from memory).
    """
    fewer = replace(sample, trials=min(sample.trials, TRIALS))
    errors = 100.0 * np.array([[error_if(design, one, fewer, aim) for design in designs] for one in ASSUMPTIONS])
    lost = errors - errors.min(axis=1, keepdims=True)
    rows = tuple(
        Otherwise(one.key, float(error[0]), int(error.argmin()), float(loss[0]))
        for one, error, loss in zip(ASSUMPTIONS, errors, lost, strict=True)
    )
    largest = lost.max(axis=0)
    return Robustness(rows, int(largest.argmin()), tuple(float(one) for one in largest))


def error_if(design: Design, assumption: Assumption, sample: Sample, aim: Aim) -> float:
    """What is made small for a design if an assumption is otherwise. [1]"""
    terms = tuple(
        replace(term, base=assumption.otherwise(term.base)) if _about(term.symbol, assumption) else term
        for term in design.terms
    )
    errors: FloatArray = relative_errors(design.program, terms, sample)
    return float(objective_of(errors, aim)[0])


def _about(symbol: str, assumption: Assumption) -> bool:
    """Whether an input is one that an assumption is about, at whatever power."""
    head, _, number = symbol.rpartition("_")
    return symbol in assumption.symbols or (number.isdigit() and head in assumption.symbols)
