"""The bench's room and a heater in a vessel: losses, carry-over and stem, whatever is dialled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from budget.quantities.distributions import Distribution, Lognormal, scaled
from design.bench import Bench, FillLimits
from design.kit import Heater, Vessel
from design.materials import MATERIALS
from design.physics.carry_over import reference_share
from design.physics.evidence import default, evidence
from design.physics.losses import HeatLoss, heat_loss, inside_area, stem_share
from design.physics.swell import Swell, swell_of
from design.physics.water import BoilingWater, boiling_water, buoyancy_factor, liquid_density_at

LOSSES = ("wall_loss", "base_loss", "return_loss")
"""Keys of what is known of the heat losses at the boil."""
KEPT_BY_VESSEL = (*LOSSES, "carry_over")
"""Quantities of ``Bench.knowledge`` that belong to a vessel."""


@dataclass(frozen=True)
class Conditions:
    """The bench without its shelves: water at the boil, buoyancy factor, and the bench file's statements."""

    bench: Bench
    water: BoilingWater
    buoyancy: float

    @property
    def room_temperature(self) -> float:
        """Temperature of the room. [K]"""
        return self.bench.room.temperature

    @property
    def cold_density(self) -> float:
        """Density of the water as it is filled in. [kg/m³]"""
        return liquid_density_at(self.room_temperature, self.water.pressure)


def conditions_of(bench: Bench) -> Conditions:
    """Work out the water at the boil for the bench's room."""
    water = boiling_water(bench.room.pressure)
    return Conditions(bench, water, buoyancy_factor(water, bench.room.temperature))


@dataclass(frozen=True)
class Hardware:
    """
    What vessel and heater do to each other, whatever is dialled in.

    Calculated ``losses`` [W]; ``knowledge`` of ``wall_loss``, ``base_loss``, ``return_loss`` [W] and ``carry_over``
    (share at 1 kW and 50 mm), of which the bench file states the keys ``stated``; ``area`` of the water surface [m²]
    and share of it cut by stems; ``heat_capacity`` of the empty vessel and the element [J/K]; water that the element
    pushes up (``displaced``) [kg]; how full the vessel may boil (``limits``), what lifts its surface (``swell``), and
    the time in which a jacket takes up its heat (``jacket_time``) [s].
    """

    losses: HeatLoss
    knowledge: Mapping[str, Distribution]
    stated: frozenset[str]
    area: float
    stem: float
    heat_capacity: float
    displaced: float
    limits: FillLimits
    swell: Swell
    jacket_time: float

    @property
    def jacket_loss(self) -> float:
        """Expected heat loss through the jacket of the side; none without one. [W]"""
        side = self.knowledge["wall_loss"].mean * self.losses.side / self.losses.wall
        return side if self.jacket_time > 0.0 else 0.0

    @property
    def loss(self) -> float:
        """Expected heat loss at the boil. [W]"""
        return sum(self.knowledge[key].mean for key in LOSSES)

    @property
    def loss_uncertainty(self) -> float:
        """Standard uncertainty of the heat loss. [W]"""
        parts = [self.knowledge[key].standard_uncertainty for key in LOSSES]
        return float(np.sqrt(np.sum(np.square(parts))))


def hardware_of(conditions: Conditions, vessel: Vessel, heater: Heater) -> Hardware:
    """
    Work out losses, carry-over and stem of a heater in a vessel.

    The bench file's knowledge comes first for a vessel, then for all vessels, then the calculated default. Where
    something was put on the vessel since, what the file states is changed in proportion to what is calculated.
    """
    water, room = conditions.water, conditions.room_temperature
    losses = heat_loss(vessel, heater, water, room)
    area = inside_area(vessel)
    stated: dict[str, Distribution] = {
        key: value for key, value in {**conditions.bench.knowledge, **vessel.knowledge}.items() if key in KEPT_BY_VESSEL
    }
    if stated and vessel.bare is not None:
        changed = changes_of(conditions, vessel.bare, vessel, heater)
        stated = {key: scaled(value, changed[key]) for key, value in stated.items()}
    defaults: dict[str, Distribution] = {
        "wall_loss": sized("wall_factor", losses.wall),
        "base_loss": sized("base_factor", losses.base),
        "return_loss": sized("return_factor", losses.returned),
        "carry_over": carry_over_default(water, vessel),
    }
    return Hardware(
        losses=losses,
        knowledge={**defaults, **stated},
        stated=frozenset(stated),
        area=area,
        stem=stem_share(heater, vessel),
        heat_capacity=vessel.mass * MATERIALS[vessel.material].specific_heat
        + default("element_heat_capacity") * heater.power / 1000.0,
        displaced=water.liquid_density * default("element_volume") * heater.power / 1000.0,
        limits=_limits_of(conditions.bench.limits, vessel),
        swell=swell_of(water, vessel.diameter),
        jacket_time=vessel.jacket.time,
    )


def _limits_of(limits: FillLimits, vessel: Vessel) -> FillLimits:
    """What the bench allows of every vessel, or one vessel's own."""
    fill = limits.fill if vessel.fill is None else vessel.fill
    return FillLimits(fill, limits.rim if vessel.rim is None else vessel.rim)


def changes_of(conditions: Conditions, before: Vessel, after: Vessel, heater: Heater) -> dict[str, float]:
    """Calculated losses and carry-over of a vessel after a change to it, over those before, by their keys. [1]"""
    water, room = conditions.water, conditions.room_temperature
    first, second = (heat_loss(each, heater, water, room) for each in (before, after))
    droplets = carry_over_default(water, after).mean / carry_over_default(water, before).mean
    ratios = (second.wall / first.wall, second.base / first.base, second.returned / first.returned, droplets)
    return dict(zip(KEPT_BY_VESSEL, ratios, strict=True))


def sized(key: str, value: float) -> Distribution:
    """Lognormal distribution about a calculated value with the relative spread of a row of the evidence."""
    return Lognormal(value, value * evidence(key).spread)


def carry_over_default(water: BoilingWater, vessel: Vessel) -> Distribution:
    """Lognormal distribution of the share at 1 kW and 50 mm: the law is its median."""
    median = reference_share(water, inside_area(vessel))
    if vessel.guard != "none" or vessel.lid != "none":
        median *= default("cover_carry_over")
    variance = np.log(evidence("carry_over_factor").spread) ** 2
    mean = median * float(np.exp(0.5 * variance))
    return Lognormal(mean, mean * float(np.sqrt(np.expm1(variance))))
