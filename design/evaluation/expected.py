"""What readings can be expected on a bench, and what is implausible about a run."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.chosen import Design
from design.evaluation.measured import rated_power
from design.evaluation.runs import Run
from design.message import Message
from design.physics.losses import lead_share
from design.procedures.registry import variants_of
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
SAME_POWER = 0.15
"""Relative difference of power up to which runs at several powers are alike (judgement)."""
ROBUST = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""

Complaint = tuple[str, Message]
"""Code of something implausible, and what is seen."""


@dataclass(frozen=True)
class Windows:
    """
    What is plausible on a bench.

    Parameters
    ----------
    used : Design
        The bench.
    power : tuple of float
        Lowest and highest power that heater, supply and meter can show. [W]
    several_powers : bool
        Whether the procedure or the heater's control goes below full power.
    """

    used: Design
    power: tuple[float, float]
    several_powers: bool

    def value(self, run: Run) -> tuple[float, float, float]:
        """Lowest, expected and highest E/m of a run. [J/kg]"""
        low, high = self.power
        expected, spread = _expected_value(self.used, min(max(run.power or rated_power(self.used), low), high))
        scatter = interval_uncertainty(self.used, run) / max(abs(run.span[1]), 1e-9)
        half = max(WIDE * math.hypot(spread, scatter), LEAST_WIDTH)
        return expected * max(1.0 - half, 0.3), expected, expected * (1.0 + half)


def windows_of(used: Design) -> Windows:
    """Work out what is plausible."""
    heater, supply, meter = used.kit.heater, used.conditions.bench.supply, used.kit.meter
    error = used.conditions.bench.knowledge.get("meter_error", meter.error)
    low, high = error.support if all(map(math.isfinite, error.support)) else (
        error.mean - WIDE * error.standard_uncertainty, error.mean + WIDE * error.standard_uncertainty
    )  # fmt: skip
    several = heater.control != "none" or any(one.number_of_powers > 1 for one in variants_of(used.procedure))
    rated = rated_power(used)
    lowest = 0.0 if several else rated * (1.0 - heater.tolerance) * (1.0 - supply.tolerance) ** 2 * (1.0 + low)
    highest = rated * (1.0 + heater.tolerance) * (1.0 + supply.tolerance) ** 2 * (1.0 + high)
    return Windows(used, (lowest, highest), several)


def _expected_value(used: Design, power: float) -> tuple[float, float]:
    """Uncorrected E/m [J/kg] at a metered power, and its relative standard uncertainty without that of readings."""
    bench, hardware = used.conditions.bench, used.hardware
    lead = float(lead_share(used.kit.heater, np.array([power]), bench.supply.voltage)[0])
    error = bench.knowledge.get("meter_error", used.kit.meter.error)
    steaming = max(power * (1.0 - lead) / (1.0 + error.mean) - hardware.loss, 0.05 * power)
    kept = (1.0 - hardware.stem) * used.conditions.buoyancy
    accuracy = used.kit.mass_set.accuracy if used.kit.mass_set else 0.0
    spread = math.hypot(hardware.loss_uncertainty / steaming, error.standard_uncertainty, accuracy, 0.01)
    return used.reference * kept * power / steaming, spread


def mark_uncertainty(used: Design, run: Run) -> float:
    """Standard uncertainty of one mark, energy and time counted as mass. [kg]"""
    power = run.power if run.power and run.span[0] > 0 else rated_power(used)
    observer = used.conditions.bench.observer
    noise = default_distribution("boiling_noise").standard_uncertainty
    per_joule = 1.0 / used.reference
    counted = 0.0 if used.procedure.pace.whole_counts else count_step(used, run) / math.sqrt(12.0) * per_joule
    return math.hypot(
        noise * float(compiled(noise_growth("power")).evaluate({"power": power})),
        reading_uncertainty(used.kit.balance, observer.tipping),
        observer.reaction_time * abs(power) * per_joule / math.sqrt(2.0),
        counted,
        run.division("mass") / math.sqrt(12.0),
    )


def count_step(used: Design, run: Run) -> float:
    """Smallest change of the energy that is read; where marks are timed, of a step with as much scatter. [J]"""
    if run.source == "counts" and used.kit.meter.reads == "timed":
        return math.sqrt(12.0) * timing_of_marks(used.conditions.bench.observer.reaction_time) * used.kit.heater.power
    if run.source == "counts":
        return used.kit.meter.energy_per_count * used.kit.meter.fineness
    return run.division("energy") if run.source == "energy" else 0.0


def interval_uncertainty(used: Design, run: Run) -> float:
    """Standard uncertainty of the difference of two marks, as mass. [kg]"""
    return math.sqrt(2.0) * mark_uncertainty(used, run)


@dataclass(frozen=True)
class Neighbours:
    """
    What the other runs of the group say; None where there are too few.

    Parameters
    ----------
    value, power : float or None
        Median E/m [J/kg] and power [W] of runs at about the same power.
    spread : float
        Relative standard uncertainty of one run about the median. [1]
    """

    value: float | None = None
    power: float | None = None
    spread: float = 0.0


def neighbours_of(run: Run, others: Sequence[Run], windows: Windows) -> Neighbours:
    """What runs like this one say, the run itself left out; two at least."""
    alike = [other for other in others if other is not run and _alike(run, other, windows)]
    usable = [other for other in alike if other.span[1] > 0.0 and other.span[0] > 0.0]
    if len(usable) < 2:
        return Neighbours()
    values = np.array([other.span[0] / other.span[1] for other in usable])
    middle = float(np.median(values))
    powers = [other.power for other in usable if other.power]
    observed = ROBUST * float(np.median(np.abs(values / middle - 1.0)))
    spread = interval_uncertainty(windows.used, usable[0]) / usable[0].span[1] * math.sqrt(1.5)
    return Neighbours(middle, float(np.median(powers)) if powers else None, max(spread, observed))


def _alike(run: Run, other: Run, windows: Windows) -> bool:
    if not windows.several_powers:
        return True
    return bool(run.power and other.power and abs(run.power / other.power - 1.0) < SAME_POWER)


def complaints(run: Run, windows: Windows, neighbours: Neighbours) -> tuple[Complaint, ...]:
    """Everything implausible about a run, by the bench and by the other runs; empty where nothing is."""
    if not run.goes_on:
        return (("runs_backwards", Message("not_on_from_mark_to_mark")),)
    first_of_each = (
        next(found, None) for found in (_power(run, windows, neighbours), _value(run, windows, neighbours))
    )
    return (*(one for one in first_of_each if one is not None), *_marks(run, windows))


def _power(run: Run, windows: Windows, neighbours: Neighbours) -> Iterator[Complaint]:
    power = run.power
    if power is None or run.source == "nameplate":
        return
    low, high = windows.power
    reading = 2.0 * count_step(windows.used, run) / run.span[0]
    nameplate = Message("power_beyond_nameplate", {"power": power, "nameplate": windows.used.kit.heater.power})
    if power > high * (1.0 + reading):
        yield "power_beyond_nameplate", nameplate
    if power < low * (1.0 - reading):
        yield "power_below_nameplate", nameplate
    others = neighbours.power
    if others is not None and abs(power / others - 1.0) > 1.5 * (POWER_DRIFT + 2.0 * reading):
        yield "power_out_of_line", Message("power_out_of_line", {"power": power, "others": others})


def _value(run: Run, windows: Windows, neighbours: Neighbours) -> Iterator[Complaint]:
    energy, mass, _ = run.span
    value, others = energy / mass, neighbours.value
    low, expected, high = windows.value(run)
    here = {"value": value, "mass": mass, "expected": expected}
    if value < min(low, 0.97 * windows.used.reference):
        yield "energy_too_small", Message("energy_too_small", here)
    if value > high:
        yield "energy_too_large", Message("energy_too_large", here)
    if others is not None and abs(value / others - 1.0) > OUT_OF_LINE * neighbours.spread:
        yield "run_out_of_line", Message("run_out_of_line", {"value": value, "others": others})


def _marks(run: Run, windows: Windows) -> Iterator[Complaint]:
    """Marks that leave the line of mass against energy, or of energy against time."""
    if run.mass.size < 4:
        return
    spread = mark_uncertainty(windows.used, run)
    worst, size = _out_of_line(run.energy, run.mass, spread)
    if size > OUT_OF_LINE:
        yield "mark_out_of_line", Message("mass_out_of_line", {"mark": worst + 1, "mass": size * spread})
    if run.time is not None and not windows.several_powers:
        step = count_step(windows.used, run) / max(run.span[0] / run.time[-1], 1.0)
        observer = windows.used.conditions.bench.observer.reaction_time
        allowed = math.hypot(observer, 0.5 * step, 0.5, 0.005 * run.time[-1] / run.time.size)
        worst, size = _out_of_line(run.energy, run.time, allowed)
        if size > OUT_OF_LINE:
            yield "mark_out_of_line", Message("time_out_of_line", {"mark": worst + 1, "time": size * allowed})


def _out_of_line(x: FloatArray, y: FloatArray, spread: float) -> tuple[int, float]:
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
