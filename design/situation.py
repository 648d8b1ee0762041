"""One kit at many settings: mass, counts, fill, level, time and carry-over, before any error is thought of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from design.carry_over import mean_share
from design.evidence import default
from design.hardware import Conditions, Hardware
from design.kit import Kit
from design.losses import lead_share

FloatArray = NDArray[np.float64]

WARM_UP_LOSS_SHARE = 1.0 / 2.25
"""Mean of the loss over the warm-up, as a share of that at the boil: it grows as (T - T_room)^1.25."""
CLOCK_TICK = 1.0
"""Count of a volt-ampere meter, which is read by the clock. [s]"""


@dataclass(frozen=True)
class Settings:
    """
    What is dialled in, one row a setting.

    Parameters
    ----------
    powers : ndarray, shape (g, p)
        Nominal powers, the highest first. [W]
    mass : ndarray, shape (g,)
        Mass step. [kg]
    repeats : ndarray, shape (g,)
        Runs whose mean is reported.
    """

    powers: FloatArray
    mass: FloatArray
    repeats: FloatArray

    @property
    def power(self) -> FloatArray:
        """Highest power of each setting, shape (g,). [W]"""
        return self.powers[:, 0]


@dataclass(frozen=True)
class Pace:
    """
    How a procedure goes on.

    Parameters
    ----------
    whole_counts : bool
        Runs end on a mark of the meter, so that the mass step is rounded to whole counts.
    pause : float
        Time in each run during which the heater is off. [s]
    gap : float
        Time between two runs during which the heater stays on. [s]
    """

    whole_counts: bool
    pause: float
    gap: float


@dataclass(frozen=True)
class Runs:
    """
    One run in each setting; arrays of shape (g,).

    Parameters
    ----------
    mass : ndarray
        Indicated fall. [kg]
    counts, count_energy : ndarray
        Expected counts [1] and energy of one count [J]; both 0 where the meter counts nothing.
    time : ndarray
        Time with the heater on. [s]
    lead : ndarray
        Share of the power lost in the flex. [1]
    steaming : ndarray
        Power that makes steam. [W]
    """

    mass: FloatArray
    counts: FloatArray
    count_energy: FloatArray
    time: FloatArray
    lead: FloatArray
    steaming: FloatArray


@dataclass(frozen=True)
class Levels:
    """
    Water in each setting; arrays of shape (g,).

    Parameters
    ----------
    fill, mean : ndarray
        Water at the start, and on average during the runs. [kg]
    first_freeboard, last_freeboard : ndarray
        From water to rim at the first and the last reading. [m]
    warm_up : ndarray
        Time to reach the boil; infinite where the heater is too weak. [s]
    """

    fill: FloatArray
    mean: FloatArray
    first_freeboard: FloatArray
    last_freeboard: FloatArray
    warm_up: FloatArray


@dataclass(frozen=True)
class Situation:
    """
    A kit at many settings; every array has shape (g,).

    Parameters
    ----------
    conditions, kit, hardware, settings, pace, runs, levels
        What it was made of.
    carry_over : ndarray
        Expected share thrown out as droplets. [1]
    carry_over_scale : ndarray
        Factor from the share at 1 kW and 50 mm to this setting. [1]
    """

    conditions: Conditions
    kit: Kit
    hardware: Hardware
    settings: Settings
    pace: Pace
    runs: Runs
    levels: Levels
    carry_over: FloatArray
    carry_over_scale: FloatArray

    @property
    def time_table(self) -> tuple[tuple[str, FloatArray], ...]:
        """Stages of the lesson and their times. [s]"""
        ones, repeats = np.ones_like(self.runs.time), self.settings.repeats
        return (
            ("set up and clear away", ones * self.conditions.bench.lesson.handling),
            ("heat the water", self.levels.warm_up),
            ("boil until steady", ones * default("steady_time")),
            ("runs", repeats * self.runs.time),
            ("pauses and notes", repeats * self.pace.pause + (repeats - 1.0) * self.pace.gap),
        )

    @property
    def total_time(self) -> FloatArray:
        """Length of lesson that each setting takes. [s]"""
        return np.asarray(np.sum([times for _, times in self.time_table], axis=0))


def situation_of(conditions: Conditions, kit: Kit, hardware: Hardware, settings: Settings, pace: Pace) -> Situation:
    """Work out what each setting asks of the kit."""
    runs = _runs(conditions, kit, hardware, settings, pace)
    levels = _levels(conditions, kit, hardware, settings, pace, runs)
    at_reference = hardware.knowledge["carry_over"].mean
    highest, lowest = np.maximum(levels.first_freeboard, 1e-3), np.maximum(levels.last_freeboard, 1e-3)
    share = mean_share(at_reference, settings.power, highest, lowest)
    scale = share / at_reference if at_reference > 0.0 else np.zeros_like(share)
    return Situation(conditions, kit, hardware, settings, pace, runs, levels, share, scale)


def _runs(conditions: Conditions, kit: Kit, hardware: Hardware, settings: Settings, pace: Pace) -> Runs:
    power = settings.power
    lead = lead_share(kit.heater, power, conditions.bench.supply.voltage)
    steaming = np.maximum(power * (1.0 - lead) - hardware.loss, 1e-9)
    vapour_share = (1.0 - hardware.stem) * conditions.buoyancy
    energy_per_mass = conditions.water.latent_heat * vapour_share * power / steaming
    count_energy = np.full_like(power, kit.meter.energy_per_count)
    if kit.meter.kind == "volt-ampere" and kit.meter.energy_per_count == 0.0:
        count_energy = power * CLOCK_TICK
    counted = count_energy > 0.0
    counts = np.divide(settings.mass * energy_per_mass, count_energy, out=np.zeros_like(power), where=counted)
    mass = settings.mass
    if pace.whole_counts:
        counts = np.where(counted, np.maximum(np.round(counts), 1.0), 0.0)
        mass = np.where(counted, counts * count_energy / energy_per_mass, mass)
    return Runs(mass, counts, count_energy, mass * energy_per_mass / power, lead, steaming)


def _levels(conditions: Conditions, kit: Kit, hardware: Hardware, settings: Settings, pace: Pace, runs: Runs) -> Levels:
    """
    Fill so that at the last reading the water stands ``depth_margin`` above the element's mark.

    That is the least water, hence the shortest warm-up and the highest rim.
    """
    water = conditions.water
    column = hardware.area * water.liquid_density
    least = (kit.heater.minimum_depth + default("depth_margin")) * column
    idle = default("steady_time") + (settings.repeats - 1.0) * pace.gap
    boiled = settings.repeats * runs.mass * (1.0 - hardware.stem) + runs.steaming * idle / water.latent_heat
    evaporation = default("warm_up_evaporation") * hardware.area
    warming = settings.power * (1.0 - runs.lead) - WARM_UP_LOSS_SHARE * hardware.loss - evaporation
    rise = water.boiling_point - conditions.room_temperature
    heat = ((least + boiled) * water.specific_heat + hardware.heat_capacity) * rise
    warm_up = np.divide(heat, warming, out=np.full_like(heat, np.inf), where=warming > 0.0)
    evaporated = np.where(np.isfinite(warm_up), evaporation * warm_up / water.latent_heat, 0.0)
    return Levels(
        fill=least + boiled + evaporated,
        mean=least + 0.5 * boiled,
        first_freeboard=kit.vessel.height - (least + boiled) / column,
        last_freeboard=np.full_like(boiled, kit.vessel.height - least / column),
        warm_up=warm_up,
    )
