"""What readings can be expected on a bench, and what is implausible about a run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from design.evaluation.in_use import InUse
from design.evaluation.measured import rated_power
from design.evaluation.runs import Run
from design.physics.losses import lead_share
from design.procedures.shared import noise_growth, reading_uncertainty, timing_of_marks
from design.setting.equations import compiled
from design.setting.terms import default_distribution

WIDE = 5.0
"""Standard uncertainties either way that make a window (judgement: few false alarms)."""
LEAST_WIDTH = 0.06
"""Least relative half-width of the window of E/m (judgement)."""
OUT_OF_LINE = 6.0
"""Standard uncertainties from which an interval is out of line with the others (judgement)."""
POWER_DRIFT = 0.03
"""Relative change of power from run to run that the mains explain (judgement: 0.5 to 1.5 % of voltage)."""


@dataclass(frozen=True)
class Windows:
    """
    What is plausible on a bench.

    Parameters
    ----------
    power : tuple of float
        Lowest and highest power that heater, supply and meter can show. [W]
    several_powers : bool
        Whether the procedure or the heater's control goes below full power.
    """

    used: InUse
    power: tuple[float, float]
    several_powers: bool

    def value(self, run: Run) -> tuple[float, float, float]:
        """Lowest, expected and highest E/m of a run. [J/kg]"""
        energy, mass, time = run.span
        power = energy / time if time else rated_power(self.used)
        usable = min(max(power, self.power[0]), self.power[1])
        expected, spread = expected_value(self.used, usable)
        scatter = interval_uncertainty(self.used, run) / max(abs(mass), 1e-9)
        half = max(WIDE * math.hypot(spread, scatter), LEAST_WIDTH)
        return expected * max(1.0 - half, 0.3), expected, expected * (1.0 + half)


def windows_of(used: InUse) -> Windows:
    """Work out what is plausible."""
    heater, supply, meter = used.kit.heater, used.conditions.bench.supply, used.kit.meter
    rated = rated_power(used)
    error = used.conditions.bench.knowledge.get("meter_error", meter.error)
    low, high = error.support if all(map(math.isfinite, error.support)) else (
        error.mean - WIDE * error.standard_uncertainty, error.mean + WIDE * error.standard_uncertainty
    )  # fmt: skip
    several = used.procedure.number_of_powers > 1 or used.procedure.identifier == "series" or heater.control != "none"
    lowest = 0.0 if several else rated * (1.0 - heater.tolerance) * (1.0 - supply.tolerance) ** 2 * (1.0 + low)
    highest = rated * (1.0 + heater.tolerance) * (1.0 + supply.tolerance) ** 2 * (1.0 + high)
    return Windows(used, (lowest, highest), several)


def expected_value(used: InUse, power: float) -> tuple[float, float]:
    """
    Uncorrected E/m to expect at a power, and its relative standard uncertainty without that of readings.

    Parameters
    ----------
    used : InUse
        The bench in use.
    power : float
        Metered power. [W]

    Returns
    -------
    tuple of float
        Value [J/kg] and relative standard uncertainty [1].
    """
    bench, hardware = used.conditions.bench, used.hardware
    lead = float(lead_share(used.kit.heater, np.array([power]), bench.supply.voltage)[0])
    error = bench.knowledge.get("meter_error", used.kit.meter.error)
    steaming = max(power * (1.0 - lead) / (1.0 + error.mean) - hardware.loss, 0.05 * power)
    kept = (1.0 - hardware.stem) * used.conditions.buoyancy
    value = used.reference * kept * power / steaming
    accuracy = used.kit.mass_set.accuracy if used.kit.mass_set else 0.0
    parts = (hardware.loss_uncertainty / steaming, error.standard_uncertainty, accuracy, 0.01)
    return value, math.hypot(*parts)


def mark_uncertainty(used: InUse, run: Run) -> float:
    """Standard uncertainty of one mark, energy and time counted as mass. [kg]"""
    energy, _, time = run.span
    power = energy / time if time and energy > 0 else rated_power(used)
    observer = used.conditions.bench.observer
    noise = default_distribution("boiling_noise").standard_uncertainty
    boiling = noise * float(compiled(noise_growth("power")).evaluate({"power": power}))
    balance = reading_uncertainty(used.kit.balance, observer.tipping)
    per_joule = 1.0 / used.reference
    delay = observer.reaction_time * abs(power) * per_joule / math.sqrt(2.0)
    counted = 0.0 if used.procedure.pace.whole_counts else count_step(used, run) / math.sqrt(12.0) * per_joule
    typed = max((row.numbers["mass"].step for mark in run.readings for row in mark if "mass" in row.numbers), default=0)
    return math.hypot(boiling, balance, delay, counted, typed / math.sqrt(12.0))


def count_step(used: InUse, run: Run) -> float:
    """Smallest change of the energy that is read; where marks are timed, of a step with as much scatter. [J]"""
    if run.source == "counts" and used.kit.meter.reads == "timed":
        timing = timing_of_marks(used.conditions.bench.observer.reaction_time)
        return math.sqrt(12.0) * timing * used.kit.heater.power
    if run.source == "counts":
        return used.kit.meter.energy_per_count * used.kit.meter.fineness
    steps = [row.numbers["energy"].step for mark in run.readings for row in mark if "energy" in row.numbers]
    return max(steps, default=0.0) if run.source == "energy" else 0.0


def interval_uncertainty(used: InUse, run: Run) -> float:
    """Standard uncertainty of the difference of two marks, as mass. [kg]"""
    return math.sqrt(2.0) * mark_uncertainty(used, run)


def median(values: Sequence[float]) -> float:
    """Middle of some values."""
    return float(np.median(np.asarray(values, dtype=np.float64)))


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
