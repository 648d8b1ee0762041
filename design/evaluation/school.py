"""The result by a school's rules: E/m with an uncertainty of readings alone, beside the corrected result."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from design.chosen import Design
from design.evaluation.runs import Run
from design.evaluation.school_rules import SchoolRules
from design.evaluation.straight_lines import Line, straight_line
from design.sheets.readings import Quantity

Z_LIMIT = 2.0
"""Largest difference over standard uncertainty that counts as agreement. (common practice, from memory)"""


@dataclass(frozen=True)
class SchoolLine:
    """
    One run by the school's rules.

    Parameters
    ----------
    runs : tuple of Run
        Which; at several powers, the first less the second.
    energy, energy_uncertainty : float
        E. [J]
    mass, mass_uncertainty : float
        m. [kg]
    value, uncertainty : float
        L = E/m or the gradient. [J/kg]
    gradient : bool
        Whether it is a gradient through more than two marks.
    """

    runs: tuple[Run, ...]
    energy: float
    energy_uncertainty: float
    mass: float
    mass_uncertainty: float
    value: float
    uncertainty: float
    gradient: bool = False


@dataclass(frozen=True)
class SchoolResult:
    """
    Result by a rule profile.

    Parameters
    ----------
    rules, lines
        Profile, and its result run by run.
    value, uncertainty : float
        Mean, and its uncertainty by the rules. [J/kg]
    difference_percent : float
        Value less reference, in per cent of the reference.
    agrees : bool
        By the rule of agreement.
    """

    rules: SchoolRules
    lines: tuple[SchoolLine, ...]
    value: float
    uncertainty: float
    difference_percent: float
    agrees: bool

    @property
    def percent(self) -> float:
        """Uncertainty in per cent of the value."""
        return 100.0 * self.uncertainty / self.value


def school_result(used: Design, levels: Sequence[Sequence[Run]], rules: SchoolRules) -> SchoolResult:
    """
    Work out the result of runs at each power, the highest first, by a school's rules.

    Notes
    -----
    With several runs the uncertainty is the larger of that of the readings and that of the repeats (common practice,
    no source). At several powers, highest and lowest make a difference of energies and of masses. The rule sees the
    divisions of what was read, and nothing else: what makers state of meter and masses, and how quickly somebody
    reacts, no reading shows.
    """
    one_power = len(levels) == 1
    lines = [_line(used, run, rules) for run in levels[0]] if one_power else _between_powers(used, levels, rules)
    values = [line.value for line in lines]
    value = sum(values) / len(values)
    reading = sum(line.uncertainty for line in lines) / len(lines)
    uncertainty = rules.coverage_factor * max(reading, repeats_uncertainty(values, rules))
    return SchoolResult(
        rules=rules,
        lines=tuple(lines),
        value=value,
        uncertainty=uncertainty,
        difference_percent=100.0 * (value - used.reference) / used.reference,
        agrees=agrees(rules, value, uncertainty, used.reference),
    )


def reading_uncertainty(division: float, rules: SchoolRules) -> float:
    """Uncertainty of one reading from the smallest division shown, in its unit."""
    return {"half division": 0.5, "full division": 1.0, "rectangular": 0.5 / math.sqrt(3.0)}[
        rules.reading.rule
    ] * division


def combined(parts: Sequence[float], rules: SchoolRules) -> float:
    """Sum of uncertainties, or the root of the sum of their squares."""
    return math.hypot(*parts) if rules.combine.rule == "root sum of squares" else sum(parts)


def difference_uncertainty(division: float, rules: SchoolRules) -> float:
    """Uncertainty of a difference of two readings."""
    return combined([reading_uncertainty(division, rules)] * rules.difference.readings, rules)


def repeats_uncertainty(values: Sequence[float], rules: SchoolRules) -> float:
    """Uncertainty from the spread of repeats; 0 for a single one."""
    if len(values) < 2:
        return 0.0
    mean = sum(values) / len(values)
    if rules.repeats.rule == "half range":
        return 0.5 * (max(values) - min(values))
    if rules.repeats.rule == "largest deviation":
        return max(abs(value - mean) for value in values)
    return math.sqrt(sum((value - mean) ** 2 for value in values) / (len(values) - 1) / len(values))


def _line(used: Design, run: Run, rules: SchoolRules) -> SchoolLine:
    energy, mass, _ = run.span
    of_energy, of_mass = _energy_uncertainty(used, run, rules), _mass_uncertainty(used, run, rules)
    if run.mass.size == 2:
        return _ratio((run,), energy, of_energy, mass, of_mass, rules)
    value = _gradient(run).slope
    uncertainty = _gradient_uncertainty(run, value, of_energy, of_mass, rules)
    return SchoolLine((run,), energy, of_energy, mass, of_mass, value, uncertainty, gradient=True)


def _ratio(
    runs: tuple[Run, ...], energy: float, of_energy: float, mass: float, of_mass: float, rules: SchoolRules
) -> SchoolLine:
    """E/m of a run, or of the difference of two."""
    value = energy / mass
    uncertainty = value * combined([of_energy / energy, of_mass / mass], rules)
    return SchoolLine(runs, energy, of_energy, mass, of_mass, value, uncertainty)


def _gradient(run: Run) -> Line:
    return straight_line(run.mass, run.energy, np.ones_like(run.mass))


def _gradient_uncertainty(run: Run, slope: float, of_energy: float, of_mass: float, rules: SchoolRules) -> float:
    """From the lines through opposite corners of the first and last error boxes, or from the regression."""
    if rules.gradient.rule == "regression":
        return _gradient(run).slope_uncertainty
    energy, mass, _ = run.span
    steepest = (energy + of_energy) / (mass - of_mass)
    shallowest = (energy - of_energy) / (mass + of_mass)
    if rules.gradient.rule == "best less worst":
        return max(abs(steepest - slope), abs(slope - shallowest))
    return 0.5 * (steepest - shallowest)


def _between_powers(used: Design, levels: Sequence[Sequence[Run]], rules: SchoolRules) -> list[SchoolLine]:
    """Highest and lowest power, pair by pair of their runs in the order of the sheet, over the time of the first."""
    lines = []
    highest, lowest = (sorted(level, key=lambda run: run.rows) for level in (levels[0], levels[-1]))
    for high, low in zip(highest, lowest, strict=False):
        energy, mass, time = high.span
        other_energy, other_mass, other_time = low.span
        ratio = time / other_time if time and other_time else 1.0
        of_energy, of_mass = (
            combined([of(used, run, rules) for run in (high, low)], rules)
            for of in (_energy_uncertainty, _mass_uncertainty)
        )
        apart, less = energy - ratio * other_energy, mass - ratio * other_mass
        lines.append(_ratio((high, low), apart, of_energy, less, of_mass, rules))
    return lines


def reading_limits(used: Design, run: Run, rules: SchoolRules) -> tuple[float, float]:
    """Uncertainty of the energy [J] and of the mass [kg] between the first and the last mark, from the divisions."""
    return _energy_uncertainty(used, run, rules), _mass_uncertainty(used, run, rules)


def _energy_uncertainty(used: Design, run: Run, rules: SchoolRules) -> float:
    """Of the energy by its readings; counts that start and stop on marks, and nameplates, have none."""
    energy, _, time = run.span
    if run.source == "counts":
        on_marks = used.procedure.pace.whole_counts
        counted = difference_uncertainty(run.division("counts"), rules) * used.kit.meter.energy_per_count
        return 0.0 if on_marks else counted
    if run.source == "energy":
        return difference_uncertainty(run.division("energy"), rules)
    shares = [difference_uncertainty(run.division("time"), rules) / time] if time else []
    quantities: tuple[Quantity, ...] = ("power", "voltage", "current")
    for quantity in quantities if run.source == "power" else ():
        values = [number.value for number in run.numbers(quantity)]
        if values:
            shares.append(reading_uncertainty(run.division(quantity), rules) / float(np.mean(values)))
    return energy * combined(shares, rules) if shares else 0.0


def _mass_uncertainty(used: Design, run: Run, rules: SchoolRules) -> float:
    division = used.kit.balance.resolution
    if not used.procedure.needs_mass_set:
        division = max(division, run.division("mass"), run.division("mass_step"))
    return difference_uncertainty(division, rules)


def agrees(rules: SchoolRules, value: float, uncertainty: float, reference: float) -> bool:
    """Whether a value with its uncertainty agrees with the reference, by the rule of agreement."""
    if rules.agreement.rule == "percentage difference":
        return abs(value - reference) / reference < uncertainty / value
    if rules.agreement.rule == "z score":
        return abs(value - reference) <= Z_LIMIT * uncertainty / rules.coverage_factor
    return abs(value - reference) <= uncertainty
