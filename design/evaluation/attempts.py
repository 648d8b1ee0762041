"""A student's own result beside the computed one, and the step that differs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from design.evaluation.measured import rated_power
from design.evaluation.result import GroupResult
from design.evaluation.runs import Run
from design.sheets.readings import Reading

SAME = 0.006
"""Relative difference within which two values count as the same: three figures (common practice, no source)."""
UNIT_STEPS = {
    1e-3: "kJ/kg or J/g for J/kg", 1e-6: "MJ/kg for J/kg", 1e3: "g for kg, once too often",
    1e6: "J for MJ, or mg for kg", 3600.0: "hours for seconds (kWh as kW s)",
    1 / 3600.0: "kWh or Wh as hours, not times 3600", 1 / 3.6e6: "kWh for J", 3.6: "3600 for 1000",
    1 / 3.6: "1000 for 3600", 60.0: "minutes for seconds", 1 / 60.0: "seconds for minutes",
}  # fmt: skip
"""Ratios that a unit slip leaves, with the step in words."""


@dataclass(frozen=True)
class Attempt:
    """A student's own result and its uncertainty; None where not said. [J/kg]"""

    value: float
    uncertainty: float | None = None


@dataclass(frozen=True)
class Match:
    """A way of reckoning and the value it gives. [J/kg]"""

    step: str
    detail: str
    value: float


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
        Step that differs: energy per count, unit, mass, difference, correction; empty where none is found or needed.
    matches : tuple of Match
        Ways of reckoning that give the own value.
    """

    attempt: Attempt
    computed: float
    difference_percent: float
    same: bool
    step: str
    matches: tuple[Match, ...]


def attempt_of(readings: tuple[Reading, ...]) -> Attempt | None:
    """Own result as it stands in the sheet, on any row of the group; the last one counts."""
    stated = [(value, row) for row in readings if (value := row.value("attempt")) is not None and value > 0.0]
    return Attempt(stated[-1][0], stated[-1][1].value("attempt_uncertainty")) if stated else None


def check_attempt(attempt: Attempt, result: GroupResult, computed: float) -> AttemptCheck:
    """Compare a student's value with E/m by the school's rules [J/kg], and name the step that differs."""
    matches = tuple(way for way in _ways(result, computed) if _same(attempt.value, way.value))
    nearest = min(matches, key=lambda match: abs(match.value - attempt.value), default=None)
    same = _same(attempt.value, computed)
    return AttemptCheck(
        attempt=attempt,
        computed=computed,
        difference_percent=100.0 * (attempt.value / computed - 1.0),
        same=same,
        step="" if same or nearest is None else nearest.step,
        matches=matches,
    )


def _same(value: float, other: float) -> bool:
    return other > 0.0 and abs(value / other - 1.0) <= SAME


def _ways(result: GroupResult, computed: float) -> Iterator[Match]:
    yield Match("correction", "losses taken off", result.best.value)
    for factor, words in UNIT_STEPS.items():
        yield Match("unit", words, computed * factor)
    runs = result.measured.levels[0]
    yield from _energy_ways(result, runs[0], computed)
    yield from _mass_ways(runs[0])
    if len(runs) > 1:
        for words, run in (("the last run alone", runs[-1]), ("the first run alone", runs[0])):
            yield Match("difference", words, run.span[0] / max(run.span[1], 1e-12))


def _energy_ways(result: GroupResult, run: Run, computed: float) -> Iterator[Match]:
    used, (energy, mass, time) = result.used, run.span
    step = "energy per count"
    if run.source == "counts":
        own = used.kit.meter.energy_per_count
        others = {meter.energy_per_count for meter in used.conditions.bench.meters} - {own, 0.0}
        for other in sorted(others):
            yield Match(step, f"{other:g} J for one count instead of {own:g} J", computed * other / own)
        yield Match(step, "counts taken for joules", computed / own)
        yield Match(step, "counts taken for watt hours", computed * 3600.0 / own)
        yield Match(step, "counts per kWh taken for joules per count", computed * 3.6e6 / own / own)
        last = run.readings[-1][0].value("counts")
        if last is not None:
            yield Match("difference", "the last count taken without the first", last * own / mass)
    if time:
        yield Match(step, "nameplate power times time instead of measured energy", rated_power(used) * time / mass)
    if mass > 0.0:
        yield Match("mass", "m/E instead of E/m", mass / energy)


def _mass_ways(run: Run) -> Iterator[Match]:
    energy, mass, _ = run.span
    first, last = run.readings[0][0].value("mass"), run.readings[-1][-1].value("mass")
    if last and abs(last - mass) > SAME * mass:
        yield Match("difference", "the last mass taken without the first", energy / last)
    if first and abs(first - mass) > SAME * mass:
        yield Match("difference", "the first mass taken without the last", energy / first)
    if first and last and first + last > 0.0:
        yield Match("mass", "masses added instead of subtracted", energy / (first + last))
        yield Match("mass", "mean mass instead of the difference", 2.0 * energy / (first + last))
