"""State of the bench at one instant, and the ledgers of energy and mass since its start."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from budget.arrays import FloatArray
from design.kit import Kit
from design.materials import MATERIALS
from design.physics.evidence import default
from design.physics.losses import lead_share
from design.physics.water import BoilingWater, boiling_water
from design.rehearsal.truth import behaviour
from design.setting.situation import Situation

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


@dataclass(frozen=True)
class State:
    """
    State of every run; arrays of shape (n,).

    Parameters
    ----------
    water : ndarray
        Water in the vessel. [kg]
    heat : ndarray
        Heat in it above that at the room's temperature. [J]
    wall, element, hardware : ndarray
        Temperatures of vessel wall, heating element and hardware in the steam. [K]
    condensate, condensate_heat : ndarray
        Water on the hardware [kg] and the heat in it above that at the room's temperature [J].
    cover : ndarray
        How far steam keeps air out of the freeboard, from 0 to 1. [1]
    steam : ndarray
        Vapour that leaves the water. [kg/s]
    vapour, droplets : ndarray
        Water that has left as vapour and as droplets. [kg]
    """

    water: FloatArray
    heat: FloatArray
    wall: FloatArray
    element: FloatArray
    hardware: FloatArray
    condensate: FloatArray
    condensate_heat: FloatArray
    cover: FloatArray
    steam: FloatArray
    vapour: FloatArray
    droplets: FloatArray

    def temperature(self, setup: Setup) -> FloatArray:
        """Temperature of the water. [K]"""
        return setup.room_temperature + self.heat / (self.water * setup.water.specific_heat)

    def level(self, setup: Setup, stem_area: FloatArray) -> FloatArray:
        """Height of the water surface above the floor, pushed up by element and stems. [m]"""
        volume = self.water / setup.water.liquid_density + setup.element_volume
        return np.asarray(volume / (setup.area - stem_area))


@dataclass(frozen=True)
class Ledger:
    """
    Energy since the start; arrays of shape (n,). [J]

    Parameters
    ----------
    electrical : ndarray
        Through the meter.
    lead : ndarray
        Turned into heat by the flex.
    latent : ndarray
        Carried off as latent heat.
    carried : ndarray
        Carried off as heat of the water that left, above the room's temperature.
    lost : ndarray
        Through wall, surface and base.
    returned : ndarray
        Given off by hardware on which steam condensed.
    """

    electrical: FloatArray
    lead: FloatArray
    latent: FloatArray
    carried: FloatArray
    lost: FloatArray
    returned: FloatArray

    def stored(self, state: State, setup: Setup) -> FloatArray:
        """Sensible heat in water, wall, element and hardware now. [J]"""
        room = setup.room_temperature
        return np.asarray(
            state.water * setup.water.specific_heat * (state.temperature(setup) - room)
            + setup.wall_heat_capacity * (state.wall - room)
            + setup.element_heat_capacity * (state.element - room)
            + setup.hardware_heat_capacity * (state.hardware - room)
            + state.condensate_heat
        )

    def sensible(self, state: State, setup: Setup) -> FloatArray:
        """Sensible heat in the bench and in the water that left it. [J]"""
        return self.stored(state, setup) + self.carried

    def energy_error(self, state: State, setup: Setup) -> FloatArray:
        """What is missing in the books of energy, relative to what came in. [1]"""
        out = self.lead + self.latent + self.sensible(state, setup) + self.lost + self.returned
        return np.asarray((self.electrical - out) / np.maximum(self.electrical, 1.0))


def mass_error(state: State, setup: Setup) -> FloatArray:
    """What is missing in the books of mass, relative to the fill. [1]"""
    total = state.water + state.vapour + state.droplets + state.condensate
    return np.asarray((total - setup.fill) / setup.fill)


def start_state(setup: Setup, runs: int) -> State:
    """Everything at the room's temperature, the water filled in."""
    room, zero = np.full(runs, setup.room_temperature), np.zeros(runs)
    return State(
        water=np.full(runs, setup.fill),
        heat=zero,
        wall=room,
        element=room,
        hardware=room,
        condensate=zero,
        condensate_heat=zero,
        cover=zero,
        steam=zero,
        vapour=zero,
        droplets=zero,
    )


def start_ledger(runs: int) -> Ledger:
    """Books at the start."""
    zero = np.zeros(runs)
    return Ledger(zero, zero, zero, zero, zero, zero)
