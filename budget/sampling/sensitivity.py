"""Which part of the variance each input makes: Sobol' indices, and Shapley effects where inputs are correlated."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.derivatives import has_steps
from budget.model.measurement import MeasurementModel
from budget.quantities.correlation import correlation_matrix, square_root
from budget.sampling.draws import Sampler, from_scores, sampler
from budget.sampling.quasirandom import BLOCK, uniform_draws

CONFIDENCE = 0.95
NO_SPREAD = "no spread"


@dataclass(frozen=True)
class SobolIndices:
    """
    First-order and total-effect indices of the uncertain inputs, in the order of the model.

    The intervals, shape (n, 2), are of 95 % confidence: from the spread of replicates where there are several, and else
    such as random points would have, which is too wide. ``note`` says where variance shares may mislead.
    """

    symbols: tuple[str, ...]
    first: FloatArray
    first_interval: FloatArray
    total: FloatArray
    total_interval: FloatArray
    note: str = ""


def sobol_indices(model: MeasurementModel, base: int = 1024, seed: int = 0, replicates: int = 1) -> SobolIndices:
    """
    Return first-order and total-effect indices of a model with independent inputs.

    ``base`` points, raised to a power of two, take base·(n + 2) evaluations, as often as there are ``replicates``.

    Raises
    ------
    BudgetError
        If inputs are correlated (see ``budget.sampling.sensitivity``), or the equation has no value for some draws.

    Notes
    -----
    Sample and estimators are SALib's. Replicates are scrambled nets of their own; the indices are their means, and the
    intervals those of Student's t. Of a single net the intervals are the large-sample limit of SALib's bootstrap: the
    standard deviation of the estimators' influence functions over √base, which costs no resampling.

    References
    ----------
    .. [1] Saltelli, A. et al. (2010). Variance based sensitivity analysis of model output. Comput. Phys.
       Commun. 181, 259-270. doi:10.1016/j.cpc.2009.09.018.
    """
    if base < 2:
        raise BudgetError(f"base: must be at least 2 points (got {base})")
    if replicates > 1:
        seeds = np.random.SeedSequence(seed).generate_state(replicates).tolist()
        return _over_replicates(model, [sobol_indices(model, base, each) for each in seeds])
    drawing = sampler(model)
    if drawing.correlated:
        names = ", ".join(drawing.symbols[i] for indices, _ in drawing.correlated for i in indices)
        raise BudgetError(f"sensitivity: Sobol' indices must have independent inputs (got correlation among {names})")
    if drawing.dimension == 0:
        none, pairs = np.empty(0), np.empty((0, 2))
        return SobolIndices((), none, pairs, none, pairs)
    first_points, second_points = _base_points(drawing.dimension, 1 << (base - 1).bit_length(), seed)
    a, b, mixed = _outcomes(model, drawing, first_points, second_points)
    return _indices(model, drawing.symbols, a, b, mixed)


def _over_replicates(model: MeasurementModel, found: list[SobolIndices]) -> SobolIndices:
    """Return the means of indices over independent replicates, with intervals by their spread."""
    one = found[0]
    if not one.symbols or one.note == NO_SPREAD:
        return one
    reach = float(special.stdtrit(len(found) - 1, 0.5 + 0.5 * CONFIDENCE)) / math.sqrt(len(found))

    def over(rows: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
        mean, error = np.mean(rows, axis=0), reach * np.std(rows, axis=0, ddof=1)
        return mean, np.stack([mean - error, mean + error], axis=1)

    first, first_interval = over([each.first for each in found])
    total, total_interval = over([each.total for each in found])
    return SobolIndices(one.symbols, first, first_interval, total, total_interval, _note(model, float(np.sum(first))))


@lru_cache(maxsize=16)
def _base_points(dimension: int, base: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """Return the two base samples of SALib's scheme, each of shape (dimension, base); many models share them."""
    from SALib.sample import sobol as scheme

    problem = {"num_vars": dimension, "names": [str(k) for k in range(dimension)], "bounds": [[0.0, 1.0]] * dimension}
    rows = scheme.sample(problem, base, calc_second_order=False, seed=seed).reshape(base, dimension + 2, dimension)
    tiny = 2.0**-32
    first, second = (np.clip(rows[:, place].T, tiny, 1.0 - tiny) for place in (0, -1))
    first.setflags(write=False)
    second.setflags(write=False)
    return first, second


def _outcomes(
    model: MeasurementModel, drawing: Sampler, first: FloatArray, second: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Evaluate both base samples and, for every input, the first with that input taken from the second."""
    base = first.shape[1]
    a, b, mixed = np.empty(base), np.empty(base), np.empty((drawing.dimension, base))
    for start in range(0, base, BLOCK):
        part = slice(start, start + BLOCK)
        one, two = drawing.draws(first[:, part]), drawing.draws(second[:, part])
        a[part], b[part] = model.evaluate_draws(one), model.evaluate_draws(two)
        for index, symbol in enumerate(drawing.symbols):
            mixed[index, part] = model.evaluate_draws({**one, symbol: two[symbol]})
    _refuse_gaps(model, np.concatenate([a, b, mixed.ravel()]))
    return a, b, mixed


def _refuse_gaps(model: MeasurementModel, outcomes: FloatArray) -> None:
    missing = float(np.mean(~np.isfinite(outcomes)))
    if missing:
        raise BudgetError(
            f"equation of {model.symbol}: must have a value for every draw of its inputs to share out the variance "
            f"(got none in {100.0 * missing:.2g} % of the draws)"
        )


def _indices(
    model: MeasurementModel, symbols: tuple[str, ...], a: FloatArray, b: FloatArray, mixed: FloatArray
) -> SobolIndices:
    from SALib.analyze import sobol as estimators

    pooled = np.concatenate([a, b])
    spread = float(np.std(pooled))
    if spread <= 1e-14 * float(np.max(np.abs(pooled))):
        none = np.zeros(len(symbols))
        return SobolIndices(symbols, none, np.zeros((len(symbols), 2)), none, np.zeros((len(symbols), 2)), NO_SPREAD)
    centre = float(np.mean(np.concatenate([pooled, mixed.ravel()])))  # as SALib centres
    a, b, mixed = (a - centre) / spread, (b - centre) / spread, (mixed - centre) / spread
    first = np.array([estimators.first_order(a, row, b) for row in mixed])
    total = np.array([estimators.total_order(a, row, b) for row in mixed])
    variance = 0.5 * (a**2 + b**2)
    reach = float(special.ndtri(0.5 + 0.5 * CONFIDENCE)) / math.sqrt(a.size)
    first_error = reach * np.std(b * (mixed - a) - first[:, None] * variance, axis=1, ddof=1)
    total_error = reach * np.std(0.5 * (a - mixed) ** 2 - total[:, None] * variance, axis=1, ddof=1)
    return SobolIndices(
        symbols,
        first,
        np.stack([first - first_error, first + first_error], axis=1),
        total,
        np.stack([total - total_error, total + total_error], axis=1),
        _note(model, float(np.sum(first))),
    )


def _note(model: MeasurementModel, explained: float) -> str:
    """Say where variance shares may mislead."""
    if has_steps(model):
        return (
            "The equation goes in whole steps: a share says how far an input moves the result over the steps it "
            "crosses, and may change abruptly when an estimate or a width changes a little."
        )
    if explained < 0.9:
        return (
            f"Single inputs explain {100 * max(explained, 0.0):.0f} % of the variance; the rest comes from inputs "
            "acting together, so total shares overlap and sum to more than one."
        )
    return ""


MOST_EXACT = 10
"""Inputs up to which every subset is taken; beyond it, subsets along random orders."""
ORDERS = 128


@dataclass(frozen=True)
class ShapleyEffects:
    """
    Shapley effects of the uncertain inputs, in the order of the model: shares of the variance that sum to one.

    ``first`` is Var(E[Y|Xᵢ])/Var(Y), ``total`` 1 - Var(E[Y|all but Xᵢ])/Var(Y); with correlation the first may exceed
    the second.
    """

    symbols: tuple[str, ...]
    effects: FloatArray
    first: FloatArray
    total: FloatArray


def shapley_effects(model: MeasurementModel, base: int = 4096, seed: int = 0) -> ShapleyEffects:
    """
    Return the Shapley effects of a model whose inputs may be correlated.

    Each conditional variance takes ``base`` points, raised to a power of two.

    Raises
    ------
    BudgetError
        If the equation has no value for some draws.

    Notes
    -----
    The worth of a subset S is v(S) = Var(E[Y | X_S]), estimated as the covariance of Y with Y', in which the other
    inputs are drawn again from their distribution given X_S (normal scores, so the conditional
    distribution is exact for the Gaussian copula). All subsets share one scrambled Sobol' sample.

    References
    ----------
    .. [1] Owen, A. B. (2014). Sobol' indices and Shapley value. SIAM/ASA J. Uncertain. Quantif. 2, 245-251.
    .. [2] Song, E., Nelson, B. L., Staum, J. (2016). Shapley effects for global sensitivity analysis.
       SIAM/ASA J. Uncertain. Quantif. 4, 1060-1083.
    """
    symbols = model.uncertain
    count = len(symbols)
    if count == 0:
        return ShapleyEffects((), np.empty(0), np.empty(0), np.empty(0))
    worth = _Worth(model, 1 << (base - 1).bit_length(), seed)
    if worth.variance == 0.0:
        return ShapleyEffects(symbols, np.zeros(count), np.zeros(count), np.zeros(count))
    effects = _exact(worth, count) if count <= MOST_EXACT else _along_orders(worth, count, seed)
    everything = (1 << count) - 1
    first = np.array([worth.of(1 << i) for i in range(count)])
    total = np.array([1.0 - worth.of(everything ^ 1 << i) for i in range(count)])
    return ShapleyEffects(symbols, effects, first, total)


class _Worth:
    """Shares of the variance that subsets of inputs explain, each computed once."""

    def __init__(self, model: MeasurementModel, base: int, seed: int) -> None:
        self._model = model
        self._forms = [model.distributions[s].standard_form() for s in model.uncertain]
        self._matrix = correlation_matrix(model.uncertain, model.correlations)
        count = len(self._forms)
        points = special.ndtri(uniform_draws(2 * count, base, seed).T)
        self._scores = square_root(self._matrix) @ points[:count]
        self._fresh = points[count:]
        outcomes = self._evaluate(self._scores)
        self._centre = float(np.mean(outcomes))
        self._outcomes = outcomes - self._centre
        self.variance = float(np.mean(self._outcomes**2))
        if self.variance <= (1e-14 * self._centre) ** 2:
            self.variance = 0.0
        self._known = {0: 0.0, (1 << count) - 1: 1.0}

    def of(self, subset: int) -> float:
        """Share explained by the inputs whose bits are set."""
        if subset not in self._known:
            again = self._evaluate(self._redrawn(subset)) - self._centre
            pooled = 0.5 * float(np.mean(self._outcomes) + np.mean(again))
            spread = 0.5 * float(np.mean(self._outcomes**2 + again**2)) - pooled**2
            self._known[subset] = (float(np.mean(self._outcomes * again)) - pooled**2) / spread
        return self._known[subset]

    def _redrawn(self, subset: int) -> FloatArray:
        """Scores with the inputs outside the subset drawn again, given those inside."""
        kept = [i for i in range(len(self._forms)) if subset >> i & 1]
        others = [i for i in range(len(self._forms)) if not subset >> i & 1]
        across = self._matrix[np.ix_(others, kept)]
        slope = across @ np.linalg.pinv(self._matrix[np.ix_(kept, kept)], hermitian=True)
        left = self._matrix[np.ix_(others, others)] - slope @ across.T
        scores = self._scores.copy()
        scores[others] = slope @ self._scores[kept] + square_root(left) @ self._fresh[others]
        return scores

    def _evaluate(self, scores: FloatArray) -> FloatArray:
        symbols = self._model.uncertain
        draws = {s: from_scores(f, z) for s, f, z in zip(symbols, self._forms, scores, strict=True)}
        outcomes = np.broadcast_to(self._model.evaluate_draws(draws), scores.shape[1:])
        _refuse_gaps(self._model, outcomes)
        return np.asarray(outcomes, dtype=float)


def _exact(worth: _Worth, count: int) -> FloatArray:
    """Shapley values over all subsets: the mean gain of an input over the orders in which inputs may enter."""
    weights = [1.0 / (count * math.comb(count - 1, size)) for size in range(count)]
    effects = np.zeros(count)
    for subset in range(1 << count):
        for index in range(count):
            if not subset >> index & 1:
                gain = worth.of(subset | 1 << index) - worth.of(subset)
                effects[index] += weights[subset.bit_count()] * gain
    return effects


def _along_orders(worth: _Worth, count: int, seed: int) -> FloatArray:
    """Mean gain over random orders, each taken forwards and backwards."""
    generator = np.random.default_rng(seed)
    effects = np.zeros(count)
    for _ in range(ORDERS // 2):
        order = generator.permutation(count)
        for direction in (order, order[::-1]):
            _add_gains(effects, worth, (int(i) for i in direction))
    return effects / (2 * (ORDERS // 2))


def _add_gains(effects: FloatArray, worth: _Worth, order: Iterable[int]) -> None:
    subset, before = 0, 0.0
    for index in order:
        subset |= 1 << index
        after = worth.of(subset)
        effects[index] += after - before
        before = after
