"""Straight lines through marks of energy, mass and time, with errors in energy and in mass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.errors import DesignError

LEAST_POWER_RATIO = 1.05
"""Largest over smallest mean power of the runs below which latent heat and loss cannot be told apart (judgement)."""
STEPS = 100
SETTLED = 1e-12
"""Relative change of the latent heat at which the iteration ends."""


@dataclass(frozen=True)
class Marks:
    """
    Marks of one or more runs, each run at one power; arrays of shape (n,).

    Parameters
    ----------
    energy, mass, time : ndarray
        Energy counted [J], mass boiled away [kg] and time [s] since any zero of the run's own.
    run : ndarray of int
        Run that each mark belongs to.
    energy_uncertainty, mass_uncertainty : ndarray
        Standard uncertainty of each single reading, independent of the others; not both 0. [J, kg]
    """

    energy: FloatArray
    mass: FloatArray
    time: FloatArray
    run: NDArray[np.intp]
    energy_uncertainty: FloatArray
    mass_uncertainty: FloatArray


@dataclass(frozen=True)
class StraightLine:
    """
    Fit of E = L m + W t + a constant of each run.

    Parameters
    ----------
    latent_heat, heat_loss : float
        L [J/kg] and W [W]; W as it was given where it was not fitted.
    covariance : ndarray, shape (2, 2)
        Of (L, W); row and column of W are 0 where it was not fitted. [J²/kg², J W/kg, W²]
    residuals : ndarray, shape (n,)
        Energy of each mark minus the line's. [J]
    chi_square : float
        Sum of the squared residuals over their effective variances: near ``degrees_of_freedom`` where the stated
        uncertainties are right.
    degrees_of_freedom : int
        Marks minus fitted constants.
    """

    latent_heat: float
    heat_loss: float
    covariance: FloatArray
    residuals: FloatArray
    chi_square: float
    degrees_of_freedom: int


def latent_heat_of(marks: Marks, heat_loss: float) -> StraightLine:
    """
    Fit the latent heat where the heat loss is known.

    At one power time goes with energy, and no fit can tell loss from latent heat.

    Parameters
    ----------
    marks : Marks
        At least two marks in one run.
    heat_loss : float
        W. [W]

    Returns
    -------
    StraightLine
        Without the uncertainty of ``heat_loss``, which acts on L as -t/m.

    Raises
    ------
    DesignError
        If no run has two marks, or every mass is the same.

    Notes
    -----
    See ``latent_heat_and_loss``.
    """
    return _fitted(marks, marks.energy - heat_loss * marks.time, heat_loss, ())


def latent_heat_and_loss(marks: Marks) -> StraightLine:
    """
    Fit latent heat and heat loss together, from runs at two or more powers.

    Parameters
    ----------
    marks : Marks
        Runs at two powers at least.

    Returns
    -------
    StraightLine

    Raises
    ------
    DesignError
        If the runs are all at about the same power, or there are too few marks.

    Notes
    -----
    Energy and mass both have errors; time and the constants of the runs have none. The fit makes the sum of
    (E - L m - W t - c)^2/(u(E)^2 + L^2 u(m)^2) small, the method of effective variance, minimised over L in the
    denominator as well. For a straight line with independent normal errors of known size that is the maximum of the
    likelihood, and the same as total least squares (orthogonal distance) with each mark weighted by its own errors.
    Plain total least squares by singular values is not used: it would give time and constants errors that they do
    not have, and every mark the same. Each mark enters once, so mass changes over overlapping stretches are not
    counted twice.

    References
    ----------
    .. [1] Orear 1982, Am. J. Phys. 50, 912 (effective variance; from memory).
    .. [2] York et al. 2004, Am. J. Phys. 72, 367 (equations of the best straight line; from memory).
    """
    powers = _mean_powers(marks)
    if powers.size < 2 or powers.max() < LEAST_POWER_RATIO * powers.min():
        raise DesignError(
            "readings: heat loss and latent heat can be told apart only by runs at two powers "
            f"(got {', '.join(f'{power:.0f} W' for power in powers)}); take a second run at about half the power, "
            "or use a calculated loss"
        )
    return _fitted(marks, marks.energy, 0.0, (marks.time,))


def _mean_powers(marks: Marks) -> FloatArray:
    """Energy over time from the first to the last mark of each run of two marks or more."""
    powers = []
    for run in np.unique(marks.run):
        time, energy = marks.time[marks.run == run], marks.energy[marks.run == run]
        if np.ptp(time) > 0.0:
            powers.append(np.ptp(energy) / np.ptp(time))
    return np.array(powers)


def _fitted(marks: Marks, response: FloatArray, heat_loss: float, exact: tuple[FloatArray, ...]) -> StraightLine:
    runs = [(marks.run == run).astype(np.float64) for run in np.unique(marks.run)]
    columns = np.stack([marks.mass, *exact, *runs], axis=1)
    count = columns.shape[1]
    if marks.mass.size < count or np.linalg.matrix_rank(columns / np.abs(columns).max(axis=0).clip(1e-300)) < count:
        raise DesignError(
            f"readings: a line needs marks of different mass in a run, {count} at least (got {marks.mass.size})"
        )
    values, inverse, residuals, weights = _effective_variance(columns, response, marks)
    covariance = np.zeros((2, 2))
    fitted = 1 + len(exact)
    covariance[:fitted, :fitted] = inverse[:fitted, :fitted]
    return StraightLine(
        latent_heat=float(values[0]),
        heat_loss=float(values[1]) if exact else heat_loss,
        covariance=covariance,
        residuals=residuals,
        chi_square=float(np.sum(weights * residuals**2)),
        degrees_of_freedom=marks.mass.size - count,
    )


def _effective_variance(
    columns: FloatArray, response: FloatArray, marks: Marks
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """
    Fit by effective variance; the first column has errors, the rest have none.

    Returns
    -------
    values, inverse, residuals, weights : ndarray
        Constants, their covariance, residuals and weights.

    Notes
    -----
    Where the sum is least, the residuals are at right angles not to the masses read but to the masses adjusted to
    the line, m + L u(m)^2 r/(u(E)^2 + L^2 u(m)^2); the normal equations are solved with those until L settles.
    """
    energy_variance = np.square(marks.energy_uncertainty)
    mass_variance = np.square(marks.mass_uncertainty)
    values: FloatArray = np.asarray(np.linalg.lstsq(columns, response, rcond=None)[0], dtype=np.float64)
    for _ in range(STEPS):
        weights = 1.0 / (energy_variance + values[0] ** 2 * mass_variance)
        adjusted = columns.copy()
        adjusted[:, 0] += values[0] * mass_variance * weights * (response - columns @ values)
        improved = np.linalg.solve(adjusted.T @ (weights[:, None] * columns), adjusted.T @ (weights * response))
        change = abs(improved[0] - values[0])
        values = improved
        if change <= SETTLED * abs(values[0]):
            break
    weights = 1.0 / (energy_variance + values[0] ** 2 * mass_variance)
    residuals = response - columns @ values
    adjusted = columns.copy()
    adjusted[:, 0] += values[0] * mass_variance * weights * residuals
    inverse = np.linalg.inv(adjusted.T @ (weights[:, None] * adjusted))
    return values, inverse, residuals, weights
