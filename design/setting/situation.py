"""One kit at many settings: mass, counts, fill, level, time and carry-over, before any error is thought of."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.kit import Kit
from design.physics.carry_over import cube_factor, mean_share
from design.physics.evidence import default
from design.physics.losses import lead_share
from design.setting.hardware import Conditions, Hardware

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
        Mass step at the highest power. [kg]
    repeats : ndarray, shape (g,)
        Runs at each power whose mean is reported.
    spare : ndarray, shape (g,), or one number for all
        Water beyond what covers the element to the last reading. [kg]
    """

    powers: FloatArray
    mass: FloatArray
    repeats: FloatArray
    spare: FloatArray = field(default_factory=lambda: np.zeros(()))

    def __post_init__(self) -> None:
        """Give every setting its own spare water."""
        object.__setattr__(self, "spare", np.broadcast_to(self.spare, self.mass.shape))

    def only(self, rows: NDArray[np.intp] | slice) -> Settings:
        """Some of the settings."""
        return Settings(self.powers[rows], self.mass[rows], self.repeats[rows], self.spare[rows])

    @property
    def power(self) -> FloatArray:
        """Highest power of each setting, shape (g,). [W]"""
        return self.powers[:, 0]

    @property
    def lowest_power(self) -> FloatArray:
        """Lowest power of each setting, shape (g,). [W]"""
        return self.powers[:, -1]


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
    mark_interval : float
        Least time between two marks of a run; 0 where only start and end are read. [s]
    cooling : float
        Time of a heater-off cooling run after the last reading. [s]
    """

    whole_counts: bool
    pause: float
    gap: float
    mark_interval: float = 0.0
    cooling: float = 0.0


@dataclass(frozen=True)
class Runs:
    """
    One run in each setting, at one power or at each; arrays of shape (g,) or (g, p).

    Parameters
    ----------
    mass : ndarray
        Indicated fall. [kg]
    counts, count_energy : ndarray
        Expected counts [1] and energy of one count [J]; both 0 where the meter counts nothing.
    marks : ndarray
        Equal steps between the readings of one run: 1 where only start and end are read.
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
    marks: FloatArray
    time: FloatArray
    lead: FloatArray
    steaming: FloatArray

    def at(self, column: int) -> Runs:
        """Runs at one of the powers, from runs at each."""
        return Runs(**{one.name: getattr(self, one.name)[:, column] for one in fields(self)})


@dataclass(frozen=True)
class Levels:
    """
    Water in each setting; arrays of shape (g,).

    Parameters
    ----------
    fill, mean, left : ndarray
        Water at the start, on average during the runs, and at the last reading. [kg]
    first_freeboard, last_freeboard : ndarray
        From water to rim as the boil begins and at the last reading. [m]
    warm_up : ndarray
        Time to reach the boil; infinite where the heater is too weak. [s]
    highest, lowest : ndarray, shape (g, p)
        From water to rim at the first and the last reading at each power. [m]
    """

    fill: FloatArray
    mean: FloatArray
    left: FloatArray
    first_freeboard: FloatArray
    last_freeboard: FloatArray
    warm_up: FloatArray
    highest: FloatArray
    lowest: FloatArray


@dataclass(frozen=True)
class Situation:
    """
    A kit at many settings; arrays have shape (g,) unless said otherwise.

    Parameters
    ----------
    conditions, kit, hardware, settings, pace, levels
        What it was made of.
    runs, all_runs : Runs
        One run at the highest power, shape (g,), and at each power, shape (g, p).
    carry_over : ndarray
        Expected share thrown out as droplets at the highest power. [1]
    carry_over_scale : ndarray
        Factor from the share at 1 kW and 50 mm to this setting. [1]
    carry_over_ratio : ndarray, shape (g, p)
        Share at each power over that at the highest. [1]
    carry_over_steepness : ndarray
        Expected share over that of the cube law at the highest power. [1]
    carry_over_cubes : ndarray, shape (g, p)
        Share by the cube law at each power over that at the highest. [1]
    """

    conditions: Conditions
    kit: Kit
    hardware: Hardware
    settings: Settings
    pace: Pace
    runs: Runs
    all_runs: Runs
    levels: Levels
    carry_over: FloatArray
    carry_over_scale: FloatArray
    carry_over_ratio: FloatArray
    carry_over_steepness: FloatArray
    carry_over_cubes: FloatArray

    @property
    def time_table(self) -> tuple[tuple[str, FloatArray], ...]:
        """Stages of the lesson and their times. [s]"""
        ones, repeats = np.ones_like(self.runs.time), self.settings.repeats
        powers = self.settings.powers.shape[1]
        cooling = (("cooling run", ones * self.pace.cooling),) if self.pace.cooling > 0.0 else ()
        return (
            ("set up and clear away", ones * self.conditions.bench.lesson.handling),
            ("heat the water", self.levels.warm_up),
            ("boil until steady", ones * powers * default("steady_time")),
            ("runs", repeats * self.all_runs.time.sum(axis=1)),
            ("pauses and notes", powers * (repeats * self.pace.pause + (repeats - 1.0) * self.pace.gap)),
            *cooling,
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
    highest, lowest = np.maximum(levels.highest, 1e-3), np.maximum(levels.lowest, 1e-3)
    shares = mean_share(at_reference, runs.steaming, highest, lowest)
    cubes = cube_factor(runs.steaming, highest, lowest)
    share = shares[:, 0]
    thrown = at_reference > 0.0
    return Situation(
        conditions=conditions,
        kit=kit,
        hardware=hardware,
        settings=settings,
        pace=pace,
        runs=runs.at(0),
        all_runs=runs,
        levels=levels,
        carry_over=share,
        carry_over_scale=share / at_reference if thrown else np.zeros_like(share),
        carry_over_ratio=shares / shares[:, :1] if thrown else np.ones_like(shares),
        carry_over_steepness=share / (at_reference * cubes[:, 0]) if thrown else np.ones_like(share),
        carry_over_cubes=cubes / cubes[:, :1],
    )


def _runs(conditions: Conditions, kit: Kit, hardware: Hardware, settings: Settings, pace: Pace) -> Runs:
    """One run at each power; lower powers boil for as long as the highest."""
    powers = settings.powers
    lead = lead_share(kit.heater, powers, conditions.bench.supply.voltage)
    steaming = np.maximum(powers * (1.0 - lead) - hardware.loss, 1e-9)
    vapour_share = (1.0 - hardware.stem) * conditions.buoyancy
    energy_per_mass = conditions.water.latent_heat * vapour_share * powers / steaming
    energy = (settings.mass * energy_per_mass[:, 0])[:, None] * (powers / powers[:, :1])
    count_energy = np.full_like(powers, kit.meter.energy_per_count)
    if kit.meter.kind == "volt-ampere" and kit.meter.energy_per_count == 0.0:
        count_energy = powers * CLOCK_TICK
    counted = count_energy > 0.0
    counts = np.divide(energy, count_energy, out=np.zeros_like(powers), where=counted)
    marks = np.ones_like(powers)
    if pace.whole_counts:
        counts, marks = _whole(counts, np.where(counted, energy / powers, 0.0), pace.mark_interval)
        energy = np.where(counted, counts * count_energy, energy)
    return Runs(energy / energy_per_mass, counts, count_energy, marks, energy / powers, lead, steaming)


def _whole(counts: FloatArray, time: FloatArray, mark_interval: float) -> tuple[FloatArray, FloatArray]:
    """Counts rounded to equal whole numbers between marks, and the number of those; all 0 or 1 where none is."""
    if mark_interval == 0.0:
        return np.where(counts > 0.0, np.maximum(np.round(counts), 1.0), 0.0), np.ones_like(counts)
    rate = np.divide(counts, time, out=np.zeros_like(counts), where=time > 0.0)
    step = np.maximum(np.ceil(mark_interval * rate - 1e-9), 1.0)
    marks = np.maximum(np.round(counts / step), 1.0)
    return np.where(counts > 0.0, marks * step, 0.0), marks


def _levels(conditions: Conditions, kit: Kit, hardware: Hardware, settings: Settings, pace: Pace, runs: Runs) -> Levels:
    """
    Fill so that at the last reading the water stands ``depth_margin`` above the element's mark, and spare water more.

    Without any to spare that is the least water, hence the shortest warm-up and the highest rim. The lowest power comes
    first, the highest last, where there is most height to the rim. The element pushes the water up, so that less is
    needed than the height alone would tell. Nothing is filled up in between. What is thrown out while the boil settles
    is not weighed, so the first reading at a power comes after that.
    """
    water = conditions.water
    column = hardware.area * water.liquid_density
    left = (kit.heater.minimum_depth + default("depth_margin")) * column - hardware.displaced + settings.spare
    raised = left + hardware.displaced
    repeats = settings.repeats[:, None]
    idle = default("steady_time") + (repeats - 1.0) * pace.gap
    each = repeats * runs.mass * (1.0 - hardware.stem) + runs.steaming * idle / water.latent_heat
    settled = runs.steaming * default("steady_time") / water.latent_heat
    after = raised[:, None] + np.cumsum(each, axis=1) - each
    boiled = each.sum(axis=1)
    evaporation = default("warm_up_evaporation") * hardware.area
    warming = settings.power * (1.0 - runs.lead[:, 0]) - WARM_UP_LOSS_SHARE * hardware.loss - evaporation
    rise = water.boiling_point - conditions.room_temperature
    heat = ((left + boiled) * water.specific_heat + hardware.heat_capacity) * rise
    warm_up = np.divide(heat, warming, out=np.full_like(heat, np.inf), where=warming > 0.0)
    evaporated = np.where(np.isfinite(warm_up), evaporation * warm_up / water.latent_heat, 0.0)
    return Levels(
        fill=left + boiled + evaporated,
        mean=left + 0.5 * boiled,
        left=left,
        first_freeboard=kit.vessel.height - (raised + boiled) / column,
        last_freeboard=kit.vessel.height - raised / column,
        warm_up=warm_up,
        highest=kit.vessel.height - (after + each - settled) / column,
        lowest=kit.vessel.height - after / column,
    )
