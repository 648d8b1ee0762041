"""Plausibility before arithmetic: every slip that can be seen, where it stands, and what is likely."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from design.errors import DesignError
from design.evaluation.expected import (
    OUT_OF_LINE,
    POWER_DRIFT,
    Windows,
    count_step,
    interval_uncertainty,
    mark_uncertainty,
    median,
    windows_of,
)
from design.evaluation.in_use import InUse
from design.evaluation.measured import rated_power
from design.evaluation.result import parted
from design.evaluation.row_checks import Rows, row_findings
from design.evaluation.runs import Run, by_run, runs_of
from design.evaluation.slips import Slip, likely_slip
from design.sheets.readings import Finding, Reading, Sheet


@dataclass(frozen=True)
class Neighbours:
    """
    What the other runs of the group say; None where there are too few.

    Parameters
    ----------
    value : float or None
        Median E/m of runs at about the same power. [J/kg]
    power : float or None
        Median power. [W]
    spread : float
        Relative standard uncertainty of one run about the median. [1]
    """

    value: float | None
    power: float | None
    spread: float


@dataclass(frozen=True)
class Complaint:
    """One thing that is implausible: its code, how far out (in half-widths of what is plausible), in words."""

    code: str
    size: float
    text: str


def neighbours_of(run: Run, others: Sequence[Run], windows: Windows) -> Neighbours:
    """What runs like this one say, the run itself left out; two at least."""
    alike = [other for other in others if other is not run and _alike(run, other, windows)]
    usable = [other for other in alike if other.span[1] > 0.0 and other.span[0] > 0.0]
    if len(usable) < 2:
        return Neighbours(None, None, 0.0)
    values = [other.span[0] / other.span[1] for other in usable]
    powers = [other.power for other in usable if other.power]
    spread = interval_uncertainty(windows.used, usable[0]) / usable[0].span[1]
    observed = median([abs(value / median(values) - 1.0) for value in values]) * 1.4826
    return Neighbours(median(values), median(powers) if powers else None, max(spread * math.sqrt(1.5), observed))


def _alike(run: Run, other: Run, windows: Windows) -> bool:
    if not windows.several_powers:
        return True
    return bool(run.power and other.power and abs(run.power / other.power - 1.0) < 0.15)


def complaints(run: Run, windows: Windows, neighbours: Neighbours) -> tuple[Complaint, ...]:
    """
    Everything implausible about a run.

    Parameters
    ----------
    run : Run
        The run.
    windows : Windows
        What is plausible on the bench.
    neighbours : Neighbours
        What the other runs say.

    Returns
    -------
    tuple of Complaint
        Empty where nothing is.
    """
    energy, mass, _ = run.span
    if mass <= 0.0 or energy <= 0.0 or (run.time is not None and run.time[-1] <= 0.0):
        return (Complaint("runs_backwards", 100.0, "energy, time and mass must all go on from mark to mark"),)
    return (*_power(run, windows, neighbours), *_value(run, windows, neighbours), *_intervals(run, windows))


def _power(run: Run, windows: Windows, neighbours: Neighbours) -> tuple[Complaint, ...]:
    power = run.power
    if power is None or run.source == "nameplate":
        return ()
    low, high = windows.power
    reading = 2.0 * count_step(windows.used, run) / run.span[0]
    nameplate = windows.used.kit.heater.power
    seen = f"energy over time is {power:.0f} W, and the heater's nameplate says {nameplate:.0f} W"
    if power > high * (1.0 + reading):
        return (Complaint("power_beyond_nameplate", power / high, seen),)
    if power < low * (1.0 - reading):
        return (Complaint("power_below_nameplate", low / power, seen),)
    if neighbours.power is not None:
        allowed = POWER_DRIFT + 2.0 * reading
        change = power / neighbours.power - 1.0
        if abs(change) > 1.5 * allowed:
            text = f"energy over time is {power:.0f} W, and {neighbours.power:.0f} W in the other runs"
            return (Complaint("power_out_of_line", abs(change) / allowed, text),)
    return ()


def _value(run: Run, windows: Windows, neighbours: Neighbours) -> tuple[Complaint, ...]:
    energy, mass, _ = run.span
    value = energy / mass
    low, expected, high = windows.value(run)
    seen = (
        f"E/m is {value / 1e6:.3g} MJ/kg for {1e3 * mass:.4g} g, and about {expected / 1e6:.3g} MJ/kg is expected here"
    )
    if value < min(low, 0.97 * windows.used.reference):
        return (Complaint("energy_too_small", low / value, f"{seen}: less energy than that mass needs"),)
    if value > high:
        return (Complaint("energy_too_large", value / high, f"{seen}: more loss than this vessel has"),)
    if neighbours.value is not None:
        change = value / neighbours.value - 1.0
        if abs(change) > OUT_OF_LINE * neighbours.spread:
            text = f"E/m is {value / 1e6:.3g} MJ/kg, and {neighbours.value / 1e6:.3g} MJ/kg in the other runs"
            return (Complaint("run_out_of_line", abs(change) / neighbours.spread, text),)
    return ()


def _intervals(run: Run, windows: Windows) -> tuple[Complaint, ...]:
    """Marks that leave the line of mass against energy, or of energy against time."""
    if run.mass.size < 4:
        return ()
    spread = mark_uncertainty(windows.used, run)
    worst, size = out_of_line(run.energy, run.mass, spread)
    found = []
    if size > OUT_OF_LINE:
        text = f"mark {worst + 1} of the run leaves the line of the others by {size * spread * 1e3:.2g} g"
        found.append(Complaint("mark_out_of_line", size, text))
    if run.time is not None and not windows.several_powers:
        power = run.span[0] / run.time[-1]
        step = count_step(windows.used, run) / max(power, 1.0)
        observer = windows.used.conditions.bench.observer.reaction_time
        allowed = math.hypot(observer, 0.5 * step, 0.5, 0.005 * run.time[-1] / run.time.size)
        worst, size = out_of_line(run.energy, run.time, allowed)
        if size > OUT_OF_LINE:
            text = f"the time of mark {worst + 1} leaves the line of the others by {size * allowed:.2g} s"
            found.append(Complaint("mark_out_of_line", size, text))
    return tuple(found)


def out_of_line(x: np.ndarray, y: np.ndarray, spread: float) -> tuple[int, float]:
    """
    Index of the mark furthest from a robust line through all, and how far in units of a spread.

    Notes
    -----
    Slope: median of all pairwise slopes (Theil 1950; Sen 1968, from memory), so that one mark cannot bend the line.
    """
    i, j = np.triu_indices(x.size, k=1)
    apart = x[j] - x[i]
    good = np.abs(apart) > 0.0
    if not good.any():
        return 0, 0.0
    slope = float(np.median((y[j] - y[i])[good] / apart[good]))
    residual = y - slope * x
    residual = np.abs(residual - np.median(residual))
    worst = int(np.argmax(residual))
    return worst, float(residual[worst]) / max(spread, 1e-12)


FEWEST_STEPS = 20
"""Display steps below which a mass step or an energy is read too coarsely (common practice, no source)."""
UNSTEADY = 4.0
"""Standard uncertainties by which early intervals lag behind for boiling to count as not steady (judgement)."""
_SLIP_TEXT = {
    "unit_slip": "another unit than the heading says?",
    "decimal_slip": "the decimal mark in another place?",
    "digits_transposed": "two digits the wrong way round?",
}


def findings_of(sheet: Sheet, used: InUse) -> tuple[Finding, ...]:
    """
    Look through a sheet.

    Parameters
    ----------
    sheet : Sheet
        Readings of all groups.
    used : InUse
        What they were taken with.

    Returns
    -------
    tuple of Finding
        Those of the cells first, then by row.
    """
    found: list[Finding] = []
    for readings in sheet.groups.values():
        rows = Rows(sheet, used, readings)
        found += row_findings(rows)
        found += _run_findings(rows)
    order = sorted(dict.fromkeys(found), key=lambda finding: finding.row)
    return (*sheet.findings, *order)


def _run_findings(rows: Rows) -> list[Finding]:
    windows = windows_of(rows.used)
    runs: dict[str, Run] = {}
    heated, _ = parted(rows.readings)
    rowwise: dict[str, list[Reading]] = by_run(heated)
    for name, readings in rowwise.items():
        run = _made(readings, rows.used)
        if run is not None:
            runs[name] = run
    found: list[Finding] = []
    for name, run in runs.items():
        found += _look(rows, rowwise[name], run, list(runs.values()), windows)
    return found


def _made(readings: Sequence[Reading], used: InUse) -> Run | None:
    try:
        return _remade(readings, used)
    except DesignError:
        return None


def _remade(readings: Sequence[Reading], used: InUse) -> Run:
    steps = used.procedure.needs_mass_set
    return runs_of(readings, used.kit, steps_of_mass=steps, rated_power=rated_power(used))[0]


def _look(rows: Rows, readings: Sequence[Reading], run: Run, runs: Sequence[Run], windows: Windows) -> list[Finding]:
    last = run.readings[-1][-1]
    found = _coarse(rows, run, last)
    neighbours = neighbours_of(run, runs, windows)
    wrong = complaints(run, windows, neighbours)
    unsteady = _unsteady(rows, run)
    if unsteady:
        return [*found, *unsteady]
    if wrong or not _steadily(run):
        slip = likely_slip(readings, lambda changed: _remade(changed, rows.used), windows, neighbours)
        if slip is not None:
            return [*found, _slip_finding(rows, slip, wrong)]
        found += [_complaint(rows, run, complaint) for complaint in wrong if complaint.code != "runs_backwards"]
    return found + _uncovered(rows, run, last)


def _steadily(run: Run) -> bool:
    falls = bool(np.any(np.diff(run.energy) < 0.0) or np.any(np.diff(run.mass) < -4e-3))
    return not falls and (run.time is None or not np.any(np.diff(run.time) < 0.0))


def _slip_finding(rows: Rows, slip: Slip, wrong: Sequence[Complaint]) -> Finding:
    seen = wrong[0].text if wrong else "the readings of this run do not go on steadily"
    typed = slip.reading.numbers[slip.quantity].text
    text = f"{typed}: {_SLIP_TEXT[slip.code]} With {slip.likely} the run would be as expected; as typed, {seen}."
    return rows.finding(slip.reading, slip.quantity, slip.code, text)


def _complaint(rows: Rows, run: Run, complaint: Complaint) -> Finding:
    last = run.readings[-1][-1]
    return rows.finding(last, "", complaint.code, f"run {run.name}: {complaint.text}.")


def _coarse(rows: Rows, run: Run, last: Reading) -> list[Finding]:
    """A mass step or an energy of too few display steps."""
    kit, found = rows.used.kit, []
    _, mass, _ = run.span
    if 0.0 <= mass < FEWEST_STEPS * kit.balance.resolution * (1.0 - 1e-9):
        mass = abs(mass)
        steps = mass / kit.balance.resolution
        text = f"run {run.name} boils away {1e3 * mass:.3g} g, only {steps:.0f} display steps of the balance."
        found.append(rows.finding(last, "mass", "step_too_small", text))
    counted = run.source == "counts" and not rows.used.procedure.pace.whole_counts
    step = kit.meter.energy_per_count * kit.meter.fineness
    if counted and 0.0 < run.span[0] < FEWEST_STEPS * step * (1.0 - 1e-9):
        text = f"run {run.name} has {run.span[0] / step:.0f} steps of the meter only."
        found.append(rows.finding(last, "counts", "counts_too_few", text))
    return found


def _unsteady(rows: Rows, run: Run) -> list[Finding]:
    """Early intervals with less steam for their energy than the later ones: boiling was not steady yet."""
    count = run.mass.size
    if count < 5 or np.any(np.diff(run.energy) <= 0.0):
        return []
    half = count // 2
    later_energy, later_mass = run.energy[half:], run.mass[half:]
    rate = float((later_mass[-1] - later_mass[0]) / (later_energy[-1] - later_energy[0]))
    spread = mark_uncertainty(rows.used, run)
    lag = run.mass - (run.mass[-1] - rate * (run.energy[-1] - run.energy))
    early = lag[:half]
    room = 1.0 + (run.energy[-1] - run.energy[0]) / (later_energy[-1] - later_energy[0])
    if early[0] > UNSTEADY * spread * room and np.all(np.diff(early) < UNSTEADY * spread):
        reading = run.readings[0][0]
        text = (
            f"run {run.name} begins with {1e3 * early[0]:.2g} g less steam than its energy makes later on; "
            "was the water boiling steadily when it began?"
        )
        return [rows.finding(reading, "mass", "boiling_not_steady", text)]
    return []


def _uncovered(rows: Rows, run: Run, last: Reading) -> list[Finding]:
    """Water at the end below the element's mark, whichever way the balance was tared."""
    used = rows.used
    number = last.numbers.get("mass")
    if number is None or used.procedure.needs_mass_set or run.span[1] <= 0.0:
        return []
    vessel, density = used.kit.vessel, used.conditions.water.liquid_density
    least = used.kit.heater.minimum_depth * used.hardware.area * density
    end, start = number.value, number.value + run.span[1]
    filled = [
        (end - tare)
        for tare in (0.0, vessel.mass)
        if 0.0 < start - tare <= 1.05 * vessel.capacity * density and end - tare > -1e-3
    ]
    if not filled or max(filled) >= least:
        return []
    text = (
        f"{number.text} leaves at most {1e3 * max(filled):.0f} g of water, and the element needs {1e3 * least:.0f} g."
    )
    return [rows.finding(last, "mass", "element_uncovered", text)]
