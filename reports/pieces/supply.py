"""Mains, low voltage or demonstration: what each way means for this bench, computed with its own losses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from design.bench import Bench
from design.chosen import Design
from design.kit import Meter
from design.setting.hardware import conditions_of, hardware_of
from reports.pieces.parts import Given, Grid, grid

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


Answer = Callable[[Given, Way], str]


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the comparison."""
    return {"comparison": comparison(given)}


def mains_way(given: Given) -> Way:
    """The way of the plan."""
    return Way(given.uncorrected, given.bench.supply.voltage)


def low_voltage_way(given: Given) -> Way | None:
    """
    The strongest low-voltage heater of the bench in the vessel of the bench that loses least.

    None where the bench has no such heater.
    """
    heaters = [heater for heater in given.bench.heaters if heater.rated_voltage <= LOW_VOLTAGE]
    if not heaters:
        return None
    heater = max(heaters, key=lambda heater: (heater.power, heater.name))
    bench = replace(given.bench, supply=replace(given.bench.supply, voltage=heater.rated_voltage))
    conditions = conditions_of(bench)
    fitting = [vessel for vessel in bench.vessels if heater.minimum_depth < vessel.height] or list(bench.vessels)
    vessel = min(fitting, key=lambda vessel: (hardware_of(conditions, vessel, heater).loss, vessel.name))
    meter = _low_voltage_meter(bench, given.kit.meter)
    kit = replace(given.kit, heater=heater, vessel=vessel, meter=meter, fittings=())
    design = Design(conditions, kit, given.procedure, "none", (heater.power,), SMALL_STEP)
    return Way(design, heater.rated_voltage)


def _low_voltage_meter(bench: Bench, fallback: Meter) -> Meter:
    fine = [meter for meter in bench.meters if meter.kind in {"joule", "volt-ampere"}]
    return fine[0] if fine else fallback


def comparison(given: Given) -> Grid:
    """Put the ways side by side."""
    _ = given.say.text
    plan = mains_way(given)
    low = low_voltage_way(given) if plan.voltage > LOW_VOLTAGE and given.procedure.number_of_powers == 1 else None
    ways = [way for way in (plan, low) if way is not None]
    first = _("supply.mains_pupils") if plan.voltage > LOW_VOLTAGE else _("supply.low_voltage_pupils")
    headings = [
        _("supply.question"),
        first,
        *([_("supply.low_voltage_pupils")] if low else []),
        _("supply.mains_shown_teacher"),
    ]
    rows = [(question, *(answer(given, way) for way in ways), shown) for question, answer, shown in _questions(given)]
    return grid(_("word.mains_low_voltage"), headings, rows)


def _questions(given: Given) -> tuple[tuple[str, Answer, str], ...]:
    """Each question, how it is answered for a way, and the answer for a demonstration."""
    _ = given.say.text
    return (
        (_("supply.power_voltage"), _power, _("supply.mains_kit")),
        (_("supply.cold_boil"), _warm_up, _("supply.can_heated_before_lesson")),
        (_("supply.boiled_away_10"), _ten_minutes, _("supply.mains_kit")),
        (_("supply.e_m_uncorrected"), _bias, _("supply.mains_kit")),
        (_("supply.sets_one_circuit"), _sets, given.say.fixed(1, 0)),
        (_("supply.results_class"), _results, _("supply.one_which_everyone")),
        (_("supply.who_handles_what"), _handling, _("supply.teacher_alone_pupils")),
        (_("supply.what_can_hurt"), _hazards, _("supply.same_mains_away")),
        (_("supply.what_must_asked"), _asked, _("supply.employer_local_rules_demonstrations")),
    )


def _results(given: Given, _way: Way) -> str:
    return given.say.text("supply.one_each_group")


def _power(given: Given, way: Way) -> str:
    return f"{given.say.power(way.power)}, {given.say.in_unit(way.voltage, 'V')}"


def _warm_up(given: Given, way: Way) -> str:
    if not way.boils:
        return given.say.text("supply.does_not_boil")
    minutes = float(way.design.situation.levels.warm_up[0]) / 60
    written = given.say.minutes(minutes)
    if minutes > given.plan.lesson_minutes:
        return given.say.text("supply.longer_than_lesson", minutes=written)
    return written


def _ten_minutes(given: Given, way: Way) -> str:
    if not way.boils:
        return "–"
    rate = float(way.design.situation.runs.steaming[0]) / way.design.reference
    return given.say.in_unit(rate * 600 * 1000, "g", 2)


def _bias(given: Given, way: Way) -> str:
    if not way.boils:
        return "–"
    return given.say.text(
        "supply.true_value_lost",
        bias=given.say.signed_percent(way.bias_percent),
        loss=given.say.in_unit(way.design.loss, "W", 2),
    )


def _sets(given: Given, way: Way) -> str:
    mains = given.bench.supply.voltage
    if way.voltage <= LOW_VOLTAGE < mains:
        return given.say.text("supply.many_power_supplies")
    return given.say.fixed(int(given.bench.supply.current_limit * way.voltage / way.power + 1e-9), 0)


def _handling(given: Given, way: Way) -> str:
    _ = given.say.text
    if way.voltage > LOW_VOLTAGE:
        return _("supply.pupils_read_switching")
    return _("supply.pupils_set_up")


def _hazards(given: Given, way: Way) -> str:
    _ = given.say.text
    if way.voltage > LOW_VOLTAGE:
        return _("supply.mains_near_water")
    return _("supply.scalds_water_steam",
             current=given.say.in_unit(way.power / way.voltage, "A", 2))  # fmt: skip


def _asked(given: Given, way: Way) -> str:
    _ = given.say.text
    if way.voltage > LOW_VOLTAGE:
        return _("supply.whether_pupils_may")
    return _("supply.employer_local_rules")
