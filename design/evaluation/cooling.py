"""A cooling run on the sheet: heater off, time, temperature and mass, for a heat loss found from the data."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from design.errors import DesignError
from design.evaluation.in_use import InUse
from design.physics.evidence import default
from design.physics.water import ICE_POINT
from design.procedures.cooling_run import CoolingRun, cooling_loss
from design.sheets.readings import Reading
from design.situation import Situation


def parted(readings: Sequence[Reading]) -> tuple[tuple[Reading, ...], tuple[Reading, ...]]:
    """
    Part the readings of a group into those of runs and those of a cooling run.

    A run belongs to the cooling run where the heater is off at every mark and each has a temperature.

    Returns
    -------
    tuple of (runs, cooling)
    """
    by_name: dict[str, list[Reading]] = {}
    for reading in readings:
        by_name.setdefault(reading.run, []).append(reading)
    cold = {name for name, rows in by_name.items() if len(rows) > 1 and all(_is_cooling(row) for row in rows)}
    runs = tuple(reading for reading in readings if reading.run not in cold)
    return runs, tuple(reading for reading in readings if reading.run in cold)


def _is_cooling(reading: Reading) -> bool:
    return reading.heater is False and {"temperature", "time", "mass"} <= set(reading.numbers)


def loss_from(readings: Sequence[Reading], used: InUse, situation: Situation) -> float:
    """
    Heat loss at the boiling point by the cooling balance.

    Parameters
    ----------
    readings : sequence of Reading
        Of the cooling run, in order.
    used : InUse
        The bench in use.
    situation : Situation
        Of the runs before; its last level tells how much water is left.

    Returns
    -------
    float
        Loss, without the dry wall of the freeboard and the returning steam. [W]

    Raises
    ------
    DesignError
        If the readings are too few or not those of cooling water.
    """
    time, temperature, mass = (
        np.array([row.numbers[name].value for row in readings]) for name in ("time", "temperature", "mass")
    )
    if np.any(np.diff(time) <= 0.0):
        raise DesignError(f"row {readings[0].row}: the times of the cooling run must rise from mark to mark")
    vapour = (1.0 - used.hardware.stem) * used.conditions.buoyancy
    run = CoolingRun(
        time=time,
        temperature=temperature + ICE_POINT,
        fall=np.abs(mass - mass[0]) * vapour,
        water=_water(float(mass[0]), used, situation),
        vessel_heat_capacity=used.hardware.heat_capacity,
    )
    water = used.conditions.water
    return cooling_loss(run, water.specific_heat, water.boiling_point, used.conditions.room_temperature)


def _water(shown: float, used: InUse, situation: Situation) -> float:
    """
    Water left in the vessel, as the balance shows it, tared or not.

    A heater held from outside pushes the balance down by the water that it displaces, which is taken off. Beside a
    mass set the balance shows no mass: there, and where it shows none that the vessel could hold, that of the bench's
    level.
    """
    kit, expected = used.kit, float(situation.levels.left[0])
    if used.procedure.needs_mass_set:
        return expected
    hung = default("vessel_heater_mass") if kit.heater.held_by == "vessel" else 0.0
    capacity = kit.vessel.capacity * used.conditions.water.liquid_density
    pushed_down = used.hardware.displaced if kit.heater.held_by == "stand" else 0.0
    seen = (shown - pushed_down, shown - pushed_down - kit.vessel.mass - hung)
    possible = [water for water in seen if 0.0 < water <= capacity]
    return min(possible, key=lambda water: abs(water - expected), default=expected)
