"""Straight lines: least squares with covariance, and effective variance where both coordinates have errors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.errors import DesignError

STEPS = 500
SETTLED = 1e-15
"""Relative change of the slope at which the iteration ends."""
ROUNDING = 4.0 * float(np.finfo(np.float64).eps)
"""Residual, relative to the largest y, that rounding alone makes."""
UNSETTLED = 1e-9
"""Relative change of the slope after the last step from which there is no line."""


@dataclass(frozen=True)
class Line:
    """
    A fitted line y = slope·x + the sum of constants times columns without error.

    Parameters
    ----------
    constants : ndarray, shape (k,)
        Slope first, then one of each column.
    covariance : ndarray, shape (k, k)
        Of the constants.
    residuals : ndarray, shape (n,)
        y of each point less the line's.
    chi_square, degrees_of_freedom : float, int
        Sum of the squared residuals over their effective variances (1 each, where no uncertainty was stated), and
        points less constants.
    """

    constants: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    chi_square: float
    degrees_of_freedom: int

    @property
    def slope(self) -> float:
        """Of the line."""
        return float(self.constants[0])

    @property
    def slope_uncertainty(self) -> float:
        """Standard uncertainty of the slope."""
        return math.sqrt(self.covariance[0, 0])


def straight_line(
    x: FloatArray,
    y: FloatArray,
    *exact: FloatArray,
    u_x: FloatArray | float = 0.0,
    u_y: FloatArray | float | None = None,
) -> Line:
    """
    Fit a line.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Points.
    *exact : ndarray, shape (n,)
        Columns without error whose constants are fitted as well: ones for an intercept, none for a line through the
        origin.
    u_x, u_y : ndarray, shape (n,), or float
        Standard uncertainties, uncorrelated, not both 0 at a point. Without that of y, the residuals give it.

    Raises
    ------
    DesignError
        If the points are too few or all at one place, or the iteration does not settle.

    Notes
    -----
    The fit makes the sum of r²/(u_y² + slope² u_x²) small, minimised over the slope in the denominator as well: for
    independent normal errors of known size the maximum of the likelihood, and the same as total least squares with
    each point weighted by its own errors. Where the sum is least, the residuals are at right angles not to x as read
    but to x adjusted to the line; the normal equations are solved with those until the slope settles.

    References
    ----------
    .. [1] Orear 1982, Am. J. Phys. 50, 912 (effective variance; from memory).
    .. [2] York, Evensen, Lopez Martinez and De Basabe Delgado 2004, Am. J. Phys. 72, 367 (unified equations; from
       memory).
    """
    columns = np.stack([x, *exact], axis=1)
    number, count = columns.shape
    size = np.abs(columns).max(axis=0).clip(1e-300) if number else np.ones(count)
    columns = columns / size
    least = count + (u_y is None)
    if number < least or np.linalg.matrix_rank(columns) < count:
        raise DesignError(f"line: must have points at different places, {least} at least (got {number})")
    variance_x, variance_y = np.square(u_x) / size[0] ** 2, np.square(1.0 if u_y is None else u_y)
    constants = np.linalg.lstsq(columns, y, rcond=None)[0]
    for _ in range(STEPS):
        adjusted, weights = _adjusted(columns, y, constants, variance_x, variance_y)
        better = np.linalg.solve(adjusted.T @ (weights[:, None] * columns), adjusted.T @ (weights * y))
        change, constants = abs(better[0] - constants[0]), better
        if change <= SETTLED * abs(constants[0]):
            break
    if not change <= UNSETTLED * abs(constants[0]):
        raise DesignError("line: errors in both coordinates did not settle; check the uncertainties")
    adjusted, weights = _adjusted(columns, y, constants, variance_x, variance_y)
    residuals = y - columns @ constants
    chi_square = float(np.sum(weights * residuals**2))
    covariance = np.linalg.inv(adjusted.T @ (weights[:, None] * adjusted)) / np.outer(size, size)
    if u_y is None:
        rounding = number * (ROUNDING * float(np.abs(y).max())) ** 2
        covariance *= (chi_square if chi_square > rounding else 0.0) / (number - count)
    return Line(constants / size, covariance, residuals, chi_square, number - count)


def _adjusted(
    columns: FloatArray,
    y: FloatArray,
    constants: FloatArray,
    variance_x: FloatArray | float,
    variance_y: FloatArray | float,
) -> tuple[FloatArray, FloatArray]:
    """Columns with x adjusted to the line, and weights, shape (n,)."""
    weights = np.broadcast_to(1.0 / (variance_y + constants[0] ** 2 * variance_x), y.shape)
    adjusted = columns.copy()
    adjusted[:, 0] += constants[0] * variance_x * weights * (y - columns @ constants)
    return adjusted, weights
