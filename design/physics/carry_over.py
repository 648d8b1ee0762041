"""Droplets thrown out unboiled: how much, by power, surface and height of the rim; the laws as equation text."""

from __future__ import annotations

import math

from design.physics.water import STANDARD_GRAVITY, BoilingWater

REFERENCE_POWER = 1000.0
"""Power at which a bench file states the carry-over. [W]"""
REFERENCE_FREEBOARD = 0.050
"""Height from water to rim at which a bench file states the carry-over. [m]"""
HIGH_FLUX_SHARE = 1.0e-3
"""Share where the middle law ends and a steeper one begins (Kataoka and Ishii 1984, from memory)."""
HIGH_FLUX_CEILING = math.sqrt(10.0)
"""Largest factor above the middle law beyond that point: the geometric middle of 1 to 10 (judgement)."""
LARGEST_SHARE = 0.5
"""Share of the lost mass above which the vessel simply boils over (judgement)."""


def reference_share(water: BoilingWater, area: float, steam_power: float = REFERENCE_POWER) -> float:
    """
    Share of the lost mass thrown out as droplets at the reference freeboard, by the middle law of entrainment.

    Parameters
    ----------
    water : BoilingWater
        Water at the boil.
    area : float
        Of the water surface. [m²]
    steam_power : float
        Power that makes steam. [W]

    Returns
    -------
    float
        E/(1 + E), where E is the mass of droplets per mass of vapour. [1]

    Notes
    -----
    E = 5.42·10⁶ (j*/h*)³ N^1.5 D*^1.25 (ρ_g/Δρ)^-0.31, with j*, h*, N, D* made dimensionless by
    surface tension and buoyancy. Meant for a vessel open to steam; what falls back inside the rim, the plume over
    the element and bumping are outside it, hence the factor of three in ``design.physics.evidence``.

    References
    ----------
    .. [1] Kataoka and Ishii 1984, Int. J. Heat Mass Transfer 27, 1999 (coefficients from memory).
    """
    difference = water.liquid_density - water.vapour_density
    length = math.sqrt(water.surface_tension / (STANDARD_GRAVITY * difference))
    speed = (water.surface_tension * STANDARD_GRAVITY * difference / water.vapour_density**2) ** 0.25
    viscosity_number = water.vapour_viscosity / math.sqrt(water.vapour_density * water.surface_tension * length)
    flux = steam_power / (water.latent_heat * water.vapour_density * area) / speed
    diameter = math.sqrt(4.0 * area / math.pi) / length
    density_ratio = water.vapour_density / difference
    height = REFERENCE_FREEBOARD / length
    entrained = 5.42e6 * (flux / height) ** 3 * viscosity_number**1.5 * diameter**1.25 * density_ratio**-0.31
    return float(entrained / (1.0 + entrained))


def mean_cube(first: str, last: str) -> str:
    """Mean of 1/h³ over equal steps of level between two heights to the rim, as text; of 1 mm at least. [1/m³]"""
    high, low = f"max({first}, 1e-3)", f"max({last}, 1e-3)"
    return f"0.5 * ({high} + {low}) / ({high} * {low})**2"


def cube_law(power: str, cube: str) -> str:
    """Factor of the middle law from 1 kW and 50 mm to a power [W] and a mean of 1/h³ [1/m³], as text. [1]"""
    return f"({power} / {REFERENCE_POWER!r})**3 * {REFERENCE_FREEBOARD!r}**3 * {cube}"


def thrown(middle: str) -> str:
    """
    Share of the lost mass thrown out, from that by the middle law, as text. [1].

    Above ``HIGH_FLUX_SHARE`` it rises more steeply, by at most ``HIGH_FLUX_CEILING``, and ends at ``LARGEST_SHARE``.
    """
    steeper = f"min(max({middle} / {HIGH_FLUX_SHARE!r}, 1), {HIGH_FLUX_CEILING**2:.6g})"
    return f"min({middle} * sqrt({steeper}), {LARGEST_SHARE!r})"
