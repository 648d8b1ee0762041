"""What the text of a setting takes from bench, kit and items: each constant with its symbol, unit and source."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from design.kit import ROLES, Balance, Fitting, Heater, Item, Meter, Role, Vessel
from design.physics.evidence import default
from design.setting.hardware import Conditions, Hardware

Source = TypeVar("Source")
FILL_STEP = 0.010
"""Step to which people fill in water. [kg] (common practice, no source)"""
FILL_DOUBT = 0.03
"""How far the water that is filled in may be off, up or down: a setting stays within its limits all the same. [1]
(judgement)"""
CLOCK_TICK = 1.0
"""Count of a volt-ampere meter, which is read by the clock. [s]"""
OVERVOLTAGE = 1.10
"""Largest supply voltage over a heater's rated voltage (EN 50160: ± 10 % of the nominal voltage)."""


@dataclass(frozen=True)
class Given(Generic[Source]):
    """A constant of the text: symbol, unit, and what it is of its source."""

    symbol: str
    unit: str
    of: Callable[[Source], float | FloatArray]

    @property
    def name(self) -> str:
        """Key of its words."""
        return f"given_{self.symbol}"


def _hung(heater: Heater) -> float:
    return default("vessel_heater_mass") if heater.held_by == "vessel" else 0.0


BENCH: tuple[Given[Conditions], ...] = (
    Given("voltage", "V", lambda at: at.bench.supply.voltage),
    Given("supply_tolerance", "1", lambda at: at.bench.supply.tolerance),
    Given("current_limit", "A", lambda at: at.bench.supply.current_limit),
    Given("groups", "1", lambda at: at.bench.lesson.groups),
    Given("lesson_length", "s", lambda at: at.bench.lesson.length),
    Given("handling", "s", lambda at: at.bench.lesson.handling),
    Given("purse", "1", lambda at: at.bench.purse.amount),
    Given("latent", "J/kg", lambda at: at.water.latent_heat),
    Given("buoyancy", "1", lambda at: at.buoyancy),
    Given("density", "kg/m3", lambda at: at.water.liquid_density),
    Given("specific_heat", "J/(kg K)", lambda at: at.water.specific_heat),
    Given("rise", "K", lambda at: at.water.boiling_point - at.room_temperature),
    Given("depth_margin", "m", lambda _: default("depth_margin")),
    Given("cold_density", "kg/m3", lambda at: at.cold_density),
    Given("heated_from", "m", lambda _: default("heated_from")),
    Given("cover_flux", "W/m2", lambda _: default("cover_flux")),
    Given("evaporation_flux", "W/m2", lambda _: default("warm_up_evaporation")),
)  # fmt: skip
"""What all kits share."""
HARDWARE: tuple[Given[Hardware], ...] = (
    Given("loss", "W", lambda one: one.loss),
    Given("loss_plan", "W", lambda one: one.loss),
    Given("loss_taken_off", "W", lambda one: one.loss),
    Given("loss_doubt_plan", "W", lambda one: one.loss_uncertainty),
    Given("side_share", "1", lambda one: one.losses.side / one.losses.wall),
    Given("jacket_loss", "W", lambda one: one.jacket_loss),
    Given("jacket_time", "s", lambda one: one.jacket_time),
    Given("carry_over", "1", lambda one: one.knowledge["carry_over"].mean),
    Given("carry_over_plan", "1", lambda one: one.knowledge["carry_over"].mean),
    Given("carry_over_taken_off", "1", lambda one: one.knowledge["carry_over"].mean),
    Given("area", "m2", lambda one: one.area),
    Given("stem", "1", lambda one: one.stem),
    Given("displaced", "kg", lambda one: one.displaced),
    Given("vessel_heat", "J/K", lambda one: one.heat_capacity),
    Given("vapour", "J/m", lambda one: one.swell.vapour),
    Given("drift_excess", "1", lambda one: one.swell.parameter - 1.0),
    Given("drift_middle", "m/s", lambda one: one.swell.drift),
    Given("drift_least", "m/s", lambda one: one.swell.drift_at(0.05)),
    Given("heave_most", "m/W", lambda one: one.swell.heave_at(0.95)),
    Given("fill_stated", "1", lambda one: one.limits.fill or 0.0),
    Given("rim", "m", lambda one: one.limits.rim),
)  # fmt: skip
"""What heater and vessel do to each other."""
BALANCE: tuple[Given[Balance], ...] = (
    Given("balance_capacity", "kg", lambda one: one.capacity),
    Given("splash_proof", "1", lambda one: one.splash_proof),
    Given("holds_reading", "1", lambda one: one.stability_filter),
    Given("works_warm", "1", lambda one: one.works_warm),
    Given("shows_number", "1", lambda one: one.kind != "beam"),
    Given("balance_accepted", "1", lambda one: one.accept_unsuitable),
)
METER: tuple[Given[Meter], ...] = (
    Given("step_energy", "J", lambda one: one.energy_per_count),
    Given("tick", "s", lambda one: CLOCK_TICK * read_by_clock(one)),
    Given("counting", "1", lambda one: one.energy_per_count > 0 or read_by_clock(one)),
    Given("timed", "1", lambda one: one.reads == "timed"),
    Given("meter_voltage", "V", lambda one: one.max_voltage),
    Given("meter_current", "A", lambda one: one.max_current),
    Given("meter_power", "W", lambda one: one.max_power),
    Given("start_current", "A", lambda one: one.start_current),
)  # fmt: skip
HEATER: tuple[Given[Heater], ...] = (
    Given("flex", "m", lambda one: one.flex),
    Given("minimum_depth", "m", lambda one: one.minimum_depth),
    Given("heater_tolerance", "1", lambda one: one.tolerance),
    Given("heater_voltage", "V", lambda one: OVERVOLTAGE * one.rated_voltage),
    Given("stem_width", "m", lambda one: one.stems * one.stem_diameter),
    Given("hung", "kg", _hung),
)  # fmt: skip
VESSEL: tuple[Given[Vessel], ...] = (
    Given("height", "m", lambda one: one.height),
    Given("diameter", "m", lambda one: one.diameter),
    Given("vessel_mass", "kg", lambda one: one.mass),
)
FITTED: dict[Role, tuple[Given[Fitting], ...]] = {
    "jacket": (Given("jacket_mass", "kg", lambda one: one.mass),),
    "lid": (Given("lid_mass", "kg", lambda one: one.mass),),
    "guard": (Given("guard_mass", "kg", lambda one: one.mass),),
}
ITEMS: Mapping[Role, tuple[Given[Any], ...]] = {
    "balance": BALANCE, "meter": METER, "heater": HEATER, "vessel": VESSEL, "mass_set": (), **FITTED,
}  # fmt: skip
"""What the text takes from an item of each role; nothing of a role that the kit does without counts as 0."""


def read_by_clock(meter: Meter) -> bool:
    """Whether energy is power times time, and nothing is counted but seconds."""
    return meter.kind == "volt-ampere" and meter.energy_per_count == 0.0


def given_of(table: Iterable[Given[Source]], source: Source) -> dict[str, FloatArray]:
    """Constants of one source by their symbols."""
    return {one.symbol: np.asarray(one.of(source), dtype=np.float64) for one in table}


def given_of_items(items: Mapping[Role, Item]) -> dict[str, FloatArray]:
    """Constants of the items of a kit."""
    found: dict[str, FloatArray] = {}
    for role in ROLES:
        found |= given_of_item(role, items.get(role))
    return found


def given_of_item(role: Role, item: Item | None) -> dict[str, FloatArray]:
    """Constants of one item, 0 where there is none."""
    given = ITEMS[role]
    return {one.symbol: np.asarray(0.0 if item is None else one.of(item), dtype=np.float64) for one in given}


def given_of_shelves(shelves: Mapping[Role, Sequence[Item | None]], set_of: NDArray[np.intp]) -> dict[str, FloatArray]:
    """
    Constants of the items of every balance with every meter, and of the mass set of each setting, shape (g,).

    Their shape is (balances, 1, 1), (meters, 1) or (g,), or () where all items of a shelf are alike.
    """
    constants: dict[str, FloatArray] = {}
    for role, shelf in shelves.items():
        each = [given_of_item(role, item) for item in shelf]
        for symbol, first in each[0].items():
            column = np.array([one[symbol] for one in each])
            if np.all(column == first):
                constants[symbol] = first
            elif role == "mass_set":
                constants[symbol] = column[set_of]
            else:
                constants[symbol] = column[:, None, None] if role == "balance" else column[:, None]
    return constants
