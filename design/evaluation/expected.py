"""What readings can be expected on a bench: power, E/m, and the scatter of a mark."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from design.chosen import Design
from design.evaluation.measured import rated_power
from design.evaluation.runs import Run
from design.physics.losses import lead_share
from design.procedures.registry import variants_of
from design.procedures.shared import noise_growth, reading_uncertainty, timing_of_marks
from design.search.candidates import powers_of
from design.setting.equations import compiled
from design.setting.terms import default_distribution

WIDE = 5.0
"""Standard uncertainties of a meter without limits that its error may reach (judgement)."""
MODEL = 0.01
"""Relative standard uncertainty of the expected E/m beside that of loss, meter and masses (judgement)."""


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

    def within(self, power: float | None) -> float:
        """Power that the bench can show nearest to one that was found; the rated one without any. [W]"""
        low, high = self.power
        return min(max(power or rated_power(self.used), low), high)

    def value(self, power: float | None) -> ExpectedValue:
        """Uncorrected E/m at a metered power."""
        used, metered = self.used, self.within(power)
        bench, hardware = used.conditions.bench, used.hardware
        lead = float(lead_share(used.kit.heater, np.array([metered]), bench.supply.voltage)[0])
        error = bench.knowledge.get("meter_error", used.kit.meter.error)
        steaming = max(metered * (1.0 - lead) / (1.0 + error.mean) - hardware.loss, 0.05 * metered)
        kept = (1.0 - hardware.stem) * used.conditions.buoyancy
        accuracy = used.kit.mass_set.accuracy if used.kit.mass_set else 0.0
        return ExpectedValue(
            used.reference * kept * metered / steaming,
            hardware.loss_uncertainty / steaming,
            math.hypot(error.standard_uncertainty, accuracy, MODEL),
        )


@dataclass(frozen=True)
class ExpectedValue:
    """E/m that is expected [J/kg], and its relative standard uncertainty from the loss and from all else. [1]"""

    value: float
    of_loss: float
    of_others: float


def windows_of(used: Design) -> Windows:
    """Work out what is plausible."""
    heater, supply, meter = used.kit.heater, used.conditions.bench.supply, used.kit.meter
    error = used.conditions.bench.knowledge.get("meter_error", meter.error)
    low, high = error.support if all(map(math.isfinite, error.support)) else (
        error.mean - WIDE * error.standard_uncertainty, error.mean + WIDE * error.standard_uncertainty
    )  # fmt: skip
    several = heater.control != "none" or any(one.number_of_powers > 1 for one in variants_of(used.procedure))
    rated = rated_power(used)
    fullest = max(rated, *powers_of(used.conditions.bench, heater), 0.0) if several else rated
    lowest = 0.0 if several else rated * (1.0 - heater.tolerance) * (1.0 - supply.tolerance) ** 2 * (1.0 + low)
    highest = fullest * (1.0 + heater.tolerance) * (1.0 + supply.tolerance) ** 2 * (1.0 + high)
    return Windows(used, (lowest, highest), several)


def mark_uncertainty(used: Design, run: Run, power: float | None = None, rougher: float = 1.0) -> float:
    """
    Standard uncertainty of one mark, energy and time counted as mass. [kg].

    Parameters
    ----------
    used, run
        The bench, and the run whose marks they are.
    power : float, optional
        By default the run's own. [W]
    rougher : float
        Push of the boil over the expected. [1]
    """
    if power is None:
        power = run.power if run.power and run.span[0] > 0.0 else rated_power(used)
    observer = used.conditions.bench.observer
    noise = default_distribution("boiling_noise").standard_uncertainty
    per_joule = 1.0 / used.reference
    counted = 0.0 if used.procedure.pace.whole_counts else count_step(used, run) / math.sqrt(12.0) * per_joule
    return math.hypot(
        rougher * noise * float(compiled(noise_growth("power")).evaluate({"power": power})),
        reading_uncertainty(used.kit.balance, observer.tipping),
        observer.reaction_time * power * per_joule / math.sqrt(2.0),
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
