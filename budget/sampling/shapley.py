"""Shapley effects: the split of the variance that still sums to one when inputs are correlated."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.quantities.correlation import correlation_matrix, square_root
from budget.sampling.draws import from_scores
from budget.sampling.quasirandom import uniform_draws

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
        if not np.all(np.isfinite(outcomes)):
            raise BudgetError(
                f"equation of {self._model.symbol}: must have a value for every draw of its inputs to share out the "
                f"variance (got none in {100.0 * float(np.mean(~np.isfinite(outcomes))):.2g} % of the draws)"
            )
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
