"""What is implausible about a run as a whole: its power, its E/m, and intervals that are out of line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from design.evaluation.expected import (
    OUT_OF_LINE,
    POWER_DRIFT,
    Windows,
    count_step,
    interval_uncertainty,
    mark_uncertainty,
    median,
)
from design.evaluation.runs import Run


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
