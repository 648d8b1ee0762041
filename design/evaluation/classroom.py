"""The class as a whole: groups' values, their spread against the expected one, and a pooled value."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from budget.model.measurement import MeasurementModel
from design.evaluation.in_use import InUse
from design.evaluation.measured import PER_PAUSE, SCATTER, Measured, rated_power
from design.evaluation.result import Result
from design.evaluation.runs import Run
from design.evaluation.school import SchoolResult
from design.sheets.readings import Reading

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
