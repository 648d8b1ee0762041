"""What readings can be expected on a bench: windows of power and of E/m, and the scatter of a reading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from design.comparison.changes import IMPROVEMENTS, extra_price
from design.evaluation.in_use import InUse
from design.evaluation.measured import Measured, rated_power
from design.evaluation.runs import Run
from design.physics.losses import lead_share
from design.procedures.face import Correction
from design.procedures.shared import noise_growth, reading_uncertainty, timing_of_marks
from design.search.sample import Sample
from design.search.setup import Setup, errors_of, obstacles, situation_for
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


TRIALS = 2048
"""Trials of the shared sample: differences are sharper than each value."""


@dataclass(frozen=True)
class Improvement:
    """
    One change; errors of the reported value in per cent of the true one, before and after.

    Parameters
    ----------
    key : str
        Which change, as in ``design.comparison.changes``.
    bias_percent, standard_uncertainty_percent, rms_error_percent : tuple of float
        Before and after.
    price : float or None
        Of what is to be bought for it; None where no shelf has it.
    obstacles : tuple of str
        Limits of kit and lesson that stand in its way.
    """

    key: str
    bias_percent: tuple[float, float]
    standard_uncertainty_percent: tuple[float, float]
    rms_error_percent: tuple[float, float]
    price: float | None
    obstacles: tuple[str, ...]


def improvements_of(used: InUse, what: Measured, *, seed: int = 0) -> tuple[Improvement, ...]:
    """
    Work out what each single change to what was done would be worth.

    Parameters
    ----------
    used : InUse
        What the readings were taken with.
    what : Measured
        Readings: they give power, mass and number of runs.
    seed : int
        Seed of the sample.

    Returns
    -------
    tuple of Improvement
        Smallest error afterwards first. Before is the value as the bench says it is reckoned today.
    """
    today: Correction = "none" if used.conditions.bench.current.correction in (None, "none") else used.correction
    contrast = what.contrasts[0]
    powers = tuple(one.energy / one.time if one.time else rated_power(used) for one in what.contrasts)
    mass = float(np.round(contrast.mass, 4)) if used.procedure.needs_mass_set else contrast.mass
    setup = Setup(used.kit, used.procedure, today, powers, mass, contrast.runs)
    sample = Sample(TRIALS, seed)
    before = _error(used, setup, sample)
    found = []
    for change in IMPROVEMENTS:
        changed = change.make(used.conditions, setup)
        if changed is None:
            continue
        after = _error(used, changed, sample)
        pairs = list(zip(before, after, strict=True))
        found.append(
            Improvement(
                key=change.key,
                bias_percent=pairs[0],
                standard_uncertainty_percent=pairs[1],
                rms_error_percent=pairs[2],
                price=extra_price(used.conditions.bench, used.kit, changed.kit),
                obstacles=obstacles(situation_for(used.conditions, changed), changed.procedure),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.rms_error_percent[1], one.key)))


def _error(used: InUse, setup: Setup, sample: Sample) -> tuple[float, float, float]:
    """Bias, standard uncertainty and rms error. [%]"""
    errors = errors_of(used.conditions, setup, sample)
    bias, spread = float(errors.mean()), float(errors.std())
    return 100.0 * bias, 100.0 * spread, 100.0 * float(np.hypot(bias, spread))
