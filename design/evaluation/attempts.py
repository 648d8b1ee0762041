"""A student's own result beside the computed one: what was done, and the step that differs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from budget.arrays import FloatArray
from design.evaluation.measured import rated_power
from design.evaluation.result import GroupResult
from design.evaluation.runs import Run
from design.sheets.readings import Reading

SAME = 0.006
"""Relative difference within which two values count as the same: three figures (common practice, no source)."""
FINEST = 2e-4
"""Relative difference that rounding on the way leaves, however many figures are typed (judgement)."""
FEW_FIGURES = 2
"""Figures from which rounding alone can make a value differ."""
UNIT_STEPS = {
    1e-3: "kilojoules", 1e-6: "megajoules", 1e3: "grams_twice", 1e6: "joules_for_mega", 3600.0: "hours_for_seconds",
    1 / 3600.0: "hours_left", 1 / 3.6e6: "kilowatt_hours", 3.6: "factor_3600", 1 / 3.6: "factor_1000",
    60.0: "minutes_for_seconds", 1 / 60.0: "seconds_for_minutes",
}  # fmt: skip
"""Ratios that a unit slip leaves, with the key of the step in words."""


@dataclass(frozen=True)
class Attempt:
    """A student's own result and its uncertainty; None where not said. [J/kg]"""

    value: float
    uncertainty: float | None = None


RIGHT = frozenset({"end points", "gradient", "runs"})
"""Steps that are no slip: from the ends of runs, from lines through marks, run by run."""


@dataclass(frozen=True)
class Match:
    """
    A way of reckoning and the value it gives. [J/kg].

    Parameters
    ----------
    step : str
        Step that is meant: energy per count, unit, mass, difference, correction, end points, gradient, runs, rounding.
    way : str
        Key of the way in words.
    value : float
        What it gives. [J/kg]
    filled : mapping of str to float
        Numbers that the words are filled with.
    """

    step: str
    way: str
    value: float
    filled: Mapping[str, float] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class AttemptCheck:
    """
    The student's numbers compared.

    Parameters
    ----------
    attempt : Attempt
        Own value and uncertainty.
    computed : float
        E/m from the readings. [J/kg]
    difference_percent : float
        Own value less computed, in per cent of the computed.
    same : bool
        Whether they agree to three figures.
    step : str
        Step that differs; empty where none is found or needed.
    matches : tuple of Match
        Ways of reckoning that give the own value to three figures.
    done : tuple of Match
        Right ways of reckoning that give the own value to the figures that were typed, the nearest first.
    figures : int
        Significant figures that were typed; closing zeros do not count.
    """

    attempt: Attempt
    computed: float
    difference_percent: float
    same: bool
    step: str
    matches: tuple[Match, ...]
    done: tuple[Match, ...] = ()
    figures: int = 0


def attempt_of(readings: tuple[Reading, ...]) -> Attempt | None:
    """Own result as it stands in the sheet, on any row of the group; the last one counts."""
    stated = [(value, row) for row in readings if (value := row.value("attempt")) is not None and value > 0.0]
    return Attempt(stated[-1][0], stated[-1][1].value("attempt_uncertainty")) if stated else None


def check_attempt(attempt: Attempt, result: GroupResult, computed: float) -> AttemptCheck:
    """Compare a student's value with E/m by the school's rules [J/kg], name the step that differs and what was done."""
    right = right_ways(result, computed)
    others = tuple(_ways(result, computed))
    matches = tuple(way for way in (*others, *right) if _same(attempt.value, way.value))
    slips = [way for way in matches if way.step not in RIGHT] or matches
    nearest = min(slips, key=lambda match: abs(match.value - attempt.value), default=None)
    figures = figures_of(attempt.value)
    done = recognised(attempt.value, right)
    same = _same(attempt.value, computed)
    step = "" if same or nearest is None else nearest.step
    if not same and not step and done and figures <= FEW_FIGURES:
        step = "rounding"
    return AttemptCheck(
        attempt=attempt,
        computed=computed,
        difference_percent=100.0 * (attempt.value / computed - 1.0),
        same=same,
        step=step,
        matches=tuple(dict.fromkeys(matches)),
        done=done,
        figures=figures,
    )


def _same(value: float, other: float) -> bool:
    return other > 0.0 and abs(value / other - 1.0) <= SAME


def figures_of(value: float) -> int:
    """
    Significant figures of a number as it was typed, closing zeros left out.

    Examples
    --------
    >>> figures_of(2560000.0), figures_of(2558.58), figures_of(2.3e6)
    (3, 6, 2)
    """
    digits = f"{value:.12e}".partition("e")[0].replace(".", "").strip("0-")
    return max(len(digits), 1)


def recognised(value: float, ways: Sequence[Match]) -> tuple[Match, ...]:
    """
    Ways that give a value to the figures that were typed, the nearest first.

    A value of two figures or fewer is taken as rounded to them, though it could have been meant with closing zeros.
    """
    half = 0.5 * 10.0 ** (math.floor(math.log10(value)) + 1 - figures_of(value)) if value > 0.0 else 0.0
    near = [way for way in ways if abs(way.value - value) <= max(half, FINEST * value)]
    return tuple(sorted(near, key=lambda way: abs(way.value - value)))


def right_ways(result: GroupResult, computed: float) -> tuple[Match, ...]:
    """Right ways of reckoning the readings: by ends, gradients, run by run, all together, and with losses taken off."""
    found = [*_line_ways(result.measured.levels[0])] if len(result.measured.levels) == 1 else []
    found.append(Match("gradient" if any(run.mass.size > 2 for run in _runs(result)) else "runs", "school", computed))
    found.append(Match("gradient", "all_marks", result.uncorrected.value))
    if result.corrected:
        found.append(Match("correction", "losses_taken_off", result.best.value))
    kept: list[Match] = []
    for way in found:
        if not any(math.isclose(way.value, other.value, rel_tol=1e-9) for other in kept):
            kept.append(way)
    return tuple(kept)


def _runs(result: GroupResult) -> list[Run]:
    return [run for level in result.measured.levels for run in level]


def _line_ways(runs: Sequence[Run]) -> Iterator[Match]:
    """Values of runs at one power: means over the runs of what each gives."""
    spans = [run.span for run in runs]
    several, lines = len(runs) > 1, all(run.mass.size > 2 for run in runs)
    ends = sum(energy / mass for energy, mass, _ in spans) / len(runs)
    yield Match("end points" if lines else "runs", "end_points" if lines else "mean_of_runs", ends)
    if several:
        total = sum(energy for energy, _, _ in spans) / sum(mass for _, mass, _ in spans)
        yield Match("end points" if lines else "runs", "sums", total)
    if not lines:
        return
    ways: tuple[tuple[str, Callable[[FloatArray, FloatArray], float]], ...] = (
        ("energy_on_mass", lambda energy, mass: float(np.polyfit(mass, energy, 1)[0])),
        ("mass_on_energy", lambda energy, mass: 1.0 / float(np.polyfit(energy, mass, 1)[0])),
        ("through_origin", lambda energy, mass: float(mass @ energy / (mass @ mass))),
    )
    for name, gradient in ways:
        yield Match("gradient", name, sum(gradient(run.energy, run.mass) for run in runs) / len(runs))
    steps = [np.diff(run.energy) / np.diff(run.mass) for run in runs if np.all(np.diff(run.mass) > 0.0)]
    if len(steps) == len(runs):
        yield Match("runs", "intervals", float(np.mean(np.concatenate(steps))))


def _ways(result: GroupResult, computed: float) -> Iterator[Match]:
    yield Match("correction", "losses_taken_off", result.best.value)
    for factor, way in UNIT_STEPS.items():
        yield Match("unit", way, computed * factor)
    runs = result.measured.levels[0]
    yield from _energy_ways(result, runs[0], computed)
    yield from _mass_ways(runs[0])
    if len(runs) > 1:
        for way, run in (("last_run", runs[-1]), ("first_run", runs[0])):
            yield Match("difference", way, run.span[0] / max(run.span[1], 1e-12))


def _energy_ways(result: GroupResult, run: Run, computed: float) -> Iterator[Match]:
    used, (energy, mass, time) = result.used, run.span
    step = "energy per count"
    if run.source == "counts":
        own = used.kit.meter.energy_per_count
        others = {meter.energy_per_count for meter in used.conditions.bench.meters} - {own, 0.0}
        for other in sorted(others):
            yield Match(step, "other_count_energy", computed * other / own, {"other": other, "own": own})
        yield Match(step, "counts_for_joules", computed / own)
        yield Match(step, "counts_for_watt_hours", computed * 3600.0 / own)
        yield Match(step, "constant_inverted", computed * 3.6e6 / own / own)
        last = run.readings[-1][0].value("counts")
        if last is not None:
            yield Match("difference", "last_count", last * own / mass)
    if time:
        yield Match(step, "nameplate", rated_power(used) * time / mass)
    if mass > 0.0:
        yield Match("mass", "inverted", mass / energy)


def _mass_ways(run: Run) -> Iterator[Match]:
    energy, mass, _ = run.span
    first, last = run.readings[0][0].value("mass"), run.readings[-1][-1].value("mass")
    if last and abs(last - mass) > SAME * mass:
        yield Match("difference", "last_mass", energy / last)
    if first and abs(first - mass) > SAME * mass:
        yield Match("difference", "first_mass", energy / first)
    if first and last and first + last > 0.0:
        yield Match("mass", "masses_added", energy / (first + last))
        yield Match("mass", "mean_mass", 2.0 * energy / (first + last))
