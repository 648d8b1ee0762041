"""What the text of a setting takes from bench, kit and items: each constant with its symbol, name, unit and source."""

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
    """A constant of the text: symbol, name, unit, and what it is of its source."""

    symbol: str
    name: str
    unit: str
    of: Callable[[Source], float | FloatArray]


def _hung(heater: Heater) -> float:
    return default("vessel_heater_mass") if heater.held_by == "vessel" else 0.0


BENCH: tuple[Given[Conditions], ...] = (
    Given("voltage", "supply voltage", "V", lambda at: at.bench.supply.voltage),
    Given("supply_tolerance", "limit of the supply's deviation", "1", lambda at: at.bench.supply.tolerance),
    Given("current_limit", "current limit of the circuit", "A", lambda at: at.bench.supply.current_limit),
    Given("groups", "groups at once", "1", lambda at: at.bench.lesson.groups),
    Given("lesson_length", "length of the lesson", "s", lambda at: at.bench.lesson.length),
    Given("handling", "setting up and clearing away", "s", lambda at: at.bench.lesson.handling),
    Given("purse", "purse", "1", lambda at: at.bench.purse.amount),
    Given("latent", "latent heat at the room's pressure", "J/kg", lambda at: at.water.latent_heat),
    Given("buoyancy", "air buoyancy", "1", lambda at: at.buoyancy),
    Given("density", "density of the water", "kg/m3", lambda at: at.water.liquid_density),
    Given("specific_heat", "specific heat of the water", "J/(kg K)", lambda at: at.water.specific_heat),
    Given("rise", "rise of temperature to the boil", "K", lambda at: at.water.boiling_point - at.room_temperature),
    Given("depth_margin", "water above the element's mark at the end", "m", lambda _: default("depth_margin")),
    Given("cold_density", "density of the water when it is filled in", "kg/m3", lambda at: at.cold_density),
    Given("heated_from", "lowest heated part above the floor", "m", lambda _: default("heated_from")),
    Given("cover_flux", "steam that covers the wall over the water", "W/m2", lambda _: default("cover_flux")),
    Given("evaporation_flux", "evaporation while warming up", "W/m2", lambda _: default("warm_up_evaporation")),
)  # fmt: skip
"""What all kits share."""
HARDWARE: tuple[Given[Hardware], ...] = (
    Given("loss", "heat loss at the boil", "W", lambda one: one.loss),
    Given("loss_plan", "heat loss at the boil, as planned", "W", lambda one: one.loss),
    Given("loss_taken_off", "heat loss that the correction takes off", "W", lambda one: one.loss),
    Given("loss_doubt_plan", "standard uncertainty of the heat loss", "W", lambda one: one.loss_uncertainty),
    Given("side_share", "share of the wall loss through its side", "1", lambda one: one.losses.side / one.losses.wall),
    Given("jacket_loss", "heat loss through the jacket", "W", lambda one: one.jacket_loss),
    Given("jacket_time", "time in which the jacket takes up its heat", "s", lambda one: one.jacket_time),
    Given("carry_over", "carry-over at 1 kW and 50 mm", "1", lambda one: one.knowledge["carry_over"].mean),
    Given("carry_over_plan", "carry-over, as planned", "1", lambda one: one.knowledge["carry_over"].mean),
    Given("carry_over_taken_off", "carry-over that is taken off", "1", lambda one: one.knowledge["carry_over"].mean),
    Given("area", "water surface", "m2", lambda one: one.area),
    Given("stem", "share of the surface cut by stems", "1", lambda one: one.stem),
    Given("displaced", "water that the element pushes up", "kg", lambda one: one.displaced),
    Given("vessel_heat", "heat capacity of the vessel", "J/K", lambda one: one.heat_capacity),
    Given("vapour", "heat of the vapour in a height of the vessel", "J/m", lambda one: one.swell.vapour),
    Given("drift_excess", "how far bubbles gather where water rises", "1", lambda one: one.swell.parameter - 1.0),
    Given("drift_middle", "drift velocity, as likely more as less", "m/s", lambda one: one.swell.drift),
    Given("drift_least", "drift velocity, reached in 95 %", "m/s", lambda one: one.swell.drift_at(0.05)),
    Given("heave_most", "bursts and waves by power, not reached in 95 %", "m/W", lambda one: one.swell.heave_at(0.95)),
    Given("fill_stated", "most water over the brimful capacity, where stated", "1", lambda one: one.limits.fill or 0.0),
    Given("rim", "least height of the rim over the surface", "m", lambda one: one.limits.rim),
)  # fmt: skip
"""What heater and vessel do to each other."""
BALANCE: tuple[Given[Balance], ...] = (
    Given("balance_capacity", "largest load of the balance", "kg", lambda one: one.capacity),
    Given("splash_proof", "balance bears drops and steam", "1", lambda one: one.splash_proof),
    Given("holds_reading", "balance freezes or averages a changing load", "1", lambda one: one.stability_filter),
    Given("works_warm", "balance works under a warm vessel", "1", lambda one: one.works_warm),
    Given("shows_number", "balance shows a number while the load changes", "1", lambda one: one.kind != "beam"),
    Given("balance_accepted", "balance wanted although unsuitable", "1", lambda one: one.accept_unsuitable),
)
METER: tuple[Given[Meter], ...] = (
    Given("step_energy", "energy of one count", "J", lambda one: one.energy_per_count),
    Given("tick", "count of a meter that is read by the clock", "s", lambda one: CLOCK_TICK * read_by_clock(one)),
    Given("counting", "whether anything is counted", "1", lambda one: one.energy_per_count > 0 or read_by_clock(one)),
    Given("timed", "whether marks are timed", "1", lambda one: one.reads == "timed"),
    Given("meter_voltage", "largest voltage of the meter", "V", lambda one: one.max_voltage),
    Given("meter_current", "largest current of the meter", "A", lambda one: one.max_current),
    Given("meter_power", "largest power of the meter", "W", lambda one: one.max_power),
    Given("start_current", "current at which the meter starts", "A", lambda one: one.start_current),
)  # fmt: skip
HEATER: tuple[Given[Heater], ...] = (
    Given("flex", "length of the flex", "m", lambda one: one.flex),
    Given("minimum_depth", "depth that covers the element", "m", lambda one: one.minimum_depth),
    Given("heater_tolerance", "limit of the heater's deviation", "1", lambda one: one.tolerance),
    Given("heater_voltage", "largest voltage of the heater", "V", lambda one: OVERVOLTAGE * one.rated_voltage),
    Given("stem_width", "stems side by side", "m", lambda one: one.stems * one.stem_diameter),
    Given("hung", "heater hung on the vessel", "kg", _hung),
)  # fmt: skip
VESSEL: tuple[Given[Vessel], ...] = (
    Given("height", "height of the vessel", "m", lambda one: one.height),
    Given("diameter", "width of the vessel", "m", lambda one: one.diameter),
    Given("capacity", "capacity of the vessel", "m3", lambda one: one.capacity),
    Given("vessel_mass", "empty vessel", "kg", lambda one: one.mass),
)
FITTED: dict[Role, tuple[Given[Fitting], ...]] = {
    "jacket": (Given("jacket_mass", "jacket", "kg", lambda one: one.mass),),
    "lid": (Given("lid_mass", "lid", "kg", lambda one: one.mass),),
    "guard": (Given("guard_mass", "guard", "kg", lambda one: one.mass),),
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
