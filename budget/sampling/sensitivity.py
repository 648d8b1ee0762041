"""Sobol' indices: which part of the measurand's variance each input quantity makes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.derivatives import has_steps
from budget.model.measurement import MeasurementModel
from budget.sampling.draws import Sampler, sampler
from budget.sampling.quasirandom import BLOCK

CONFIDENCE = 0.95


@dataclass(frozen=True)
class SobolIndices:
    """
    First-order and total-effect indices of the uncertain inputs, in the order of the model.

    The intervals, shape (n, 2), are of 95 % confidence; ``note`` says where variance shares may mislead.
    """

    symbols: tuple[str, ...]
    first: FloatArray
    first_interval: FloatArray
    total: FloatArray
    total_interval: FloatArray
    note: str = ""


def sobol_indices(model: MeasurementModel, base: int = 1024, seed: int = 0) -> SobolIndices:
    """
    Return first-order and total-effect indices of a model with independent inputs.

    ``base`` points, raised to a power of two, take base·(n + 2) evaluations.

    Raises
    ------
    BudgetError
        If inputs are correlated (see ``budget.sampling.shapley``), or the equation has no value for some draws.

    Notes
    -----
    Sample and estimators are SALib's. The confidence intervals are the large-sample limit of its bootstrap: the
    standard deviation of the estimators' influence functions over √base, which costs no resampling.

    References
    ----------
    .. [1] Saltelli, A. et al. (2010). Variance based sensitivity analysis of model output. Comput. Phys.
       Commun. 181, 259-270. doi:10.1016/j.cpc.2009.09.018.
    """
    if base < 2:
        raise BudgetError(f"base: must be at least 2 points (got {base})")
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
    if not (np.all(np.isfinite(a)) and np.all(np.isfinite(b)) and np.all(np.isfinite(mixed))):
        share = 1.0 - np.mean(np.isfinite(np.concatenate([a, b, mixed.ravel()])))
        raise BudgetError(
            f"equation of {model.symbol}: must have a value for every draw of its inputs to share out the variance "
            f"(got none in {100.0 * share:.2g} % of the draws)"
        )
    return a, b, mixed


def _indices(
    model: MeasurementModel, symbols: tuple[str, ...], a: FloatArray, b: FloatArray, mixed: FloatArray
) -> SobolIndices:
    from SALib.analyze import sobol as estimators

    pooled = np.concatenate([a, b])
    spread = float(np.std(pooled))
    if spread <= 1e-14 * float(np.max(np.abs(pooled))):
        none = np.zeros(len(symbols))
        return SobolIndices(symbols, none, np.zeros((len(symbols), 2)), none, np.zeros((len(symbols), 2)), "no spread")
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
