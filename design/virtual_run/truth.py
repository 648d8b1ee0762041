"""What is true of each run and nobody sees: drawn from what the bench states, and from nothing else."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from budget.distributions import Distribution, Rectangular
from design.physics.evidence import evidence
from design.situation import Situation
from design.terms import default_distribution
from design.virtual_run.behaviour import behaviour_row

FloatArray = NDArray[np.float64]

PAN_RATE = 3.3e-3
"""Evaporation of still water near 95 °C by the pan formula of ``design.virtual_run.advance``. [kg/(m² s)]"""
LONGEST_PAUSE = 900.0
"""Longest pause by which a stated restart energy is played. [s]"""


@dataclass(frozen=True)
class Truth:
    """
    What is true of each run; arrays of shape (n,).

    Parameters
    ----------
    wall_loss, base_loss, return_loss : ndarray
        At the boil. [W]
    carry_over : ndarray
        Share of the lost mass at 1 kW and 50 mm of freeboard. [1]
    evaporation_factor, void_share, spot_cooling : ndarray
        True over calculated evaporation; bubbles round the element; cooling at the thermometer over the mean. [1]
    missing_low, missing_off : ndarray
        Share of the wall's loss that is missing at a power near nothing, and with the heater off: air gets in. [1]
    meter_error, heater_error, supply_error, mass_error : ndarray
        Relative. [1]
    lead_factor, stem_factor : ndarray
        True over calculated. [1]
    linearity : ndarray, shape (n, p)
        Error of the balance over a run at each power, relative to its limit. [1]
    pause : ndarray
        Time for which the heater is switched off at a restart. [s]
    phase : ndarray
        Part of a count that the meter has done at the start. [1]
    """

    wall_loss: FloatArray
    base_loss: FloatArray
    return_loss: FloatArray
    carry_over: FloatArray
    evaporation_factor: FloatArray
    void_share: FloatArray
    spot_cooling: FloatArray
    missing_low: FloatArray
    missing_off: FloatArray
    meter_error: FloatArray
    heater_error: FloatArray
    supply_error: FloatArray
    mass_error: FloatArray
    lead_factor: FloatArray
    stem_factor: FloatArray
    linearity: FloatArray
    pause: FloatArray
    phase: FloatArray

    @property
    def runs(self) -> int:
        """Number of runs."""
        return self.wall_loss.size


def draw_truth(situation: Situation, runs: int, generator: np.random.Generator) -> Truth:
    """
    Draw what is true of each run.

    Parameters
    ----------
    situation : Situation
        One setting of a kit.
    runs : int
        Number of runs.
    generator : numpy.random.Generator
        Source of chance.

    Returns
    -------
    Truth
    """
    bench, kit = situation.conditions.bench, situation.kit
    known = situation.hardware.knowledge

    def draw(distribution: Distribution) -> FloatArray:
        return drawn(distribution, runs, generator)

    def limits(half_width: float) -> FloatArray:
        return draw(Rectangular(-half_width, half_width)) if half_width > 0.0 else np.zeros(runs)

    losses = {key: draw(known[key]) for key in ("wall_loss", "base_loss", "return_loss")}
    return Truth(
        **losses,
        carry_over=draw(known["carry_over"]),
        evaporation_factor=draw(default_distribution("heater_off_evaporation")) / PAN_RATE,
        void_share=_about_median("void_share", runs, generator),
        spot_cooling=1.0 + draw(default_distribution("cooling_balance")),
        missing_low=draw(default_distribution("dry_wall")),
        missing_off=draw(default_distribution("freeboard_share")),
        meter_error=draw(bench.knowledge.get("meter_error", kit.meter.error)),
        heater_error=limits(kit.heater.tolerance),
        supply_error=limits(bench.supply.tolerance),
        mass_error=limits(kit.mass_set.accuracy if kit.mass_set else 0.0),
        lead_factor=draw(default_distribution("element_lead")),
        stem_factor=draw(default_distribution("stem_area_factor")),
        linearity=generator.uniform(-1.0, 1.0, (runs, situation.settings.powers.shape[1])),
        pause=_pause(situation, sum(losses.values(), np.zeros(runs)), generator),
        phase=generator.random(runs),
    )


def drawn(distribution: Distribution, runs: int, generator: np.random.Generator) -> FloatArray:
    """Independent draws of a distribution, shape (runs,)."""
    if distribution.standard_uncertainty == 0.0:
        return np.full(runs, distribution.mean)
    return np.asarray(distribution.ppf(generator.random(runs)), dtype=np.float64)


def _about_median(key: str, runs: int, generator: np.random.Generator) -> FloatArray:
    """Lognormal draws about a median with a factor as spread, kept within the row's range."""
    row = behaviour_row(key)
    values = row.value * np.exp(np.log(row.spread) * generator.standard_normal(runs))
    return np.asarray(np.clip(values, row.low, row.high))


def _pause(situation: Situation, loss: FloatArray, generator: np.random.Generator) -> FloatArray:
    """Pause of the table of evidence, or the one in which the losses take the energy that the bench file states."""
    stated = situation.conditions.bench.knowledge.get("restart_cooling")
    if stated is None:
        return drawn(default_distribution("pause"), loss.size, generator)
    energy = drawn(stated, loss.size, generator)
    pause = np.divide(energy, loss, out=np.zeros_like(loss), where=loss > 0.0)
    return np.clip(pause, 0.0, min(LONGEST_PAUSE, evidence("pause").high * 3.0))
