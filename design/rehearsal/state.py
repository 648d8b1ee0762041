"""One design on the virtual bench as numbers; its state at one instant, and the books of energy and mass."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from budget.arrays import FloatArray
from design.kit import Kit
from design.materials import MATERIALS
from design.physics.evidence import default
from design.physics.losses import lead_share
from design.physics.water import STANDARD_GRAVITY, BoilingWater, boiling_water, vapour_pressure_at
from design.rehearsal.behaviour import Truth, act
from design.setting.situation import Situation

TAKEN_FROM_INSIDE = 2.0 / math.pi**2
"""Heat that the slowest mode of a slab takes up through its inner face until it conducts steadily, over that of a slab
warm throughout, as its other face stays at the room's temperature. [1] (Carslaw and Jaeger, from memory)"""
SATURATION_POINTS = 80
"""Points of the table of vapour pressure between the room's temperature and the boil."""


@dataclass(frozen=True)
class Apparatus:
    """
    One setting of a kit with what is true of each of n runs, as numbers in SI units.

    Beside what it is made of: change of the latent heat with temperature; resistance of the flex, as calculated; water
    at the start, and level at which a run is given up; heat capacities; conductances from water to wall and from
    element to water; heat that the lagging takes up, and the time that it takes to; and vapour pressure over
    temperature at saturation.
    """

    situation: Situation
    truth: Truth
    latent_slope: float
    lead_resistance: float
    fill: float
    lowest_level: float
    wall_heat_capacity: float
    element_heat_capacity: float
    wall_conductance: float
    element_conductance: float
    element_volume: float
    lagging_capacity: float
    lagging_time: float
    temperatures: FloatArray
    pressures: FloatArray

    @property
    def runs(self) -> int:
        """Number of runs."""
        return self.truth["wall_loss"].size

    @property
    def kit(self) -> Kit:
        """Balance, meter, heater, vessel and, where there is one, mass set."""
        return self.situation.kit

    @property
    def water(self) -> BoilingWater:
        """Water at the boil."""
        return self.situation.conditions.water

    @property
    def room(self) -> float:
        """Temperature of the room. [K]"""
        return self.situation.conditions.room_temperature

    @property
    def area(self) -> float:
        """Area of the water surface, with all that cuts it. [m²]"""
        return self.situation.hardware.area

    @cached_property
    def surface(self) -> FloatArray:
        """Area of the water surface between the stems, shape (n,). [m²]"""
        heater = self.kit.heater
        return self.area - self.truth["stem_factor"] * float(heater.stems * np.pi * heater.stem_diameter**2 / 4.0)

    @cached_property
    def powers(self) -> FloatArray:
        """Metered powers that are dialled in, the highest first. [W]"""
        return np.asarray(self.situation.settings.powers[0])

    @property
    def count_energy(self) -> float:
        """Energy of a count; the clock's tick at the dialled power where nothing else is counted. [J]"""
        return self.kit.meter.energy_per_count or float(self.powers[0])


def apparatus_of(situation: Situation, truth: Truth) -> Apparatus:
    """Work out the numbers of a situation of one setting."""
    conditions, kit = situation.conditions, situation.kit
    water, voltage, vessel = conditions.water, conditions.bench.supply.voltage, kit.vessel
    highest = float(situation.settings.powers[0, 0])
    share = float(lead_share(kit.heater, np.array([highest]), voltage)[0])
    colder = boiling_water(0.97 * water.pressure)
    rated, lagging = kit.heater.power / 1000.0, vessel.jacket
    volume = math.pi * (vessel.diameter + lagging.thickness) * vessel.height * lagging.thickness
    temperatures, pressures = saturation(conditions.room_temperature, water)
    return Apparatus(
        situation=situation,
        truth=truth,
        latent_slope=(water.latent_heat - colder.latent_heat) / (water.boiling_point - colder.boiling_point),
        lead_resistance=share * voltage**2 / highest,
        fill=float(situation.levels.fill[0]),
        lowest_level=kit.heater.minimum_depth,
        wall_heat_capacity=vessel.mass * MATERIALS[vessel.material].specific_heat,
        element_heat_capacity=default("element_heat_capacity") * rated,
        wall_conductance=act("inner_coefficient", math.pi * vessel.diameter * vessel.height),
        element_conductance=act("element_superheat", kit.heater.power),
        element_volume=default("element_volume") * rated,
        lagging_capacity=lagging.heat_capacity * volume * TAKEN_FROM_INSIDE,
        lagging_time=lagging.time,
        temperatures=temperatures,
        pressures=pressures,
    )


def saturation(room: float, water: BoilingWater) -> tuple[FloatArray, FloatArray]:
    """Vapour pressure [Pa] over temperature [K] from the room's to a little above the boil, from CoolProp."""
    temperatures = np.linspace(room - 1.0, water.boiling_point + 3.0, SATURATION_POINTS)
    pressures = [vapour_pressure_at(float(temperature)) for temperature in temperatures]
    return temperatures, np.asarray(pressures, dtype=np.float64)


@dataclass(frozen=True)
class State:
    """
    State of every run, and its books since the start; arrays of shape (n,).

    Water in the vessel [kg] and the heat in it above that at the room's temperature [J]; temperatures of vessel wall,
    heating element, lagging and hardware in the steam [K]; water on the hardware [kg] and the heat in it [J]; how far
    steam keeps air out of the freeboard, from 0 to 1; vapour that leaves the water and vapour on its way through it
    [kg/s]; water that went over the rim and lies on the pan [kg]. Books: water that has left as vapour, as droplets,
    over the rim and in drops beside the pan [kg]; energy through the meter, turned into heat by the flex, carried off
    as latent heat and as heat of the water that left, lost through wall, surface and base, and given off by hardware
    that steam condensed on [J].
    """

    water: FloatArray
    heat: FloatArray
    wall: FloatArray
    element: FloatArray
    lagging: FloatArray
    hardware: FloatArray
    condensate: FloatArray
    condensate_heat: FloatArray
    cover: FloatArray
    steam: FloatArray
    rising: FloatArray
    on_pan: FloatArray
    vapour: FloatArray
    droplets: FloatArray
    over_rim: FloatArray
    dripped: FloatArray
    electrical: FloatArray
    lead: FloatArray
    latent: FloatArray
    carried: FloatArray
    lost: FloatArray
    returned: FloatArray


def start_state(apparatus: Apparatus) -> State:
    """Everything at the room's temperature, the water filled in, the books empty."""
    room, zero = np.full(apparatus.runs, apparatus.room), np.zeros(apparatus.runs)
    return State(np.full(apparatus.runs, apparatus.fill), zero, *[room] * 4, *[zero] * 16)


def temperature_of(apparatus: Apparatus, state: State) -> FloatArray:
    """Temperature of the water. [K]"""
    return apparatus.room + state.heat / (state.water * apparatus.water.specific_heat)


def level_of(apparatus: Apparatus, state: State) -> FloatArray:
    """Height of the water surface above the floor, pushed up by element and stems. [m]"""
    return (state.water / apparatus.water.liquid_density + apparatus.element_volume) / apparatus.surface


def rise_of(apparatus: Apparatus, state: State) -> FloatArray:
    """How far bubbles lift the surface above that level, by drift flux. [m]"""
    water, truth = apparatus.water, apparatus.truth
    flux = state.rising / (water.vapour_density * apparatus.area)
    gathered = act("bubbles_gather") * flux
    heated = np.maximum(level_of(apparatus, state) - default("heated_from"), 0.0)
    return np.asarray(heated * flux / (truth["drift"] + gathered))


def load(apparatus: Apparatus, state: State) -> FloatArray:
    """
    Load that the balance feels, without the empty vessel. [kg, weighed in air]

    Notes
    -----
    With a heater held from outside the floor of the vessel carries the column of water up to the level, whatever
    fills it: density times surface times height (Stevin's law). Bubbles round the element take the place of water and
    lower the level's weight; a heater that hangs on the vessel brings its own weight and takes nothing away. The
    rising steam's thrust presses on the vessel.
    """
    water, buoyancy = apparatus.water, apparatus.situation.conditions.buoyancy
    recoil = state.steam**2 / (water.vapour_density * apparatus.area * STANDARD_GRAVITY)
    if apparatus.kit.heater.held_by == "vessel":
        return (state.water + state.condensate + state.on_pan + recoil) / buoyancy
    column = water.liquid_density * apparatus.area * level_of(apparatus, state)
    steam_power = state.steam * water.latent_heat / 1000.0
    shallower = 1.0 - state.water / apparatus.fill
    void = apparatus.truth["void_share"] * np.maximum(1.0 + apparatus.truth["void_slope"] * shallower, 0.0)
    bubbles = water.liquid_density * apparatus.element_volume * void * steam_power
    return (column - bubbles + state.on_pan + recoil) / buoyancy


def sensible_heat(apparatus: Apparatus, state: State) -> FloatArray:
    """Heat above the room's in water, wall, element and hardware, and in the water that left. [J]"""
    room = apparatus.room
    stored = (
        state.water * apparatus.water.specific_heat * (temperature_of(apparatus, state) - room)
        + apparatus.wall_heat_capacity * (state.wall - room)
        + apparatus.truth["storage"] * apparatus.lagging_capacity * (state.lagging - room)
        + apparatus.element_heat_capacity * (state.element - room)
        + act("hardware_heat_capacity") * (state.hardware - room)
        + state.condensate_heat
    )
    return np.asarray(stored + state.carried)


def energy_gap(apparatus: Apparatus, state: State) -> FloatArray:
    """What is missing in the books of energy, relative to what came in. [1]"""
    out = state.lead + state.latent + sensible_heat(apparatus, state) + state.lost + state.returned
    return (state.electrical - out) / np.maximum(state.electrical, 1.0)


def mass_gap(apparatus: Apparatus, state: State) -> FloatArray:
    """What is missing in the books of mass, relative to the fill. [1]"""
    gone = state.vapour + state.droplets + state.over_rim + state.dripped
    return (state.water + gone + state.condensate - apparatus.fill) / apparatus.fill
