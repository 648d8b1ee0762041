"""A control variate for simulations: a sum of functions of single inputs whose distribution is known exactly."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import special

from budget.draws import Sampler
from budget.jets import taylor_coefficients
from budget.model import MeasurementModel
from budget.outcomes import quantiles as sample_quantiles
from budget.quantiles import Array, StandardForm, standard_ppf

NODES = 16_385
REACH = 6.0
"""Normal scores that the nodes of an input's distribution span."""
CELLS = 1 << 15
WIDEST = 100.0
"""Range of one input's term, in standard deviations of the sum, above which it is left out."""


@dataclass(frozen=True)
class Control:
    """
    The sum of slopeⱼ·(xⱼ - x̄ⱼ) + curvatureⱼ·(xⱼ - x̄ⱼ)² over the inputs.

    Its distribution is that of independent terms, so that mean, variance and quantiles follow without sampling
    the model. How far a sample's own figures for it are off tells how far its figures for the measurand are off.

    Parameters
    ----------
    terms : tuple of (symbol, centre, slope, curvature)
        The terms.
    mean, variance : float
        Of the sum.
    levels, quantiles : ndarray, shape (k,)
        Probabilities, and the sum's values at them.
    """

    terms: tuple[tuple[str, float, float, float], ...]
    mean: float
    variance: float
    levels: Array
    quantiles: Array

    def values(self, draws: Mapping[str, Array]) -> Array:
        """Return the sum for draws of the inputs."""
        total: Array = np.zeros(next(iter(draws.values())).shape)
        for symbol, centre, slope, curvature in self.terms:
            term = draws[symbol] - centre
            total += term * (slope + curvature * term) if curvature else slope * term
        return total


def control_of(model: MeasurementModel, drawing: Sampler, levels: Array) -> Control | None:
    """
    Return the control variate of a model; ``None`` where it has no derivatives at its estimates.

    Parameters
    ----------
    model : MeasurementModel
        The model.
    drawing : Sampler
        Its uncertain inputs.
    levels : ndarray, shape (k,)
        Probabilities at which quantiles are wanted, ascending.

    Notes
    -----
    Slopes and curvatures are the model's own derivatives. The distribution of the sum is a convolution by fast
    Fourier transform, on cells of 0.1 % of its standard deviation.
    """
    symbols = drawing.symbols
    centres = {symbol: model.distributions[symbol].mean for symbol in symbols}
    directions = dict(zip(symbols, np.eye(len(symbols)), strict=True))
    jets = taylor_coefficients(model.program, {**centres, **drawing.constants}, directions, 2)
    if not np.all(np.isfinite(jets)):
        return None
    grouped = {index for indices, _ in drawing.correlated for index in indices}
    scores = np.linspace(-REACH, REACH, NODES)
    pieces: list[_Piece] = []
    for index, symbol in enumerate(symbols):
        slope, curvature = float(jets[1, index]), float(jets[2, index])
        piece = _piece(symbol, drawing.forms[index], centres[symbol], (slope, curvature), scores)
        if piece is not None and index not in grouped:
            pieces.append(piece)
    pieces += [_normal_group(drawing, indices, root, jets[1], scores) for indices, root in drawing.correlated]
    return _combined(pieces, scores, levels)


@dataclass(frozen=True)
class _Piece:
    """One independent term: its part of the sum at the nodes, ascending in value."""

    terms: tuple[tuple[str, float, float, float], ...]
    values: Array


def _piece(
    symbol: str, form: StandardForm, centre: float, derivatives: tuple[float, float], scores: Array
) -> _Piece | None:
    """Return the term of an independent input; ``None`` where it has none or its tails are too heavy."""
    slope, curvature = derivatives
    if slope == 0.0 or (form.shape[0] == "t" and float(form.shape[1]) <= 6.0):
        return None
    nodes = form.location + form.scale * standard_ppf(form.shape, special.ndtr(scores)) - centre
    curved = nodes * (slope + curvature * nodes)
    steps = np.diff(curved) * np.sign(slope)
    if not np.all(steps >= 0.0):  # beyond a turning point the quadratic misleads; a straight line does not
        curvature, curved = 0.0, slope * nodes
    return _Piece(((symbol, centre, slope, curvature),), curved)


def _normal_group(drawing: Sampler, indices: tuple[int, ...], root: Array, slopes: Array, scores: Array) -> _Piece:
    """Return the term of correlated normal inputs, itself normal; nothing where one is not normal."""
    forms = [drawing.forms[index] for index in indices]
    if any(form.shape != ("normal",) for form in forms):
        return _Piece((), np.zeros_like(scores))
    weights = np.array([slopes[index] * form.scale for index, form in zip(indices, forms, strict=True)])
    terms = tuple(
        (drawing.symbols[index], form.location, float(slopes[index]), 0.0)
        for index, form in zip(indices, forms, strict=True)
    )
    return _Piece(terms, float(np.linalg.norm(weights @ root)) * scores)


def _combined(pieces: list[_Piece], scores: Array, levels: Array) -> Control | None:
    """Add independent pieces: moments by quadrature over the scores, quantiles by convolution."""
    edges = np.concatenate([[-np.inf], 0.5 * (scores[1:] + scores[:-1]), [np.inf]])
    weights = np.diff(special.ndtr(edges))
    moments = [_moments(piece.values, weights) for piece in pieces]
    spread = math.sqrt(sum(variance for _, variance in moments))
    kept = [
        (piece, moment)
        for piece, moment in zip(pieces, moments, strict=True)
        if 0.0 < np.ptp(piece.values) < WIDEST * spread
    ]
    if not kept:
        return None
    quantiles = _convolved_quantiles([piece.values for piece, _ in kept], special.ndtr(scores), levels)
    return Control(
        tuple(term for piece, _ in kept for term in piece.terms),
        sum(mean for _, (mean, _) in kept),
        sum(variance for _, (_, variance) in kept),
        levels,
        quantiles,
    )


def _moments(values: Array, weights: Array) -> tuple[float, float]:
    mean = float(np.sum(weights * values))
    return mean, float(np.sum(weights * (values - mean) ** 2))


def _convolved_quantiles(pieces: list[Array], probabilities: Array, levels: Array) -> Array:
    """Quantiles of a sum of independent terms given by their quantiles at the same probabilities."""
    width = 1.02 * sum(float(np.ptp(values)) for values in pieces) / CELLS
    start = 0.0
    transform = np.ones(CELLS // 2 + 1, dtype=complex)
    for values in pieces:
        ascending, cumulated = values, probabilities
        if values[-1] < values[0]:
            ascending, cumulated = values[::-1], 1.0 - probabilities[::-1]
        cells = math.ceil(float(np.ptp(values)) / width) + 1
        low = float(ascending[0]) - 0.5 * (cells * width - float(np.ptp(values)))
        masses = np.diff(np.interp(low + width * np.arange(cells + 1), ascending, cumulated, left=0.0, right=1.0))
        transform *= np.fft.rfft(masses, CELLS)
        start += low + 0.5 * width  # centre of the first cell
    total = np.cumsum(np.fft.irfft(transform, CELLS))
    ends = start + width * (np.arange(CELLS) + 0.5)
    rising = np.maximum.accumulate(total) + 1e-15 * np.arange(CELLS)
    return np.asarray(np.interp(levels, rising, ends))


def corrected_results(outcomes: Array, controls: Array, control: Control, coverage: float) -> tuple[Array, Array]:
    """
    Return estimate, standard uncertainty and interval ends, corrected by a control variate.

    Parameters
    ----------
    outcomes, controls : ndarray, shape (n,)
        The measurand and the control for the same draws.
    control : Control
        The control's exact figures.
    coverage : float
        Coverage probability of the probabilistically symmetric interval.

    Returns
    -------
    results : ndarray, shape (4,)
        Estimate, standard uncertainty, low and high end.
    weights : ndarray, shape (2,)
        Part of the control's error of probability that counts at the low and at the high end.

    Notes
    -----
    Means are corrected by regression. An end point is the quantile of the outcomes at the probability p + β·e, where
    e is how far the part of the controls below their exact quantile is off p, and β the regression of "outcome
    below its quantile" on "control below its quantile".
    """
    centred, shadow = outcomes - np.mean(outcomes), controls - np.mean(controls)
    estimate = float(np.mean(outcomes)) - _slope(centred, shadow) * (float(np.mean(controls)) - control.mean)
    squares, shadow_squares = centred**2, shadow**2
    bias = 1.0 - 1.0 / outcomes.size
    slope = _slope(squares - np.mean(squares), shadow_squares - np.mean(shadow_squares))
    variance = (float(np.mean(squares)) - slope * float(np.mean(shadow_squares))) / bias + slope * control.variance
    tail = 0.5 * (1.0 - coverage)
    wanted = np.array([tail, 1.0 - tail])
    ends = sample_quantiles(outcomes, wanted)
    exact = np.interp(wanted, control.levels, control.quantiles)
    below = controls[None, :] <= exact[:, None]
    share = np.mean(below, axis=1)
    together = np.mean(below & (outcomes[None, :] <= ends[:, None]), axis=1)
    weights = np.clip((together - share * wanted) / (tail * (1.0 - tail)), 0.0, 1.0)
    moved = sample_quantiles(outcomes, np.clip(wanted + weights * (share - wanted), 0.0, 1.0))
    return np.array([estimate, math.sqrt(max(variance, 0.0)), *moved]), weights


def _slope(centred: Array, shadow: Array) -> float:
    """Regression coefficient of one centred variable on another."""
    square = float(np.sum(shadow * shadow))  # not a matrix product: that would wake the threads of the BLAS
    return float(np.sum(centred * shadow)) / square if square > 0.0 else 0.0
