"""Heat that does not make steam: wall, water surface, base, returning steam; and power lost in the flex."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from budget.arrays import FloatArray
from budget.model.equation import compile_program
from design.kit import Heater, Vessel
from design.materials import MATERIALS
from design.physics.evidence import default
from design.physics.water import ICE_POINT, STANDARD_GRAVITY, STEFAN_BOLTZMANN, BoilingWater, air

WATER_EMISSIVITY = 0.96
"""Total emissivity of water (tables in thermal-camera manuals)."""
JACKET_EMISSIVITY = 0.90
"""Emissivity of a jacket that is not metal foil (tables in thermal-camera manuals: paper, cork, cloth)."""
CONDUCTOR_LIMITS = (6.0, 10.0)
"""Largest current of copper conductors of 0.75 and 1.0 mm²; above, 1.5 mm². [A] (common practice)"""
CONDUCTOR_RESISTANCE = (0.0260, 0.0195, 0.0133)
"""Resistance of conductors of 0.75, 1.0 and 1.5 mm². [ohm/m] (IEC 60228 class 5 at 20 °C, from memory)"""
HARDWARE_OPENING = 0.1
"""Opening over which hardware stands as ``hardware_return`` says; a smaller one shows it less steam. [m] (judgement)"""


@dataclass(frozen=True)
class HeatLoss:
    """Heat given off at the boil, with steam up to the rim; ``side`` is the part of ``wall`` through its side. [W]"""

    wall: float
    base: float
    returned: float
    side: float


def convection_coefficient(face: float, room: float, diameter: float, height: float, pressure: float) -> float:
    """
    Free convection from the side of an upright cylinder, face and room in K, lengths in m, in still air. [W/(m² K)].

    References
    ----------
    .. [1] Churchill and Chu 1975, Int. J. Heat Mass Transfer 18, 1323 (vertical plate, all Rayleigh numbers).
    .. [2] Popiel, Wojtkowiak and Bober 2007, Exp. Therm. Fluid Sci. 32, 607 (factor for slender cylinders).
    """
    film = air(round((face + room) / 2.0, 1), pressure)
    grashof = STANDARD_GRAVITY * abs(face - room) * height**3 / (film.temperature * film.kinematic_viscosity**2)
    rayleigh = grashof * film.prandtl
    shape = (1.0 + (0.492 / film.prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nusselt = (0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / shape) ** 2
    size = 0.0571322 + 0.20305 * film.prandtl**-0.43
    power = 0.9165 - 0.0043 * film.prandtl**0.5 + 0.01333 * math.log(film.prandtl) + 0.0004809 / film.prandtl
    slender = 1.0 + size * (math.sqrt(32.0) * grashof**-0.25 * height / diameter) ** power
    return float(nusselt * slender * film.conductivity / height)


def radiation_coefficient(face: float, room: float, emissivity: float) -> float:
    """Radiation from a grey face to a large room at two temperatures [K], as a coefficient. [W/(m² K)]"""
    return emissivity * STEFAN_BOLTZMANN * (face**2 + room**2) * (face + room)


def side_loss(vessel: Vessel, water: BoilingWater, room: float) -> float:
    """
    Heat through the whole side wall, which steam keeps at the boiling point up to the rim, to a room in K. [W].

    Wall, jacket and air film in series; the temperature of the outer face is found by fixed-point iteration.
    """
    wall, jacket = MATERIALS[vessel.material], vessel.jacket
    glass = vessel.diameter + 2.0 * wall.thickness
    outer = glass + 2.0 * jacket.thickness
    area = math.pi * outer * vessel.height
    resistance = math.log(glass / vessel.diameter) / (2.0 * math.pi * wall.conductivity * vessel.height)
    resistance += math.log(outer / glass) / (2.0 * math.pi * jacket.conductivity * vessel.height)
    bare = JACKET_EMISSIVITY if jacket.thickness > 0.0 else wall.emissivity
    emissivity = bare if jacket.emissivity is None else jacket.emissivity
    difference = water.boiling_point - room
    face = water.boiling_point
    for _ in range(60):
        film = convection_coefficient(face, room, outer, vessel.height, water.pressure)
        film += radiation_coefficient(face, room, emissivity)
        loss = difference / (resistance + 1.0 / (film * area))
        settled = room + loss / (film * area)
        if abs(settled - face) < 0.01:
            return loss
        face = 0.5 * (face + settled)
    return loss


def surface_radiation(vessel: Vessel, water: BoilingWater, room: float) -> float:
    """Heat radiated by the open water surface; none under a lid. [W]"""
    if vessel.lid != "none":
        return 0.0
    return WATER_EMISSIVITY * STEFAN_BOLTZMANN * inside_area(vessel) * (water.boiling_point**4 - room**4)


def base_loss(vessel: Vessel, water: BoilingWater, room: float) -> float:
    """Heat through the base and the board under it. [W]"""
    resistance = default("base_board_thickness") / default("base_board_conductivity")
    resistance += 1.0 / default("base_surface_coefficient")
    area = math.pi * (vessel.diameter / 2.0 + MATERIALS[vessel.material].thickness) ** 2
    return area * (water.boiling_point - room) / resistance


def return_loss(vessel: Vessel, heater: Heater, water: BoilingWater, room: float) -> float:
    """
    Heat given off by steam that condenses on cold hardware and runs back, with stem conduction and lid. [W].

    In watts it is one more loss: the condensate comes back and has to be boiled again.
    """
    stems = heater.stems * default("stem_conduction") * (heater.stem_diameter / 0.008) ** 1.5
    warmth = (water.boiling_point - room) / (100.0 - 20.0)
    opening = min(vessel.diameter / HARDWARE_OPENING, 1.0) ** 2
    loss = (stems + opening * default("hardware_return")) * warmth
    if vessel.lid != "none":
        loss += default("lid_coefficient") * inside_area(vessel) * (water.boiling_point - room)
    if vessel.guard == "deflector":
        loss += default("deflector_return") * warmth
    return float(loss)


def heat_loss(vessel: Vessel, heater: Heater, water: BoilingWater, room: float) -> HeatLoss:
    """Calculated heat loss at the boil of a vessel with a heater in it, to a room in K."""
    side = side_loss(vessel, water, room)
    return HeatLoss(
        side=side,
        wall=side + surface_radiation(vessel, water, room),
        base=base_loss(vessel, water, room),
        returned=return_loss(vessel, heater, water, room),
    )


def inside_area(vessel: Vessel) -> float:
    """Area of the water surface of an upright vessel. [m²]"""
    return math.pi * vessel.diameter**2 / 4.0


def stem_share(heater: Heater, vessel: Vessel) -> float:
    """
    Share a/A of the water surface that bodies held from outside cut; none when the heater hangs on the vessel.

    Notes
    -----
    The balance carries the reaction to the buoyancy of a body held from outside, so it sees the level only: the
    indicated fall is A/(A - a) times the mass that left (Archimedes' principle; Newton's third law).
    """
    if heater.held_by == "vessel":
        return 0.0
    return heater.stems * (heater.stem_diameter / vessel.diameter) ** 2


def fading(exponent: str) -> str:
    """Exponential as text, nothing where it has faded to a millionth: what cannot matter is not to be weighed."""
    return f"max(exp(-({exponent})) - 1e-6, 0)"


def lead_text(current: str) -> str:
    """Share of the metered power lost in the flex, as text of ``flex``, ``voltage`` and a current: R I/V. [1]"""
    resistance = f"{CONDUCTOR_RESISTANCE[0]!r}"
    for limit, (thinner, thicker) in zip(CONDUCTOR_LIMITS, pairwise(CONDUCTOR_RESISTANCE), strict=True):
        resistance += f" + ({thicker!r} - {thinner!r}) * min(max(ceil({current} - {limit!r}), 0), 1)"
    return f"2 * flex * ({resistance}) * {current} / voltage"


LEAD = compile_program((("current", "power / voltage"),), lead_text("current"))
"""The same by itself, from ``power``."""


def lead_share(heater: Heater, power: FloatArray, voltage: float) -> FloatArray:
    """Share of the metered power [W] that the flex between meter and element, there and back, turns into heat. [1]"""
    return LEAD.evaluate({"flex": heater.flex, "voltage": voltage, "power": power})


def celsius(temperature: float) -> float:
    """Temperature [K] on the Celsius scale. [°C]"""
    return temperature - ICE_POINT
