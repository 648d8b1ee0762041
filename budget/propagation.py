"""The law of propagation of uncertainty (JCGM 100, clauses 5 to 7 and annex G)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.derivatives import Derivatives, derivatives, taylor_coefficients
from budget.model.measurement import MeasurementModel
from budget.quantities.correlation import correlation_matrix, groups, square_root

SMALLEST = 1e-60
"""Contribution below which fourth powers of it would underflow; above its inverse they overflow."""
FINEST = 1e-13
"""Relative uncertainty below which the 53 bits of a number no longer carry a draw to three digits."""


@dataclass(frozen=True)
class Propagation:
    """
    What the law of propagation says of a measurand.

    ``effective_dof`` are not truncated, though k is from Student's t at a whole number of them (JCGM 100, G.4.1);
    sensitivity coefficients c, contributions c·u and shares of u² (first order; with correlation c·u·Σ r·c·u over u²)
    are by symbol of every input.
    """

    order: int
    estimate: float
    standard_uncertainty: float
    effective_dof: float
    coverage: float
    coverage_factor: float
    expanded_uncertainty: float
    interval: tuple[float, float]
    sensitivity_coefficients: dict[str, float]
    contributions: dict[str, float]
    variance_shares: dict[str, float]
    derivatives: Derivatives


def propagate(model: MeasurementModel, coverage: float = 0.95, order: int = 1) -> Propagation:
    """
    Propagate standard uncertainties through a measurement model.

    Raises
    ------
    BudgetError
        If coverage or order is out of range, the equation has no value at the estimates, or the correlation
        matrix is impossible.

    Notes
    -----
    First order u² = Σᵢ Σⱼ cᵢ u(xᵢ) r(xᵢ, xⱼ) cⱼ u(xⱼ). Second order adds, in coordinates in which the
    inputs are uncorrelated, Σᵢ Σⱼ [½ fᵢⱼ² + fᵢ fᵢⱼⱼ] uᵢ² uⱼ², exact to that order for normal inputs.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 with note, 5.2.2, G.4.1, G.4.2.
    """
    check_coverage(coverage)
    if order not in (1, 2):
        raise BudgetError(f"order: must be 1 or 2 (got {order})")
    symbols = model.symbols
    uncertainties = np.array([model.distributions[s].standard_uncertainty for s in symbols])
    _refuse_unbounded(symbols, uncertainties)
    matrix = correlation_matrix(symbols, model.correlations)
    found = derivatives(model)
    with np.errstate(over="ignore"):
        contributions = np.array([found.values[s] for s in symbols]) * uncertainties
    _refuse_size(model, contributions)
    covered = contributions * (matrix @ contributions)
    variance = max(float(np.sum(covered)), 0.0)
    total = variance + (_second_order(model, uncertainties, matrix) if order == 2 else 0.0)
    if total < 0.0:
        raise BudgetError("order: must be 1 here, as the second-order terms make the variance negative (got 2)")
    estimate, uncertainty, first = model.at_estimates(), math.sqrt(total), float(np.sum(covered))
    places = {symbol: index for index, symbol in enumerate(symbols)}
    pairs = [(places[one], places[other]) for one, other in (pair.between for pair in model.correlations)]
    dof = _effective_dof(uncertainty, contributions, matrix, [model.distributions[s].dof for s in symbols], pairs)
    factor = coverage_factor(coverage, dof)
    expanded = factor * uncertainty
    return Propagation(
        order=order,
        estimate=estimate,
        standard_uncertainty=uncertainty,
        effective_dof=dof,
        coverage=coverage,
        coverage_factor=factor,
        expanded_uncertainty=expanded,
        interval=(estimate - expanded, estimate + expanded),
        sensitivity_coefficients=dict(found.values),
        contributions=_by_symbol(symbols, contributions),
        variance_shares=_by_symbol(symbols, covered / first if first > 0.0 else np.zeros_like(covered)),
        derivatives=found,
    )


def coverage_factor(coverage: float, effective_dof: float) -> float:
    """
    Return the coverage factor for a coverage probability.

    Parameters
    ----------
    coverage : float
        Coverage probability. [1]
    effective_dof : float
        Effective degrees of freedom; rounded to one decimal as documents print them, then truncated to a
        whole number where at least one, JCGM 100, G.4.1.

    Examples
    --------
    >>> round(coverage_factor(0.95, float("inf")), 3), round(coverage_factor(0.99, 16.7), 2)
    (1.96, 2.92)
    """
    probability = 0.5 * (1.0 + coverage)
    if math.isinf(effective_dof) or effective_dof > 1e9:
        return float(special.ndtri(probability))
    whole = max(math.floor(round(effective_dof, 1)), min(effective_dof, 1.0))  # 18.9987 is printed, and meant, as 19.0
    return float(special.stdtrit(whole, probability))


def check_coverage(coverage: float) -> None:
    """Refuse a coverage probability that is none."""
    if not 0.0 < coverage < 1.0:
        raise BudgetError(f"coverage: must lie between 0 and 1, such as 0.95 (got {coverage:g})")


def _effective_dof(
    uncertainty: float, contributions: FloatArray, matrix: FloatArray, dof: list[float], pairs: list[tuple[int, int]]
) -> float:
    """
    Degrees of freedom by Welch and Satterthwaite, with correlation.

    ``pairs`` are the inputs that a correlation coefficient is stated of. Those of equal finite degrees of freedom are
    taken to come of the same readings: the variance of their sum has as many (JCGM 100, H.2), whatever the coefficient.
    Between other inputs a coefficient counts by its square, as it does between the variances of paired normal readings,
    so that nothing jumps where it becomes zero.
    """
    if uncertainty == 0.0:
        return math.inf
    parts = _joined(dof, pairs)
    members = np.zeros((len(parts), len(dof)))
    for row, part in enumerate(parts):
        members[row, part] = 1.0
    across = members @ (contributions[:, None] * matrix * contributions) @ members.T
    scales = np.array([1.0 / math.sqrt(dof[part[0]]) for part in parts])
    variances = np.diag(across)
    sizes = np.sqrt(np.outer(variances, variances))
    likeness = np.divide(across, sizes, out=np.zeros_like(across), where=sizes > 0.0) ** 2
    effects = np.sum(across, axis=1) / uncertainty**2 * scales
    doubt = float(effects @ likeness @ effects)
    return 1.0 / doubt if doubt > 0.0 else math.inf


def _joined(dof: list[float], pairs: list[tuple[int, int]]) -> list[list[int]]:
    """Return the inputs, those together that come of the same readings."""
    linked = np.eye(len(dof))
    for one, other in pairs:
        if dof[one] == dof[other] and math.isfinite(dof[one]):
            linked[one, other] = linked[other, one] = 1.0
    return groups(linked)


def _second_order(model: MeasurementModel, uncertainties: FloatArray, matrix: FloatArray) -> float:
    """Second-order terms of the variance, from jets along the columns of the covariance matrix's root."""
    root = uncertainties[:, None] * square_root(matrix)
    columns = [k for k in range(root.shape[1]) if np.any(root[:, k])]
    if not columns:
        return 0.0
    axes = root[:, columns]
    count = axes.shape[1]
    i, j = np.triu_indices(count, k=1)
    lines = np.concatenate([axes, axes[:, i] + axes[:, j], axes[:, i] - axes[:, j]], axis=1)
    jets = taylor_coefficients(model.program, model.estimates, dict(zip(model.symbols, lines, strict=True)), 3)
    if not np.all(np.isfinite(jets)):
        raise BudgetError("order: must be 1 where the equation has a kink or no derivative at the estimates (got 2)")
    second, third = 2.0 * jets[2], 6.0 * jets[3]
    own, plus, minus = slice(0, count), slice(count, count + len(i)), slice(count + len(i), None)
    f2, f3 = second[own], third[own]
    mixed = 0.25 * (second[plus] - second[minus])
    f_ijj = (third[plus] + third[minus] - 2.0 * f3[i]) / 6.0
    f_iij = (third[plus] - third[minus] - 2.0 * f3[j]) / 6.0
    slope = jets[1, own]
    diagonal = np.sum(0.5 * f2**2 + slope * f3)
    return float(diagonal + np.sum(mixed**2 + slope[i] * f_ijj + slope[j] * f_iij))


def _refuse_unbounded(symbols: tuple[str, ...], uncertainties: FloatArray) -> None:
    for symbol, uncertainty in zip(symbols, uncertainties, strict=True):
        if not math.isfinite(uncertainty):
            raise BudgetError(f"input {symbol}: must have a finite standard uncertainty (got {uncertainty})")


def _refuse_size(model: MeasurementModel, contributions: FloatArray) -> None:
    """Refuse contributions whose squares leave the range of numbers, or that are lost in the digits of the estimate."""
    for symbol, contribution in zip(model.symbols, contributions, strict=True):
        if contribution != 0.0 and not SMALLEST <= abs(contribution) <= 1.0 / SMALLEST:
            raise BudgetError(
                f"equation of {model.symbol}: must have contributions c·u between {SMALLEST:g} and {1.0 / SMALLEST:g}; "
                f"choose a larger or smaller unit (got {contribution:.3g} from {symbol})"
            )
    largest, estimate = float(np.max(np.abs(contributions), initial=0.0)), model.at_estimates()
    if 0.0 < largest < FINEST * abs(estimate):
        raise BudgetError(
            f"equation of {model.symbol}: must have an uncertainty above {FINEST:g} of its value, as numbers have 16 "
            f"digits; take a round value off first (got {largest:.2g} in {estimate:.6g})"
        )


def _by_symbol(symbols: tuple[str, ...], values: FloatArray) -> dict[str, float]:
    return {symbol: float(value) for symbol, value in zip(symbols, values, strict=True)}
