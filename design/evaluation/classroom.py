"""The class as a whole: groups' values, their spread against the expected one, and a pooled value."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from budget.propagation import coverage_factor
from design.evaluation.result import Agreement, GroupResult, Outcome, agreement_of
from design.evaluation.scatter import Fit
from design.evaluation.scatter import pooled as pooled_noise

OUTLIER_LIMIT = 3.0
"""Deviations, in standard uncertainties of a group's own scatter, from which a group is named (judgement)."""
ROBUST = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""


@dataclass(frozen=True)
class ClassView:
    """
    All groups side by side.

    Parameters
    ----------
    value, standard_uncertainty : float
        Pooled: weighted mean of the corrected values; what all groups share is not averaged away. [J/kg]
    common_uncertainty : float
        The part of it that more groups would not reduce. [J/kg]
    observed_spread, expected_spread : float
        Standard deviation between the groups' values, and that which the scatter of readings explains. [J/kg]
    chi_squared, degrees_of_freedom : float, int
        Of the groups about their weighted mean, by their own scatter alone.
    outliers : tuple of str
        Groups further than ``OUTLIER_LIMIT`` from the median of all; none is left out of anything.
    interval, agreement : tuple of float, Agreement
        Pooled value ± its expanded uncertainty [J/kg], and how it compares with the reference.
    """

    value: float
    standard_uncertainty: float
    common_uncertainty: float
    observed_spread: float
    expected_spread: float
    chi_squared: float
    degrees_of_freedom: int
    outliers: tuple[str, ...]
    interval: tuple[float, float]
    agreement: Agreement


def class_view(results: Mapping[str, GroupResult], coverage: float = 0.95) -> ClassView | None:
    """
    Compare and pool the groups of a class, all with the kit of one bench; None for fewer than two.

    Notes
    -----
    Sources that all groups have in common (losses, carry-over, the kind of meter, masses) are taken as one and the
    same, so their contributions add up linearly in the weighted mean; the scatter of readings is averaged, and is
    wider where the groups lie further apart than it lets one expect (JCGM 100:2008, 4.2 and G.4.1).
    The outlier rule: more than ``OUTLIER_LIMIT`` standard uncertainties of a group's own scatter, and of the spread
    between groups where that is larger, from the median.
    """
    if len(results) < 2:
        return None
    outcomes = [result.best for result in results.values()]
    values = np.array([one.value for one in outcomes])
    own = np.array([math.hypot(*one.scatter.values(), 0.0) for one in outcomes])
    own = np.maximum(own, 1e-9 * np.abs(values))
    weight = own**-2 / np.sum(own**-2)
    pooled = float(weight @ values)
    common = _common(outcomes, weight)
    chi_squared = float(np.sum(((values - pooled) / own) ** 2))
    expected = min(result.measured.scatter.expected_noise for result in results.values())
    between = pooled_noise([Fit("repeats", 0, "", chi_squared, len(values) - 1)], expected)
    averaged = between.factor * float(np.sum(own**-2)) ** -0.5
    uncertainty = math.hypot(common, averaged)
    factor = coverage_factor(coverage, between.effective_dof * (uncertainty / averaged) ** 4)
    far = _deviations(values, own) > OUTLIER_LIMIT
    return ClassView(
        value=pooled,
        standard_uncertainty=uncertainty,
        common_uncertainty=common,
        observed_spread=float(values.std(ddof=1)),
        expected_spread=float(np.sqrt(np.mean(own**2))),
        chi_squared=chi_squared,
        degrees_of_freedom=len(values) - 1,
        outliers=tuple(group for group, named in zip(results, far, strict=True) if named),
        interval=(pooled - factor * uncertainty, pooled + factor * uncertainty),
        agreement=agreement_of(pooled, uncertainty, factor, outcomes[0].agreement.reference),
    )


def _common(outcomes: Sequence[Outcome], weight: FloatArray) -> float:
    """Standard uncertainty of the weighted mean from what all groups share."""
    totals: dict[str, float] = {}
    for share, outcome in zip(weight, outcomes, strict=True):
        for symbol, contribution in outcome.propagation.contributions.items():
            if symbol not in outcome.scatter:
                totals[symbol] = totals.get(symbol, 0.0) + float(share) * contribution
    return math.hypot(*totals.values(), 0.0)


def _deviations(values: FloatArray, own: FloatArray) -> FloatArray:
    """
    Distances from the median over the scatter; of three and more groups, the robust spread widens the scatter.

    Two groups lie equally far from their middle, so the wider scatter goes for both: the surer one is not blamed alone.
    """
    distance = np.abs(values - np.median(values))
    robust = ROBUST * float(np.median(distance)) if values.size > 2 else float(own.max())
    return np.asarray(distance / np.maximum(own, robust))
