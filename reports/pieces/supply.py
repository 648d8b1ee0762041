"""Mains, low voltage or demonstration: what each way means for this bench, computed with its own losses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from design.chosen import Design
from design.setting.hardware import conditions_of, hardware_of
from reports.pieces.parts import PieceBasis, TextTable

LOW_VOLTAGE = 50.0
"""Usual limit of extra-low alternating voltage. [V] (IEC 61140)"""
SMALL_STEP = 0.025
"""Mass step of the low-voltage column: what a lesson can boil away at some tens of watts. [kg] (judgement)"""


@dataclass(frozen=True)
class Way:
    """One way of doing the experiment, uncorrected, and its voltage. [V]"""

    design: Design
    voltage: float

    @property
    def power(self) -> float:
        """Power used. [W]"""
        return self.design.powers[0]

    @property
    def bias_percent(self) -> float:
        """Bias of E/m. [%]"""
        return 100 * (self.design.model.at_estimates() / self.design.reference - 1)

    @property
    def boils(self) -> bool:
        """Whether the heater brings the water to the boil and makes more steam than loss."""
        levels = self.design.situation.levels
        return bool(np.isfinite(levels.warm_up[0])) and self.power > self.design.loss * 1.5


Answer = Callable[[PieceBasis, Way], str]


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the comparison."""
    return {"comparison": comparison(given)}


def low_voltage_way(given: PieceBasis) -> Way | None:
    """The strongest low-voltage heater of the bench, if it has one, in the vessel of the bench that loses least."""
    heaters = [heater for heater in given.bench.heaters if heater.rated_voltage <= LOW_VOLTAGE]
    if not heaters:
        return None
    heater = max(heaters, key=lambda heater: (heater.power, heater.name))
    bench = replace(given.bench, supply=replace(given.bench.supply, voltage=heater.rated_voltage))
    conditions = conditions_of(bench)
    fitting = [vessel for vessel in bench.vessels if heater.minimum_depth < vessel.height] or list(bench.vessels)
    vessel = min(fitting, key=lambda vessel: (hardware_of(conditions, vessel, heater).loss, vessel.name))
    meter = next((one for one in bench.meters if one.kind in {"joule", "volt-ampere"}), given.design.kit.meter)
    kit = replace(given.design.kit, heater=heater, vessel=vessel, meter=meter, fittings=())
    design = Design(conditions, kit, given.design.procedure, "none", (heater.power,), SMALL_STEP)
    return Way(design, heater.rated_voltage)


def comparison(given: PieceBasis) -> TextTable:
    """Put the ways side by side."""
    plan = Way(given.design.uncorrected, given.bench.supply.voltage)
    low = low_voltage_way(given) if plan.voltage > LOW_VOLTAGE and len(given.design.powers) == 1 else None
    ways = [way for way in (plan, low) if way is not None]
    pupils = ["supply.mains_pupils" if way.voltage > LOW_VOLTAGE else "supply.low_voltage_pupils" for way in ways]
    one = given.say.fixed(1, 0)
    rows = [
        (given.say.text(question), *(answer(given, way) for way in ways), given.say.text(shown) if shown else one)
        for question, answer, shown in QUESTIONS
    ]
    return given.grid("word.mains_low_voltage", ("supply.question", *pupils, "supply.mains_shown_teacher"), rows)


def _power(given: PieceBasis, way: Way) -> str:
    return f"{given.say.power(way.power)}, {given.say.in_unit(way.voltage, 'V')}"


def _warm_up(given: PieceBasis, way: Way) -> str:
    if not way.boils:
        return given.say.text("supply.does_not_boil")
    minutes = float(way.design.situation.levels.warm_up[0]) / 60
    written = given.say.minutes(minutes)
    if minutes > given.plan.lesson_minutes:
        return given.say.text("supply.longer_than_lesson", minutes=written)
    return written


def _ten_minutes(given: PieceBasis, way: Way) -> str:
    if not way.boils:
        return "–"
    rate = float(way.design.situation.runs.steaming[0]) / way.design.reference
    return given.say.in_unit(rate * 600 * 1000, "g", 2)


def _bias(given: PieceBasis, way: Way) -> str:
    if not way.boils:
        return "–"
    bias, loss = given.say.signed_percent(way.bias_percent), given.say.in_unit(way.design.loss, "W", 2)
    return given.say.text("supply.true_value_lost", bias=bias, loss=loss)


def _sets(given: PieceBasis, way: Way) -> str:
    supply = given.bench.supply
    if way.voltage <= LOW_VOLTAGE < supply.voltage:
        return given.say.text("supply.many_power_supplies")
    return given.say.fixed(int(supply.current_limit * way.voltage / way.power + 1e-9), 0)


def _by_voltage(mains: str, low: str) -> Answer:
    """Answer by what the voltage is."""

    def answer(given: PieceBasis, way: Way) -> str:
        current = given.say.in_unit(way.power / way.voltage, "A", 2)
        return given.say.text(mains if way.voltage > LOW_VOLTAGE else low, current=current)

    return answer


QUESTIONS: tuple[tuple[str, Answer, str], ...] = (
    ("supply.power_voltage", _power, "supply.mains_kit"),
    ("supply.cold_boil", _warm_up, "supply.can_heated_before_lesson"),
    ("supply.boiled_away_10", _ten_minutes, "supply.mains_kit"),
    ("supply.e_m_uncorrected", _bias, "supply.mains_kit"),
    ("supply.sets_one_circuit", _sets, ""),
    (
        "supply.results_class",
        _by_voltage("supply.one_each_group", "supply.one_each_group"),
        "supply.one_which_everyone",
    ),
    (
        "supply.who_handles_what",
        _by_voltage("supply.pupils_read_switching", "supply.pupils_set_up"),
        "supply.teacher_alone_pupils",
    ),
    (
        "supply.what_can_hurt",
        _by_voltage("supply.mains_near_water", "supply.scalds_water_steam"),
        "supply.same_mains_away",
    ),
    (
        "supply.what_must_asked",
        _by_voltage("supply.whether_pupils_may", "supply.employer_local_rules"),
        "supply.employer_local_rules_demonstrations",
    ),
)
"""Each question, how it is answered for a way, and the answer for a demonstration; one set where it is empty."""
