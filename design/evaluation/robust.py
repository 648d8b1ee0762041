"""A pooled value that one far group hardly moves, and what the groups that lie far do to the weighted mean."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.evaluation.classroom import ROBUST, ClassView, class_view
from design.evaluation.result import GroupResult

TUNING = 1.5
"""Standard deviations from the mean beyond which a value counts only as far as that (Huber; ISO 13528)."""
OF_MEAN = 1.25
"""Standard uncertainty of the robust mean over that of a plain one (ISO 13528, 7.7)."""
STEPS, SETTLED = 200, 1e-12
DRAGGED = 1.0
"""Standard uncertainties of the mean, by the groups' scatter, by which the two means may differ unsaid (judgement)."""


@dataclass(frozen=True)
class RobustView:
    """
    The class pooled robustly, beside the weighted mean.

    Parameters
    ----------
    value, standard_uncertainty : float
        Huber's estimate, and its standard uncertainty with what all groups share. [J/kg]
    without : float or None
        Weighted mean without the groups that lie far from the rest; None where none does or too few are left. [J/kg]
    dragged : bool
        Whether groups far from the rest, or the weights, pull the weighted mean away from the robust value.
    """

    value: float
    standard_uncertainty: float
    without: float | None
    dragged: bool


def huber(values: FloatArray, least_spread: float = 0.0) -> tuple[float, float]:
    """
    Robust mean, and the standard deviation by which it was told what lies far: that of the median absolute deviation.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Values, two at least.
    least_spread : float
        Scatter that is known beforehand; a few values may lie closer together by chance.

    References
    ----------
    .. [1] Huber 1964, Ann. Math. Statist. 35, 73 (M-estimate of location; from memory).

    Examples
    --------
    >>> tuple(round(one, 3) for one in huber(np.array([1.0, 2.0, 3.0, 4.0, 50.0])))
    (3.056, 1.483)
    """
    mean = float(np.median(values))
    spread = max(ROBUST * float(np.median(np.abs(values - mean))), least_spread)
    for _ in range(STEPS):
        better = float(np.clip(values, mean - TUNING * spread, mean + TUNING * spread).mean())
        change, mean = abs(better - mean), better
        if change <= SETTLED * abs(mean):
            break
    return mean, spread


def robust_view(results: Mapping[str, GroupResult], view: ClassView) -> RobustView | None:
    """Pool a class robustly; None for fewer than three groups, of which none can be told from the rest."""
    if len(results) < 3:
        return None
    values = np.array([result.best.value for result in results.values()])
    value, spread = huber(values, view.expected_spread)
    kept = {group: result for group, result in results.items() if group not in view.outliers}
    rest = class_view(kept) if view.outliers else None
    own = spread / math.sqrt(len(results))
    return RobustView(
        value=value,
        standard_uncertainty=math.hypot(view.common_uncertainty, OF_MEAN * spread / math.sqrt(len(results))),
        without=None if rest is None else rest.value,
        dragged=abs(view.value - value) > DRAGGED * own,
    )
