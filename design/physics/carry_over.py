"""Droplets thrown out unboiled: how much, by power, surface and height of the rim above the water."""

from __future__ import annotations

import math

import numpy as np

from budget.arrays import FloatArray
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


def mean_share(
    share_at_reference: float, power: FloatArray, first_freeboard: FloatArray, last_freeboard: FloatArray
) -> FloatArray:
    """
    Share of the lost mass thrown out as droplets, averaged while the level falls.

    Parameters
    ----------
    share_at_reference : float
        At 1 kW and 50 mm of freeboard. [1]
    power : ndarray, shape (n,)
        Power. [W]
    first_freeboard, last_freeboard : ndarray, shape (n,)
        Height from water to rim at the start and at the end, above 0. [m]

    Returns
    -------
    ndarray, shape (n,)
        Share, at most ``LARGEST_SHARE``. [1]

    Notes
    -----
    The mean of the cube law (P/h)³ over equal steps of level is its value at h = (h₁h₂)^(2/3) ((h₁+h₂)/2)^(-1/3);
    above ``HIGH_FLUX_SHARE`` the share rises more steeply, by at most ``HIGH_FLUX_CEILING``.
    """
    middle = share_at_reference * cube_factor(power, first_freeboard, last_freeboard)
    return np.asarray(np.minimum(middle * steepness(middle), LARGEST_SHARE))


def cube_factor(power: FloatArray, first_freeboard: FloatArray, last_freeboard: FloatArray) -> FloatArray:
    """Factor of the middle law from 1 kW and 50 mm to a power [W] and a falling level [m]; see ``mean_share``."""
    mean_cube = 0.5 * (first_freeboard + last_freeboard) / (first_freeboard * last_freeboard) ** 2
    return np.asarray((power / REFERENCE_POWER) ** 3 * REFERENCE_FREEBOARD**3 * mean_cube)


def steepness(middle: FloatArray) -> FloatArray:
    """Share over that of the middle law, from the share by the middle law. [1]"""
    return np.asarray(np.clip(np.sqrt(middle / HIGH_FLUX_SHARE), 1.0, HIGH_FLUX_CEILING))
