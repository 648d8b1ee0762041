"""The student's own numbers beside the computed ones, and the step at which they part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from design.evaluation.in_use import InUse
from design.evaluation.measured import Measured, rated_power
from design.evaluation.runs import Run
from design.evaluation.school import SchoolResult
from design.sheets.readings import Reading

SAME = 0.006
"""Relative difference within which two values count as the same: three figures (common practice, no source)."""
UNIT_STEPS = {
    1e-3: "unit: kJ/kg or J/g for J/kg", 1e-6: "unit: MJ/kg for J/kg", 1e3: "unit: g for kg, once too often",
    1e6: "unit: J for MJ, or mg for kg", 3600.0: "unit: hours for seconds (kWh as kW s)",
    1 / 3600.0: "unit: kWh or Wh as hours, not times 3600", 1 / 3.6e6: "unit: kWh for J", 3.6: "unit: 3600 for 1000",
    1 / 3.6: "unit: 1000 for 3600", 60.0: "unit: minutes for seconds", 1 / 60.0: "unit: seconds for minutes",
}  # fmt: skip
"""Ratios that a unit slip leaves, with the step in words."""


@dataclass(frozen=True)
class Attempt:
    """A student's own result and its uncertainty; None where not said. [J/kg]"""

    value: float
    uncertainty: float | None = None


@dataclass(frozen=True)
class Match:
    """A way of reckoning and the value it gives; ``fits`` where the student's value is that. [J/kg]"""

    step: str
    detail: str
    value: float
    fits: bool


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
        Ways of reckoning that were tried.
    """

    attempt: Attempt
    computed: float
    difference_percent: float
    same: bool
    step: str
    matches: tuple[Match, ...]


def attempt_of(readings: tuple[Reading, ...]) -> Attempt | None:
    """Own result as it stands in the sheet, on any row of the group; the last one counts."""
    found = None
    for reading in readings:
        value = reading.value("attempt")
        if value is not None and value > 0.0:
            found = Attempt(value, reading.value("attempt_uncertainty"))
    return found


def check_attempt(
    attempt: Attempt, used: InUse, measured: Measured, school: SchoolResult, corrected: float
) -> AttemptCheck:
    """
    Compare a student's value with the computed one and name the step that differs.

    Parameters
    ----------
    attempt : Attempt
        Own value.
    used : InUse
        The bench in use.
    measured : Measured
        Readings.
    school : SchoolResult
        E/m by the school's rules.
    corrected : float
        Value with the losses taken off. [J/kg]

    Returns
    -------
    AttemptCheck
    """
    computed = school.value
    same = _same(attempt.value, computed)
    tried = [
        Match(step, detail, value, _same(attempt.value, value))
        for step, detail, value in _ways(used, measured, computed, corrected)
    ]
    fits = [match for match in tried if match.fits]
    nearest = min(fits, key=lambda match: abs(match.value - attempt.value), default=None)
    return AttemptCheck(
        attempt=attempt,
        computed=computed,
        difference_percent=100.0 * (attempt.value / computed - 1.0),
        same=same,
        step="" if same or nearest is None else nearest.step,
        matches=tuple(tried),
    )


def _same(value: float, other: float) -> bool:
    return other > 0.0 and abs(value / other - 1.0) <= SAME


def _ways(used: InUse, measured: Measured, computed: float, corrected: float) -> Iterator[tuple[str, str, float]]:
    yield "correction", "losses taken off", corrected
    for factor, words in UNIT_STEPS.items():
        yield "unit", words.removeprefix("unit: "), computed * factor
    run = measured.levels[0][0]
    yield from _energy_ways(used, run, computed)
    yield from _mass_ways(run)
    if len(measured.levels[0]) > 1:
        one = measured.levels[0][-1]
        yield "difference", "the last run alone", one.span[0] / max(one.span[1], 1e-12)
        yield "difference", "the first run alone", run.span[0] / max(run.span[1], 1e-12)


def _energy_ways(used: InUse, run: Run, computed: float) -> Iterator[tuple[str, str, float]]:
    energy, mass, time = run.span
    if run.source == "counts":
        own = used.kit.meter.energy_per_count
        others = {meter.energy_per_count for meter in used.conditions.bench.meters} - {own, 0.0}
        for other in sorted(others):
            yield "energy per count", f"{other:g} J for one count instead of {own:g} J", computed * other / own
        yield "energy per count", "counts taken for joules", computed / own
        yield "energy per count", "counts taken for watt hours", computed * 3600.0 / own
        yield "energy per count", "counts per kWh taken for joules per count", computed * 3.6e6 / own / own
        last = [row.value("counts") for row in run.readings[-1]]
        if last[0] is not None:
            yield "difference", "the last count taken without the first", last[0] * own / mass
    if time:
        power = rated_power(used)
        yield "energy per count", "nameplate power times time instead of measured energy", power * time / mass
    if mass > 0.0:
        yield "mass", "m/E instead of E/m", mass / energy


def _mass_ways(run: Run) -> Iterator[tuple[str, str, float]]:
    energy, mass, _ = run.span
    first, last = run.readings[0][0].value("mass"), run.readings[-1][-1].value("mass")
    if last and abs(last - mass) > SAME * mass:
        yield "difference", "the last mass taken without the first", energy / last
    if first and abs(first - mass) > SAME * mass:
        yield "difference", "the first mass taken without the last", energy / first
    if first and last and first + last > 0.0:
        yield "mass", "masses added instead of subtracted", energy / (first + last)
        yield "mass", "mean mass instead of the difference", 2.0 * energy / (first + last)
