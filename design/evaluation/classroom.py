"""The class as a whole: groups' values, their spread against the expected one, and a pooled value."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from budget.model import MeasurementModel
from design.evaluation.measured import PER_PAUSE, SCATTER
from design.evaluation.result import Result

OUTLIER_LIMIT = 3.0
"""Deviations, in standard uncertainties of a group's own scatter, from which a group is named (judgement)."""


@dataclass(frozen=True)
class ClassView:
    """
    All groups side by side.

    Parameters
    ----------
    pooled, pooled_uncertainty : float
        Weighted mean of the corrected values; what all groups share is not averaged away. [J/kg]
    common_uncertainty : float
        The part of it that more groups would not reduce. [J/kg]
    observed_spread, expected_spread : float
        Standard deviation between the groups' values, and that which the scatter of readings explains. [J/kg]
    chi_squared, degrees_of_freedom : float, int
        Of the groups about their weighted mean, by their own scatter alone.
    outliers : tuple of str
        Groups further than ``OUTLIER_LIMIT`` from the median of all; none is left out of anything.
    deviations : mapping of str to float
        Deviation of each group from the median over the standard uncertainty of its own scatter.
    """

    pooled: float
    pooled_uncertainty: float
    common_uncertainty: float
    observed_spread: float
    expected_spread: float
    chi_squared: float
    degrees_of_freedom: int
    outliers: tuple[str, ...]
    deviations: Mapping[str, float]


def class_view(results: Mapping[str, Result]) -> ClassView | None:
    """
    Compare and pool the groups of a class.

    Parameters
    ----------
    results : mapping of str to Result
        By group, all with the kit of one bench.

    Returns
    -------
    ClassView or None
        None for fewer than two groups.

    Notes
    -----
    Sources that all groups have in common (losses, carry-over, the kind of meter, masses) are taken as one and the
    same, so their contributions add up linearly in the weighted mean; the scatter of readings is averaged.
    The outlier rule: more than ``OUTLIER_LIMIT`` standard uncertainties of a group's own scatter, and of the spread
    between groups where that is larger, from the median.
    """
    if len(results) < 2:
        return None
    values = np.array([result.best.value for result in results.values()])
    outcomes = [result.best for result in results.values()]
    own = np.array([own_uncertainty(one.model, one.propagation.contributions) for one in outcomes])
    own = np.maximum(own, 1e-9 * np.abs(values))
    weight = own**-2 / np.sum(own**-2)
    pooled = float(weight @ values)
    common = _common(list(results.values()), weight)
    spread = float(values.std(ddof=1))
    chi_squared = float(np.sum(((values - pooled) / own) ** 2))
    deviations = _deviations(values, own)
    named = dict(zip(results, deviations, strict=True))
    return ClassView(
        pooled=pooled,
        pooled_uncertainty=math.hypot(common, float(np.sum(own**-2)) ** -0.5),
        common_uncertainty=common,
        observed_spread=spread,
        expected_spread=float(np.sqrt(np.mean(own**2))),
        chi_squared=chi_squared,
        degrees_of_freedom=len(values) - 1,
        outliers=tuple(group for group, deviation in named.items() if abs(deviation) > OUTLIER_LIMIT),
        deviations=named,
    )


def is_scatter(symbol: str) -> bool:
    """Whether an input comes anew with every group's readings."""
    plain = symbol.rsplit("_", 1)[0] if symbol.rsplit("_", 1)[-1].isdigit() else symbol
    return plain in SCATTER or plain in {f"{name}_est" for name in PER_PAUSE} or plain == "d_linearity"


def own_uncertainty(model: MeasurementModel, contributions: Mapping[str, float]) -> float:
    """Standard uncertainty of a group's own scatter. [J/kg]"""
    return math.hypot(*(contributions[symbol] for symbol in model.symbols if is_scatter(symbol)), 0.0)


def _common(results: Sequence[Result], weight: np.ndarray) -> float:
    """Standard uncertainty of the weighted mean from what all groups share."""
    totals: dict[str, float] = {}
    for share, result in zip(weight, results, strict=True):
        for symbol, contribution in result.best.propagation.contributions.items():
            if not is_scatter(symbol):
                totals[symbol] = totals.get(symbol, 0.0) + float(share) * contribution
    return math.hypot(*totals.values(), 0.0)


def _deviations(values: np.ndarray, own: np.ndarray) -> list[float]:
    """Deviations from the median over the scatter; of three and more groups, the robust spread widens the scatter."""
    middle = float(np.median(values))
    robust = 1.4826 * float(np.median(np.abs(values - middle))) if values.size > 2 else 0.0
    return [float((value - middle) / max(one, robust)) for value, one in zip(values, own, strict=True)]
