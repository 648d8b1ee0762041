"""What does not change from run to run: water, vessel and instruments of one design, as plain numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from design.kit import Kit
from design.physics.evidence import default
from design.physics.losses import MATERIALS, lead_share
from design.physics.water import BoilingWater, boiling_water
from design.situation import Situation
from design.virtual_run.behaviour import behaviour

FloatArray = NDArray[np.float64]

SATURATION_POINTS = 80
"""Points of the table of vapour pressure between the room's temperature and the boil."""


@dataclass(frozen=True)
class Setup:
    """
    One design as numbers.

    Parameters
    ----------
    kit : Kit
        Balance, meter, heater, vessel and, where there is one, mass set.
    water : BoilingWater
        Water at the boil.
    latent_slope : float
        Change of the latent heat with temperature. [J/(kg K)]
    room_temperature : float
        [K]
    buoyancy : float
        Mass that left over the fall that a balance shows in air. [1]
    voltage, voltage_tolerance : float
        Of the supply. [V, 1]
    powers : tuple of float
        Metered powers that are dialled in, the highest first. [W]
    lead_resistance : float
        Resistance of the flex, as calculated. [ohm]
    area, rim : float
        Of the water surface [m²]; height of the rim above the floor [m].
    fill : float
        Water at the start. [kg]
    wall_heat_capacity, element_heat_capacity, hardware_heat_capacity : float
        [J/K]
    wall_conductance, element_conductance : float
        From water to wall, from element to water. [W/K]
    element_volume : float
        [m³]
    temperatures, pressures : ndarray, shape (k,)
        Saturation: temperature [K] and vapour pressure [Pa].
    """

    kit: Kit
    water: BoilingWater
    latent_slope: float
    room_temperature: float
    buoyancy: float
    voltage: float
    voltage_tolerance: float
    powers: tuple[float, ...]
    lead_resistance: float
    area: float
    rim: float
    fill: float
    wall_heat_capacity: float
    element_heat_capacity: float
    hardware_heat_capacity: float
    wall_conductance: float
    element_conductance: float
    element_volume: float
    temperatures: FloatArray
    pressures: FloatArray

    @property
    def stem_area(self) -> float:
        """Of everything that the surface cuts. [m²]"""
        return float(self.kit.heater.stems * np.pi * self.kit.heater.stem_diameter**2 / 4.0)


def setup_of(situation: Situation) -> Setup:
    """Work out the numbers of a situation of one setting."""
    conditions, kit, hardware = situation.conditions, situation.kit, situation.hardware
    water, supply = conditions.water, conditions.bench.supply
    powers = tuple(float(power) for power in situation.settings.powers[0])
    share = float(lead_share(kit.heater, np.array([powers[0]]), supply.voltage)[0])
    colder = boiling_water(0.97 * water.pressure)
    slope = (water.latent_heat - colder.latent_heat) / (water.boiling_point - colder.boiling_point)
    rated = kit.heater.power / 1000.0
    vessel = kit.vessel
    temperatures, pressures = saturation(conditions.room_temperature, water)
    return Setup(
        kit=kit,
        water=water,
        latent_slope=slope,
        room_temperature=conditions.room_temperature,
        buoyancy=conditions.buoyancy,
        voltage=supply.voltage,
        voltage_tolerance=supply.tolerance,
        powers=powers,
        lead_resistance=share * supply.voltage**2 / powers[0],
        area=hardware.area,
        rim=vessel.height,
        fill=float(situation.levels.fill[0]),
        wall_heat_capacity=vessel.mass * MATERIALS[vessel.material].specific_heat,
        element_heat_capacity=default("element_heat_capacity") * rated,
        hardware_heat_capacity=behaviour("hardware_heat_capacity"),
        wall_conductance=behaviour("inner_coefficient") * math.pi * vessel.diameter * vessel.height,
        element_conductance=kit.heater.power / behaviour("element_superheat"),
        element_volume=behaviour("element_volume") * rated,
        temperatures=temperatures,
        pressures=pressures,
    )


def saturation(room: float, water: BoilingWater) -> tuple[FloatArray, FloatArray]:
    """Vapour pressure [Pa] over temperature [K] from the room's to a little above the boil, from CoolProp."""
    from CoolProp.CoolProp import PropsSI

    temperatures = np.linspace(room - 1.0, water.boiling_point + 3.0, SATURATION_POINTS)
    pressures = [PropsSI("P", "T", float(temperature), "Q", 0, "Water") for temperature in temperatures]
    return temperatures, np.asarray(pressures, dtype=np.float64)
