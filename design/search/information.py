"""Which designs cannot be told apart, and what a trial before the purchase is worth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from budget.arrays import FloatArray
from design.search.plan import Trial
from design.search.ranking import Appraisal
from design.search.sample import Sample, standard_draws

TIE = 1e-12
"""Mean square errors closer than this count as equal. [1]"""
DOUBT = 0.05
"""Probability of being the better one of a pair from which a design may not be ruled out."""


def tied_with_first(
    shared_errors: Sequence[FloatArray],
    scatter_variances: Sequence[float],
    objectives: Sequence[float],
    margin: float,
) -> tuple[int, ...]:
    """
    Designs that cannot be told apart from the first.

    Parameters
    ----------
    shared_errors : sequence of ndarray, shape (trials,)
        Relative error of each design without the scatter of single runs, all on the same draws of what they share.
    scatter_variances : sequence of float
        Variance that the scatter of single runs adds to each. [1]
    objectives : sequence of float
        What was made small. [1]
    margin : float
        Difference of objectives that counts as none. [1]

    Returns
    -------
    tuple of int
        The first, and those within the margin of it that are the better one of the two with a probability of at
        least ``DOUBT``; the first alone where there is no tie.

    Examples
    --------
    >>> tied_with_first([np.array([0.01, 0.03]), np.array([0.02, 0.02])], [0.0, 0.0], [0.020, 0.021], 0.002)
    (0, 1)
    """
    squares = mean_squares(shared_errors, scatter_variances)
    better = (squares < squares[0] - TIE).mean(axis=1) + 0.5 * (np.abs(squares - squares[0]) <= TIE).mean(axis=1)
    within = np.asarray(objectives) <= objectives[0] + margin
    return tuple(int(row) for row in np.flatnonzero(within & (better >= DOUBT)))


def mean_squares(shared_errors: Sequence[FloatArray], scatter_variances: Sequence[float]) -> FloatArray:
    """Mean square error of each design in every draw of what they share, shape (designs, trials)."""
    return np.asarray(np.square(np.asarray(shared_errors)) + np.asarray(scatter_variances)[:, None])


DEGREE = 4
"""Degree of the polynomial in the trial's result by which expectations are found."""


@dataclass(frozen=True)
class TrialKind:
    """
    A trial that tells something of what all designs share.

    Parameters
    ----------
    trial : str
        Key of its words.
    symbols : tuple of str
        Input quantities whose sum it measures.
    relative : float
        Standard uncertainty of what it gives, relative to the expected value. [1]
    absolute : float
        The same where the expected value is 0, in the unit of the quantity.
    source : str
        Where the two come from.
    """

    trial: str
    symbols: tuple[str, ...]
    relative: float
    absolute: float
    source: str


TRIALS = (
    TrialKind(
        "cooling_run", ("W_wall", "W_base"), 0.15, 0.0,
        "judgement: 10 to 20 % with temperature to 0.1 K and mass to 0.1 g",
    ),
    TrialKind(
        "blank_run", ("s_splash",), 0.3, 0.0,
        "judgement: what a plate catches in some minutes, weighed to 0.1 g",
    ),
    TrialKind(
        "calliper", ("a_A",), 0.01, 0.0,
        "a calliper to 0.05 mm on stems of 6 to 12 mm",
    ),
    TrialKind(
        "meter_check", ("e_meter",), 0.0, 0.003,
        "judgement: voltage, current and time of a steady load, each to about 0.2 %",
    ),
)  # fmt: skip
"""Trials that are thought of."""


def trials_of(appraisals: Sequence[Appraisal], sample: Sample) -> tuple[Trial, ...]:
    """
    Work out what each trial is worth for the choice among some designs.

    Parameters
    ----------
    appraisals : sequence of Appraisal
        Designs to choose from, the best first.
    sample : Sample
        Sample on which they were appraised.

    Returns
    -------
    tuple of Trial
        Those worth something, the most valuable first.
    """
    errors = np.array([appraisal.shared_error for appraisal in appraisals])
    scatter = np.array([appraisal.scatter_variance for appraisal in appraisals])
    corrected = np.array([appraisal.design.corrected for appraisal in appraisals])
    found = []
    for place, kind in enumerate(TRIALS):
        result = _result(kind, appraisals[0], sample, place)
        if result is not None:
            found.append(worth(kind.trial, result, (errors, scatter, corrected)))
    valuable = [trial for trial in found if trial.choosing_percent > 0.0 or trial.correcting_percent > 0.0]
    return tuple(sorted(valuable, key=lambda trial: (-trial.choosing_percent, -trial.correcting_percent, trial.trial)))


def worth(trial: str, result: FloatArray, designs: tuple[FloatArray, FloatArray, NDArray[np.bool_]]) -> Trial:
    """
    Worth of a trial by what it would show in every draw.

    Parameters
    ----------
    trial : str
        Key of the trial.
    result : ndarray, shape (trials,)
        What it shows in each draw of the shared knowledge, its own error included.
    designs : tuple
        Shared relative error of each design, shape (designs, trials); variance that its runs' scatter adds, shape
        (designs,); and whether it is corrected, so that the trial's result goes into its correction.

    Returns
    -------
    Trial

    Notes
    -----
    The loss of a design is its mean square error given the shared knowledge. Without the trial the choice is the
    design of least expected loss; with it, that of least expected loss given its result. The difference of the two
    root mean squares is the value of choosing. Expectations given the result are regressions on the result [1]_, here
    on polynomials in its normal score; each half of the draws is judged by what was fitted to the other half, so that
    noise is worth nothing. A corrected design's error falls by what the result explains of it.

    References
    ----------
    .. [1] Strong, Oakley and Brennan 2014, Med. Decis. Making 34, 311 (regression on summaries of the data).
    """
    errors, scatter, corrected = designs
    losses = errors**2 + scatter[:, None]
    before = float(losses.mean(axis=1).min())
    basis = _basis(result)
    chosen = _expected(losses, basis).argmin(axis=0)
    explained = _expected(errors, basis) - errors.mean(axis=1, keepdims=True)
    better = (errors - np.where(corrected[:, None], explained, 0.0)) ** 2 + scatter[:, None]
    both = _expected(better, basis).argmin(axis=0)
    draws = np.arange(result.size)
    best = losses <= losses.min(axis=0) + TIE
    return Trial(
        trial=trial,
        choosing_percent=_gain(before, float(losses[chosen, draws].mean())),
        correcting_percent=_gain(before, float(better[both, draws].mean())),
        best_probability=float((best / best.sum(axis=0))[chosen, draws].mean()),
    )


def _gain(before: float, after: float) -> float:
    """Fall of the root mean square, in per cent points; nothing below what the regression can resolve."""
    gain = math.sqrt(before) - math.sqrt(min(max(after, 0.0), before))
    return 100.0 * gain if gain > 1e-3 * math.sqrt(before) else 0.0


def _basis(result: FloatArray) -> FloatArray:
    """Polynomials in the normal score of the result's rank, shape (trials, ``DEGREE`` + 1)."""
    scores = np.empty(result.size)
    scores[np.argsort(result, kind="stable")] = special.ndtri((np.arange(result.size) + 0.5) / result.size)
    return np.asarray(np.polynomial.hermite_e.hermevander(scores, DEGREE))


def _expected(values: FloatArray, basis: FloatArray) -> FloatArray:
    """Expectation of each row given the result: in each half of the draws as fitted to the other half."""
    expected = np.empty_like(values)
    for half in (0, 1):
        here, there = slice(half, None, 2), slice(1 - half, None, 2)
        orthonormal, triangular = np.linalg.qr(basis[there])
        fitted = np.linalg.solve(triangular, orthonormal.T @ values[:, there].T)
        expected[:, here] = (basis[here] @ fitted).T
    return expected


def _result(kind: TrialKind, appraisal: Appraisal, sample: Sample, place: int) -> FloatArray | None:
    """What a trial with the kit of a design shows in every draw; None where there is nothing to learn."""
    terms = [term for term in appraisal.design.terms if term.symbol in kind.symbols]
    known = [term for term in terms if term.base.standard_uncertainty * float(np.max(term.size)) > 0.0]
    if not known:
        return None
    shown, expected = np.zeros(sample.trials), 0.0
    for term in known:
        form, size = term.base.standard_form(), float(np.ravel(term.size)[0])
        shown += size * (form.location + form.scale * standard_draws(term.symbol, form.shape, sample))
        expected += size * term.base.mean
    spread = kind.relative * abs(expected) + kind.absolute
    noise = np.random.default_rng([sample.seed, place]).standard_normal(sample.trials)
    return shown + spread * noise
