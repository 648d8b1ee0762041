"""A run as a straight line: the fitted one, the steepest and shallowest that a school draws, and the residuals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from budget.arrays import FloatArray
from design.chosen import Design
from design.evaluation.expected import mark_uncertainty
from design.evaluation.measured import Measured
from design.evaluation.runs import Run, weights
from design.evaluation.scatter import Fit, Scatter
from design.evaluation.school import reading_limits
from design.evaluation.school_rules import SchoolRules
from design.evaluation.straight_lines import straight_line

Against = Literal["energy", "time"]
ON_THE_LINE = 1e-9
"""Residual that rounding in the computer alone may leave. [kg]"""
FEWEST_MARKS = 3
"""Marks from which a line says more than its two ends."""


@dataclass(frozen=True)
class RunLine:
    """
    A run of three or more marks as a straight line of mass against energy, or against time where energy is power·time.

    Parameters
    ----------
    run : Run
        Which.
    against : {"energy", "time"}
        What mass is drawn against.
    progress, fitted : ndarray, shape (marks,)
        Energy [J] or time [s] since the first mark, and the mass of the fitted line there. [kg]
    mark_uncertainty : float
        Standard uncertainty of a mark: balance and boil, with counts and clock counted as mass; as expected, or wider
        where the readings scatter more. [kg]
    fit : Fit or None
        What the residuals say of the noise.
    value, standard_uncertainty : float
        Energy per mass by the gradient, and what the residuals say of it. [J/kg]
    half_box : tuple of float
        Limits of one reading by the school's rule, along progress [J or s] and along mass [kg].
    largest, smallest : float
        Energy per mass of the lines through opposite corners of the first and the last box. [J/kg]
    """

    run: Run
    against: Against
    progress: FloatArray
    fitted: FloatArray
    mark_uncertainty: float
    fit: Fit | None
    value: float
    standard_uncertainty: float
    half_box: tuple[float, float]
    largest: float
    smallest: float

    @property
    def residuals(self) -> FloatArray:
        """Mass at each mark less the line's; what rounding in the computer leaves counts as nothing. [kg]"""
        left = self.run.mass - self.fitted
        return np.asarray(np.where(np.abs(left) < ON_THE_LINE, 0.0, left))

    @property
    def exact(self) -> bool:
        """Whether every mark lies on the line."""
        return not np.any(self.residuals)

    @property
    def degrees_of_freedom(self) -> int:
        """Marks less the two constants of the line."""
        return self.run.mass.size - 2

    @property
    def corners(self) -> tuple[tuple[tuple[float, float], tuple[float, float]], ...]:
        """Lines of the largest and the smallest energy per mass: progress and mass where each begins and ends."""
        (along, across), end = self.half_box, float(self.progress[-1])
        first, last = float(self.run.mass[0]), float(self.run.mass[-1])
        return (
            ((-along, first + across), (end + along, last - across)),
            ((along, first - across), (end - along, last + across)),
        )

    def of_fitted(self, progress: float) -> float:
        """Mass of the fitted line. [kg]"""
        slope = float((self.fitted[-1] - self.fitted[0]) / (self.progress[-1] - self.progress[0]))
        return float(self.fitted[0]) + slope * (progress - float(self.progress[0]))


def run_line(used: Design, run: Run, rules: SchoolRules, scatter: Scatter | None = None) -> RunLine | None:
    """Fit a run as the result takes it; None for fewer than ``FEWEST_MARKS`` marks."""
    scatter = scatter or Scatter()
    if run.mass.size < FEWEST_MARKS:
        return None
    timed = run.time is not None and run.source in {"power", "nameplate"}
    progress = run.time if timed and run.time is not None else run.energy
    weight = weights(run, steps_of_mass=used.procedure.needs_mass_set)
    energy, mass = float(weight @ run.energy), float(weight @ run.mass)
    slope, value = mass / float(weight @ progress), energy / mass
    fitted = run.mass.mean() + slope * (progress - progress.mean())
    ones = np.ones_like(run.mass)
    set_, read = (run.mass, progress) if used.procedure.needs_mass_set else (progress, run.mass)
    line = straight_line(set_, read, ones)
    of_energy, of_mass = reading_limits(used, run, rules)
    along = of_energy * float(progress[-1] / run.energy[-1])
    span_energy, span_mass, _ = run.span
    return RunLine(
        run=run,
        against="time" if timed else "energy",
        progress=np.asarray(progress),
        fitted=np.asarray(fitted),
        mark_uncertainty=scatter.factor * mark_uncertainty(used, run),
        fit=next((fit for fit in scatter.fits if fit.kind == "line" and fit.run == run.name), None),
        value=value,
        standard_uncertainty=value * line.slope_uncertainty / abs(line.slope),
        half_box=(0.5 * along, 0.5 * of_mass),
        largest=(span_energy + of_energy) / (span_mass - of_mass),
        smallest=(span_energy - of_energy) / (span_mass + of_mass),
    )


def run_lines(measured: Measured, rules: SchoolRules) -> tuple[RunLine, ...]:
    """Every run of three or more marks as a line, in the order of the levels."""
    lines = (run_line(measured.used, run, rules, measured.scatter) for level in measured.levels for run in level)
    return tuple(line for line in lines if line is not None)
