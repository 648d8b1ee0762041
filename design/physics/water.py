"""
Water and air at the pressure of the room, as CoolProp has them (IAPWS-95 and its companions).

Loading CoolProp takes a good part of a plan's time, so that its values stand as Chebyshev coefficients in
``water_table.json``, to ``LARGEST_ERROR``; outside the ranges of these CoolProp is asked itself.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of gravity. [m/s²] (ISO 80000-3; exact)"""
STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant. [W/(m² K⁴)] (CODATA 2018; exact in the 2019 SI)"""
ICE_POINT = 273.15
"""Zero of the Celsius scale. [K] (exact)"""
REFERENCE_WEIGHT_DENSITY = 8000.0
"""Conventional density of weights. [kg/m³] (OIML D 28:2004; from memory)"""


LARGEST_ERROR = 1e-11
"""By which a value of the table differs from CoolProp's at most, as a part of itself."""


@dataclass(frozen=True)
class _Fitted:
    """Chebyshev series of some properties over an argument, and over the pressure where they have several rows."""

    reach: tuple[float, float]
    pressures: tuple[float, float]
    coefficients: Mapping[str, Sequence[Sequence[float]]]

    def holds(self, argument: float, pressure: float = 1e5) -> bool:
        """Tell whether a place lies within the table."""
        return self.reach[0] <= argument <= self.reach[1] and self.pressures[0] <= pressure <= self.pressures[1]

    def at(self, name: str, argument: float, pressure: float = 1e5) -> float:
        """Return a property."""
        place, rows = _place(argument, self.reach), self.coefficients[name]
        if len(rows) == 1:
            return _series(rows[0], place)
        other = _place(pressure, self.pressures)
        return _series([_series(row, other) for row in rows], place)


@cache
def _fitted(name: str) -> _Fitted:
    found = json.loads((files("design.physics") / "water_table.json").read_text(encoding="utf-8"))[name]
    low, high = found["reach"]
    least, most = found["pressures"]
    return _Fitted((low, high), (least, most), found["coefficients"])


def _place(value: float, ends: tuple[float, float]) -> float:
    """Return where a value lies between two ends, from -1 to 1."""
    return (2.0 * value - ends[0] - ends[1]) / (ends[1] - ends[0])


def _series(coefficients: Sequence[float], place: float) -> float:
    """Return the sum of a Chebyshev series, by Clenshaw's recurrence."""
    one, two = 0.0, 0.0
    for coefficient in reversed(coefficients[1:]):
        one, two = coefficient + 2.0 * place * one - two, one
    return coefficients[0] + place * one - two


@dataclass(frozen=True)
class BoilingWater:
    """
    Water boiling at the pressure of the room.

    At saturation: pressure [Pa], boiling point [K], specific latent heat [J/kg], densities [kg/m³], specific heat
    of the liquid at constant pressure [J/(kg K)], surface tension [N/m], dynamic viscosities [Pa s].
    """

    pressure: float
    boiling_point: float
    latent_heat: float
    liquid_density: float
    vapour_density: float
    specific_heat: float
    surface_tension: float
    liquid_viscosity: float
    vapour_viscosity: float


@cache
def boiling_water(pressure: float) -> BoilingWater:
    """
    Water boiling at an absolute pressure [Pa].

    References
    ----------
    .. [1] CoolProp, fluid "Water": IAPWS-95 for the thermodynamic properties, its own
       correlation of the surface tension (within 0.02 % of IAPWS R1-76), IAPWS R12-08 for the viscosity.

    Examples
    --------
    >>> round(boiling_water(101325.0).latent_heat / 1000, 1)
    2256.5
    """
    logarithm = math.log(pressure) if pressure > 0.0 else -math.inf
    table = _fitted("boiling")
    if table.holds(logarithm):
        return BoilingWater(pressure, **{name: table.at(name, logarithm) for name in table.coefficients})
    from CoolProp.CoolProp import PropsSI

    def saturated(name: str, quality: float) -> float:
        return float(PropsSI(name, "P", pressure, "Q", quality, "Water"))

    return BoilingWater(
        pressure=pressure,
        boiling_point=saturated("T", 0),
        latent_heat=saturated("H", 1) - saturated("H", 0),
        liquid_density=saturated("D", 0),
        vapour_density=saturated("D", 1),
        specific_heat=saturated("C", 0),
        surface_tension=saturated("I", 0),
        liquid_viscosity=saturated("V", 0),
        vapour_viscosity=saturated("V", 1),
    )


@cache
def liquid_density_at(temperature: float, pressure: float) -> float:
    """
    Density of liquid water at a temperature [K] and pressure [Pa], from CoolProp (IAPWS-95). [kg/m³].

    Examples
    --------
    >>> round(liquid_density_at(294.15, 101325.0))
    998
    """
    if _fitted("liquid").holds(temperature, pressure):
        return _fitted("liquid").at("density", temperature, pressure)
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI("D", "T", temperature, "P", pressure, "Water"))


@cache
def latent_heat_at(temperature: float) -> float:
    """
    Specific latent heat of vaporisation at a temperature [K], from CoolProp (IAPWS-95). [J/kg].

    Examples
    --------
    >>> round(latent_heat_at(369.15) / 1000)
    2267
    """
    if _fitted("saturated").holds(temperature):
        return _fitted("saturated").at("latent_heat", temperature)
    from CoolProp.CoolProp import PropsSI

    vapour, liquid = (float(PropsSI("H", "T", temperature, "Q", quality, "Water")) for quality in (1, 0))
    return vapour - liquid


@cache
def vapour_pressure_at(temperature: float) -> float:
    """
    Vapour pressure of water at a temperature [K], from CoolProp (IAPWS-95). [Pa].

    Examples
    --------
    >>> round(vapour_pressure_at(373.124))
    101324
    """
    if _fitted("saturated").holds(temperature):
        return math.exp(_fitted("saturated").at("log_pressure", temperature))
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI("P", "T", temperature, "Q", 0, "Water"))


def pressure_at_altitude(altitude: float) -> float:
    """
    Pressure of the standard atmosphere at an altitude up to 11 km [m]. [Pa].

    References
    ----------
    .. [1] ISO 2533:1975, standard atmosphere, troposphere (constants from memory).

    Examples
    --------
    >>> round(pressure_at_altitude(1500.0))
    84556
    """
    return float(101325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.25588)


@dataclass(frozen=True)
class AirFilm:
    """Air at a film temperature: conductivity [W/(m K)], kinematic viscosity [m²/s], Prandtl number, density."""

    temperature: float
    conductivity: float
    kinematic_viscosity: float
    prandtl: float
    density: float


@cache
def air(temperature: float, pressure: float) -> AirFilm:
    """
    Dry air at a temperature [K] and a pressure [Pa], from CoolProp (Lemmon et al. 2000 and 2004).

    Returns
    -------
    AirFilm
    """
    if _fitted("air").holds(temperature, pressure):
        found = {name: _fitted("air").at(name, temperature, pressure) for name in _fitted("air").coefficients}
        density = found["density"]
        return AirFilm(temperature, found["conductivity"], found["viscosity"] / density, found["prandtl"], density)
    from CoolProp.CoolProp import PropsSI

    def value(name: str) -> float:
        return float(PropsSI(name, "T", temperature, "P", pressure, "Air"))

    density = value("D")
    return AirFilm(temperature, value("L"), value("V") / density, value("PRANDTL"), density)


def buoyancy_factor(water: BoilingWater, room_temperature: float) -> float:
    """
    Mass that left the vessel over the fall that the balance shows: water weighs a little less in air.

    Parameters
    ----------
    water : BoilingWater
        Water in the vessel.
    room_temperature : float
        Of the air round the balance. [K]

    Returns
    -------
    float
        About 1.0011. [1]

    Notes
    -----
    (1 - ρ_air/ρ_weights)/(1 - ρ_air/ρ_water), the conventional value of the result of weighing in air
    (OIML D 28:2004, from memory).
    """
    density = air(room_temperature, water.pressure).density
    return (1.0 - density / REFERENCE_WEIGHT_DENSITY) / (1.0 - density / water.liquid_density)
