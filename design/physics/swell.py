"""Level swell: how far the bubbles lift a boiling surface, and how high single bursts reach above it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from design.physics.evidence import default, evidence
from design.physics.water import STANDARD_GRAVITY, BoilingWater

WIDE_POOL = 30.0
"""Diameter over the capillary length from which a pool counts as wide (Kataoka and Ishii 1987, from memory). [1]"""
LEAST_HEADROOM = 0.02
"""Least height from surface to rim over that expected: 1 mm of 50 mm, where the law of droplets ends."""


def velocity_scale(water: BoilingWater) -> float:
    """Speed at which surface tension and buoyancy balance inertia, (σ g Δρ/ρ_f²)^(1/4). [m/s]"""
    difference = water.liquid_density - water.vapour_density
    return float((water.surface_tension * STANDARD_GRAVITY * difference / water.liquid_density**2) ** 0.25)


def distribution_parameter(water: BoilingWater) -> float:
    """
    How far bubbles gather where the water rises, C₀ of drift flux. [1].

    References
    ----------
    .. [1] Zuber and Findlay 1965, J. Heat Transfer 87, 453; Ishii 1977, ANL-77-47 (coefficients from memory).
    """
    return 1.2 - 0.2 * math.sqrt(water.vapour_density / water.liquid_density)


def still_pool_drift(water: BoilingWater) -> float:
    """
    Drift velocity of vapour in water that churns without circulating: the surface rises most. [m/s].

    References
    ----------
    .. [1] Zuber and Findlay 1965, J. Heat Transfer 87, 453 (churn-turbulent flow, from memory).
    """
    return math.sqrt(2.0) * velocity_scale(water)


def circulating_pool_drift(water: BoilingWater, diameter: float) -> float:
    """
    Drift velocity of vapour in a pool that circulates and sweeps it up: the surface rises least. [m/s].

    Parameters
    ----------
    water : BoilingWater
        Water at the boil.
    diameter : float
        Inside diameter of the vessel. [m]

    References
    ----------
    .. [1] Kataoka and Ishii 1987, Int. J. Heat Mass Transfer 30, 1927 (coefficients from memory).
    """
    difference = water.liquid_density - water.vapour_density
    length = math.sqrt(water.surface_tension / (STANDARD_GRAVITY * difference))
    viscosity_number = water.liquid_viscosity / math.sqrt(water.liquid_density * water.surface_tension * length)
    width = diameter / length
    wide = 0.0019 * width**0.809 if width <= WIDE_POOL else 0.030
    ratio = (water.vapour_density / water.liquid_density) ** -0.157
    return float(velocity_scale(water) * wide * ratio * viscosity_number**-0.562)


def drift_velocity(water: BoilingWater, diameter: float) -> tuple[float, float]:
    """
    Middle drift velocity of the vapour [m/s], and the standard deviation of its logarithm [1].

    Lognormal; the two published laws enclose the share of pools that the row ``drift_laws`` of the evidence states.
    """
    slow, fast = sorted((still_pool_drift(water), circulating_pool_drift(water, diameter)))
    covered = 2.0 * NormalDist().inv_cdf(0.5 + 0.5 * default("drift_laws"))
    return math.sqrt(slow * fast), math.log(fast / slow) / covered


@dataclass(frozen=True)
class Swell:
    """
    What lifts the surface in a vessel.

    Parameters
    ----------
    drift : float
        Middle drift velocity of the vapour. [m/s]
    spread : float
        Standard deviation of its logarithm. [1]
    parameter : float
        C₀ of drift flux. [1]
    vapour : float
        Heat of the vapour in a height of the vessel. [J/m]
    heave : float
        Middle height of bursts and waves by the power that makes steam. [m/W]
    heave_spread : float
        Standard deviation of its logarithm. [1]
    """

    drift: float
    spread: float
    parameter: float
    vapour: float
    heave: float
    heave_spread: float

    def drift_at(self, probability: float) -> float:
        """Drift velocity that is not reached with a probability. [m/s]"""
        return self.drift * math.exp(self.spread * NormalDist().inv_cdf(probability))

    def heave_at(self, probability: float) -> float:
        """Height of bursts, by the power that makes steam, that is not reached with a probability. [m/W]"""
        return self.heave * math.exp(self.heave_spread * NormalDist().inv_cdf(probability))


def swell_of(water: BoilingWater, diameter: float) -> Swell:
    """What lifts the surface in a vessel of an inside diameter. [m]"""
    area = math.pi * diameter**2 / 4.0
    heat = water.latent_heat * water.vapour_density * area
    heave = evidence("heave")
    spread = math.log(heave.spread) / NormalDist().inv_cdf(0.975)
    parameter = distribution_parameter(water)
    return Swell(*drift_velocity(water, diameter), parameter, heat, heave.value / area, spread)


def lift_text(steam_power: str, drift: str) -> str:
    """
    How far a surface rises over the heated height below it, as text of a power that makes steam and a drift. [1].

    α/(1 - α), with α = j/(C₀ j + v) the mean share of vapour, j its volume made per area and time and v its drift: from
    the constants ``vapour`` and ``drift_excess`` of a setting.
    """
    flux = f"({steam_power} / vapour)"
    return f"{flux} / ({drift} + drift_excess * {flux})"


def surface_text(level: str, lift: str) -> str:
    """Height over the vessel's floor of a surface that would stand at a level without bubbles, as text. [m]"""
    return f"{level} + max({level} - heated_from, 0) * {lift}"


def headroom_text(power: str, risen: str, gather: str) -> str:
    """
    Height from surface to rim over that expected, as text. [1].

    Parameters
    ----------
    power : str
        True power over that expected. [1]
    risen : str
        Expected rise over the expected height from surface to rim. [1]
    gather : str
        (C₀ - 1) j over the middle drift velocity, at the power expected. [1]

    Notes
    -----
    The rise goes as j/(v + (C₀ - 1) j), as in ``lift_text``; ``ln_drift`` is the logarithm of v over its middle.
    """
    swell = f"({power}) * (1 + {gather}) / (exp(ln_drift) + {gather} * ({power}))"
    return f"max(1 - {risen} * ({swell} - 1), {LEAST_HEADROOM!r})"
