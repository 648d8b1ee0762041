"""A control variate for simulations: a sum of functions of single inputs whose distribution is known exactly."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.model.derivatives import taylor_coefficients
from budget.model.measurement import MeasurementModel
from budget.quantities.quantiles import StandardForm, standard_ppf
from budget.sampling.draws import Sampler
from budget.sampling.outcomes import quantiles as sample_quantiles

NODES = 16_385
REACH = 6.0
"""Normal scores that the nodes of an input's distribution span."""
CELLS = 1 << 15
HUB_SLICES = 32
THINNING = 8
LEAST_INTERACTION = 1e-4
"""Part of the variance from which products with one input are followed."""
WIDEST = 100.0
"""Range of one input's term, in standard deviations of the sum, above which it is left out."""


@dataclass(frozen=True)
class Sum:
    """
    The sum of slope·(x - centre) + curvature·(x - centre)² over terms (symbol, centre, slope, curvature).

    With a hub (symbol, centre, factors by symbol), its product with every other term joins in: each slope then
    depends on the hub.
    """

    terms: tuple[tuple[str, float, float, float], ...]
    hub: tuple[str, float, Mapping[str, float]] | None = None

    def values(self, draws: Mapping[str, FloatArray]) -> FloatArray:
        """Return the sum for draws of the inputs."""
        total: FloatArray = np.zeros(next(iter(draws.values())).shape)
        for symbol, centre, slope, curvature in self.terms:
            term = draws[symbol] - centre
            total += term * (slope + curvature * term) if curvature else slope * term
        if self.hub is not None:
            hub, middle, factors = self.hub
            slopes = sum(factors[symbol] * (draws[symbol] - centre) for symbol, centre, _, _ in self.terms)
            total += (draws[hub] - middle) * slopes
        return total


@dataclass(frozen=True)
class Control:
    """
    Two sums of functions of single inputs, one close to the measurand, one close to a rising function of it.

    The distribution of a sum of independent terms is known: mean, variance and quantiles follow without sampling
    the model. How far a sample's own figures for it are off tells how far its figures for the measurand are off.

    Parameters
    ----------
    moments : Sum
        Close to the measurand; corrects estimate and standard uncertainty.
    mean, variance : float
        Of that sum.
    ranks : Sum
        Orders the draws as the measurand does; corrects end points.
    levels, quantiles : ndarray, shape (k,)
        Probabilities, and that sum's values at them.
    """

    moments: Sum
    mean: float
    variance: float
    ranks: Sum
    levels: FloatArray
    quantiles: FloatArray


def control_of(model: MeasurementModel, drawing: Sampler, levels: FloatArray) -> Control | None:
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
    Slopes and curvatures are the model's own derivatives; products with the one input that interacts most, the hub,
    are followed by averaging over it. A rising function g of the measurand has the same
    ranks; with κ = g''/g' its second derivatives are fᵢⱼ + κ·fᵢ·fⱼ, and κ is chosen so that the mixed ones, which a
    sum cannot have, are small (a product becomes a sum of logarithms). The distribution of a sum is a
    convolution by fast Fourier transform, on cells of about 0.1 % of its standard deviation.
    """
    slopes, curvatures, mixed = _derivatives(model, drawing)
    if not (np.all(np.isfinite(slopes)) and np.all(np.isfinite(curvatures))):
        return None
    weights = np.array([model.distributions[symbol].standard_uncertainty for symbol in drawing.symbols])
    bend = _bend(slopes * weights, mixed * np.outer(weights, weights))
    scores = np.linspace(-REACH, REACH, NODES)
    plain = _pieces(model, drawing, slopes, curvatures, scores)
    ranked = _pieces(model, drawing, slopes, curvatures + 0.5 * bend * slopes**2, scores)
    if not plain or not ranked:
        return None
    edges = np.concatenate([[-np.inf], 0.5 * (scores[1:] + scores[:-1]), [np.inf]])
    masses = np.diff(special.ndtr(edges))
    figures = [_moments(piece.values, masses) for piece in plain]
    remaining = mixed + bend * np.outer(slopes, slopes)
    hub = _hub(drawing, ranked, remaining * np.outer(weights, weights))
    if hub is None:
        order, quantiles = Sum(_terms(ranked)), _quantiles(_distribution(ranked, scores), levels)
    else:
        row = remaining[drawing.symbols.index(hub.terms[0][0])]
        factors = dict.fromkeys((term[0] for term in _terms(ranked)), 0.0)
        for piece in ranked:
            if piece.deviations is not None and piece is not hub:
                factors[piece.terms[0][0]] = float(row[drawing.symbols.index(piece.terms[0][0])])
        order = Sum(_terms(ranked), (hub.terms[0][0], hub.terms[0][1], factors))
        quantiles = _quantiles(_around_hub(hub, ranked, factors, scores), levels)
    mean, variance = sum(mean for mean, _ in figures), sum(variance for _, variance in figures)
    return Control(Sum(_terms(plain)), mean, variance, order, levels, quantiles)


def _terms(pieces: list[_Piece]) -> tuple[tuple[str, float, float, float], ...]:
    return tuple(term for piece in pieces for term in piece.terms)


def _hub(drawing: Sampler, pieces: list[_Piece], mixed: FloatArray) -> _Piece | None:
    """Return the independent input whose products with the others matter most; ``None`` where none does."""
    strength = np.sum(mixed**2, axis=1)
    single = {piece.terms[0][0]: piece for piece in pieces if piece.deviations is not None}
    best = max(single, key=lambda symbol: float(strength[drawing.symbols.index(symbol)]), default=None)
    whole = sum(float(np.var(piece.values[:: NODES // 64])) for piece in pieces)
    if best is None or len(pieces) < 2 or strength[drawing.symbols.index(best)] < LEAST_INTERACTION * whole:
        return None
    return single[best]


def _derivatives(model: MeasurementModel, drawing: Sampler) -> tuple[FloatArray, FloatArray, FloatArray]:
    """First derivatives, half the second ones, and the mixed ones (0 on the diagonal)."""
    count = drawing.dimension
    i, j = np.triu_indices(count, k=1)
    axes = np.eye(count)
    lines = np.concatenate([axes, axes[:, i] + axes[:, j]], axis=1)
    jets = taylor_coefficients(model.program, model.estimates, dict(zip(drawing.symbols, lines, strict=True)), 2)
    halves = jets[2, :count]
    mixed = np.zeros((count, count))
    mixed[i, j] = jets[2, count:] - halves[i] - halves[j]
    return jets[1, :count], halves, mixed + mixed.T


def _bend(slopes: FloatArray, mixed: FloatArray) -> float:
    """The κ that makes the mixed derivatives of a rising function of the measurand small in the mean square."""
    products = np.outer(slopes, slopes)
    np.fill_diagonal(products, 0.0)
    square = float(np.sum(products**2))
    return -float(np.sum(mixed * products)) / square if square > 0.0 else 0.0


def _pieces(
    model: MeasurementModel, drawing: Sampler, slopes: FloatArray, curvatures: FloatArray, scores: FloatArray
) -> list[_Piece]:
    """Return the independent terms of a sum, without those whose tails would drown the rest."""
    grouped = {index for indices, _ in drawing.correlated for index in indices}
    pieces = [_normal_group(drawing, indices, root, slopes, scores) for indices, root in drawing.correlated]
    for index, symbol in enumerate(drawing.symbols):
        if index not in grouped:
            centre = model.distributions[symbol].mean
            derivatives = (float(slopes[index]), float(curvatures[index]))
            pieces.append(_piece(symbol, drawing.forms[index], centre, derivatives, scores))
    spread = math.sqrt(sum(float(np.var(piece.values[:: NODES // 64])) for piece in pieces))
    return [piece for piece in pieces if 0.0 < np.ptp(piece.values) < WIDEST * spread]


@dataclass(frozen=True)
class _Piece:
    """One independent term: its part of the sum at the nodes, ascending in value."""

    terms: tuple[tuple[str, float, float, float], ...]
    values: FloatArray
    deviations: FloatArray | None = None
    """Values of x - centre at the nodes, for an input on its own."""


def _piece(
    symbol: str, form: StandardForm, centre: float, derivatives: tuple[float, float], scores: FloatArray
) -> _Piece:
    """Return the term of an independent input; an empty one where it has none or its tails are too heavy."""
    slope, curvature = derivatives
    if slope == 0.0 or (form.shape[0] == "t" and float(form.shape[1]) <= 6.0):
        return _Piece((), np.zeros_like(scores))
    nodes = form.location + form.scale * standard_ppf(form.shape, special.ndtr(scores)) - centre
    curved = nodes * (slope + curvature * nodes)
    steps = np.diff(curved) * np.sign(slope)
    if not np.all(steps >= 0.0):  # beyond a turning point the quadratic misleads; a straight line does not
        curvature, curved = 0.0, slope * nodes
    return _Piece(((symbol, centre, slope, curvature),), curved, nodes)


def _normal_group(
    drawing: Sampler, indices: tuple[int, ...], root: FloatArray, slopes: FloatArray, scores: FloatArray
) -> _Piece:
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


def _moments(values: FloatArray, weights: FloatArray) -> tuple[float, float]:
    mean = float(np.sum(weights * values))
    return mean, float(np.sum(weights * (values - mean) ** 2))


def _distribution(pieces: list[_Piece], scores: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distribution function of a sum of independent terms: values and probabilities."""
    probabilities = special.ndtr(scores)
    return _convolved([(piece.values, probabilities) for piece in pieces], CELLS)


def _around_hub(
    hub: _Piece, pieces: list[_Piece], factors: Mapping[str, float], scores: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """
    Distribution function of a sum with a hub: the mean over slices of the hub.

    Within a slice the hub's own term keeps its exact distribution; the other slopes take the slice's mean of it.
    """
    thinned = special.ndtr(scores[::THINNING])
    distributions = []
    for nodes in np.array_split(np.arange(scores.size), HUB_SLICES):
        part = slice(int(nodes[0]), min(int(nodes[-1]) + 2, scores.size))
        probabilities = special.ndtr(scores[part])
        share = float(probabilities[-1] - probabilities[0])
        within = (probabilities - probabilities[0]) / share
        deviation = _mean_between(hub.deviations[part], within) if hub.deviations is not None else 0.0
        parts = [(_tilted(piece, deviation, factors)[::THINNING], thinned) for piece in pieces if piece is not hub]
        distributions.append((share, *_convolved([*parts, (hub.values[part], within)], CELLS // 4)))
    ends = [(float(values[0]), float(values[-1])) for _, values, _ in distributions]
    grid = np.linspace(min(low for low, _ in ends), max(high for _, high in ends), 4 * CELLS)
    total = sum(share * np.interp(grid, values, cumulated) for share, values, cumulated in distributions)
    return grid, np.asarray(total / sum(share for share, _, _ in distributions))


def _mean_between(values: FloatArray, probabilities: FloatArray) -> float:
    return float(np.sum(0.5 * (values[1:] + values[:-1]) * np.diff(probabilities)))


def _tilted(piece: _Piece, deviation: float, factors: Mapping[str, float]) -> FloatArray:
    """Values of a term at the nodes where the hub deviates from its centre."""
    if piece.deviations is None:
        return piece.values
    return piece.values + factors[piece.terms[0][0]] * deviation * piece.deviations


def _quantiles(distribution: tuple[FloatArray, FloatArray], levels: FloatArray) -> FloatArray:
    values, probabilities = distribution
    rising = np.maximum.accumulate(probabilities) + 1e-15 * np.arange(probabilities.size)
    return np.asarray(np.interp(levels, rising, values))


def _convolved(pieces: list[tuple[FloatArray, FloatArray]], size: int) -> tuple[FloatArray, FloatArray]:
    """Distribution function of a sum of independent terms given by their quantiles and the probabilities of these."""
    width = 1.02 * max(sum(float(np.ptp(values)) for values, _ in pieces), 1e-300) / size
    start = 0.0
    transform = np.ones(size // 2 + 1, dtype=complex)
    for values, probabilities in pieces:
        ascending, cumulated = _ascending(values, probabilities)
        span = float(ascending[-1] - ascending[0])
        cells = math.ceil(span / width) + 1
        low = float(ascending[0]) - 0.5 * (cells * width - span)
        masses = np.diff(np.interp(low + width * np.arange(cells + 1), ascending, cumulated, left=0.0, right=1.0))
        transform *= np.fft.rfft(masses, size)
        start += low + 0.5 * width  # centre of the first cell
    centres = start + width * (np.arange(size, dtype=np.float64) + 0.5)
    return centres, np.cumsum(np.fft.irfft(transform, size))


def _ascending(values: FloatArray, probabilities: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distribution function of a function of a quantity, from its values at rising probabilities of the quantity."""
    steps = np.diff(values)
    if np.all(steps >= 0.0):
        return values, probabilities
    if np.all(steps <= 0.0):
        return values[::-1], 1.0 - probabilities[::-1]
    order = np.argsort(values)
    masses = np.gradient(probabilities)[order]
    return values[order], (np.cumsum(masses) - 0.5 * masses) / np.sum(masses)


def corrected_results(rows: FloatArray, control: Control, coverage: float) -> tuple[FloatArray, FloatArray]:
    """
    Return estimate, standard uncertainty and interval ends, corrected by a control variate.

    Parameters
    ----------
    rows : ndarray, shape (3, n)
        The measurand and the two sums of the control for the same draws.
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
    outcomes, sums, ranks = rows
    centred, shadow = outcomes - np.mean(outcomes), sums - np.mean(sums)
    estimate = float(np.mean(outcomes)) - _slope(centred, shadow) * (float(np.mean(sums)) - control.mean)
    squares, shadow_squares = centred**2, shadow**2
    bias = 1.0 - 1.0 / outcomes.size
    slope = _slope(squares - np.mean(squares), shadow_squares - np.mean(shadow_squares))
    variance = (float(np.mean(squares)) - slope * float(np.mean(shadow_squares))) / bias + slope * control.variance
    tail = 0.5 * (1.0 - coverage)
    wanted = np.array([tail, 1.0 - tail])
    ends = sample_quantiles(outcomes, wanted)
    exact = np.interp(wanted, control.levels, control.quantiles)
    below = ranks[None, :] <= exact[:, None]
    share = np.mean(below, axis=1)
    together = np.mean(below & (outcomes[None, :] <= ends[:, None]), axis=1)
    weights = np.clip((together - share * wanted) / (tail * (1.0 - tail)), 0.0, 1.0)
    moved = sample_quantiles(outcomes, np.clip(wanted + weights * (share - wanted), 0.0, 1.0))
    return np.array([estimate, math.sqrt(max(variance, 0.0)), *moved]), weights


def _slope(centred: FloatArray, shadow: FloatArray) -> float:
    """Regression coefficient of one centred variable on another."""
    square = float(np.sum(shadow * shadow))  # not a matrix product: that would wake the threads of the BLAS
    return float(np.sum(centred * shadow)) / square if square > 0.0 else 0.0
