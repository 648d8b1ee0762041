"""Straight lines: least squares with covariance, through the origin, and with errors in both variables."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.errors import DesignError


@dataclass(frozen=True)
class Line:
    """
    A fitted line y = intercept + slope·x.

    Parameters
    ----------
    slope, intercept : float
        Of the line.
    slope_uncertainty, intercept_uncertainty : float
        Standard uncertainties.
    covariance : float
        Of slope and intercept.
    residual : float
        Residual standard deviation; with stated uncertainties, the root of the reduced chi-squared.
    """

    slope: float
    intercept: float
    slope_uncertainty: float
    intercept_uncertainty: float
    covariance: float
    residual: float


def least_squares(x: FloatArray, y: FloatArray) -> Line:
    """
    Fit a line by ordinary least squares, errors in y alone.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least three points.

    Returns
    -------
    Line

    Raises
    ------
    DesignError
        If there are fewer than three points, or all x are the same.

    Notes
    -----
    Worked out about the means, in extended precision where the machine has it.
    """
    _check(x, 3)
    a, b = np.asarray(x, dtype=np.longdouble), np.asarray(y, dtype=np.longdouble)
    centre, height = a.mean(), b.mean()
    square = np.sum((a - centre) ** 2)
    slope = np.sum((a - centre) * (b - height)) / square
    intercept = height - slope * centre
    variance = np.sum((b - intercept - slope * a) ** 2) / (a.size - 2)
    return Line(
        slope=float(slope),
        intercept=float(intercept),
        slope_uncertainty=float(np.sqrt(variance / square)),
        intercept_uncertainty=float(np.sqrt(variance * (1.0 / a.size + centre**2 / square))),
        covariance=float(-variance * centre / square),
        residual=float(np.sqrt(variance)),
    )


def through_origin(x: FloatArray, y: FloatArray) -> Line:
    """
    Fit a line through the origin by ordinary least squares.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least two points.

    Returns
    -------
    Line
        With intercept 0.
    """
    _check(x, 2)
    a, b = np.asarray(x, dtype=np.longdouble), np.asarray(y, dtype=np.longdouble)
    square = np.sum(a * a)
    slope = np.sum(a * b) / square
    variance = np.sum((b - slope * a) ** 2) / (a.size - 1)
    return Line(float(slope), 0.0, float(np.sqrt(variance / square)), 0.0, 0.0, float(np.sqrt(variance)))


def errors_in_both(x: FloatArray, y: FloatArray, u_x: FloatArray, u_y: FloatArray) -> Line:
    """
    Fit a line where both coordinates have errors of known size.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least three points.
    u_x, u_y : ndarray, shape (n,)
        Their standard uncertainties, uncorrelated; not both 0 at a point.

    Returns
    -------
    Line
        Uncertainties from the stated ones, not scaled by the residuals.

    Raises
    ------
    DesignError
        If there are too few points, or the iteration does not settle.

    References
    ----------
    .. [1] York, Evensen, Lopez Martinez and De Basabe Delgado 2004, Am. J. Phys. 72, 367 (unified equations; from
       memory).
    """
    _check(x, 3)
    slope = least_squares(x, y).slope
    for _ in range(500):
        weight = 1.0 / (u_y**2 + slope**2 * u_x**2)
        centre, height = weight @ x / weight.sum(), weight @ y / weight.sum()
        u, v = x - centre, y - height
        beta = weight * (u * u_y**2 + slope * v * u_x**2)
        settled = float((weight * beta) @ v / ((weight * beta) @ u))
        if abs(settled - slope) <= 1e-15 * abs(settled):
            return _york(x, y, weight, settled, beta)
        slope = settled
    if abs(settled - slope) <= 1e-9 * abs(settled):
        return _york(x, y, weight, settled, beta)
    raise DesignError("line with errors in both variables: did not settle; check the uncertainties")


def _york(x: FloatArray, y: FloatArray, weight: FloatArray, slope: float, beta: FloatArray) -> Line:
    total = float(weight.sum())
    centre, height = float(weight @ x) / total, float(weight @ y) / total
    adjusted = centre + beta
    middle = float(weight @ adjusted) / total
    variance = 1.0 / float(weight @ (adjusted - middle) ** 2)
    intercept = height - slope * centre
    chi_squared = float(weight @ (y - slope * x - intercept) ** 2)
    return Line(
        slope=slope,
        intercept=intercept,
        slope_uncertainty=math.sqrt(variance),
        intercept_uncertainty=math.sqrt(1.0 / total + middle**2 * variance),
        covariance=-middle * variance,
        residual=math.sqrt(chi_squared / (x.size - 2)),
    )


def _check(x: FloatArray, least: int) -> None:
    if x.size < least:
        raise DesignError(f"line: must have at least {least} points (got {x.size})")
    if float(np.ptp(x)) == 0.0:
        raise DesignError(f"line: must have points at different places (got x = {float(x[0]):g} for all)")
