"""Draft for a risk assessment: hazards are listed, everything that judges them is left blank."""

from __future__ import annotations

from typing import Any

from reports.pieces.parts import BLANK, PieceBasis, TextTable
from reports.pieces.supply import LOW_VOLTAGE

LINES = (
    "risk.activity", "risk.place", "word.date", "risk.class_number", "risk.teacher", "risk.technician",
    "risk.model_assessment_rule", "risk.review",
)  # fmt: skip
"""Lines to fill in at the head."""
COLUMNS = (
    "risk.hazard", "risk.who_may_harmed", "risk.controls_place", "risk.rating", "risk.further_action_whom",
    "risk.rating_after",
)  # fmt: skip
ALWAYS = (
    "risk.scalds_boiling_water", "risk.scalds_steam_above", "risk.vessel_tips_slides", "risk.heater_switched_dry",
    "risk.hot_heater_vessel", "risk.vessel_boils_dry", "risk.steam_drips_meter", "risk.lead_pulls_balance",
    "risk.several_heaters_one_circuit", "risk.broken_glass_slippery", "risk.steam_sets_off",
)  # fmt: skip
"""Hazards of every set-up."""


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the draft."""
    people = given.texts("risk.prepared", "risk.checked_person_responsible", "risk.read_technician")
    columns = ("risk.who", "word.name", "word.signature", "word.date")
    return {
        "head": given.texts(*LINES),
        "kinds": given.texts("risk.technician_alone", "risk.demonstration_teacher", "risk.pupils"),
        "figures": _figures(given),
        "hazards": hazards_table(given),
        "signatures": given.grid("risk.signatures", columns, [(who, *[BLANK] * 3) for who in people], writing=True),
    }


def _figures(given: PieceBasis) -> tuple[tuple[str, str], ...]:
    """Figures of the plan that an assessment needs."""
    _, say = given.say.text, given.say
    boiled = float(given.design.situation.all_runs.mass.sum()) * given.design.repeats * given.groups
    return (
        (_("risk.sets_once"), say.fixed(given.groups, 0)),
        (
            _("risk.supply_each_set"),
            f"{say.power(max(given.design.powers))}, {say.in_unit(given.bench.supply.voltage, 'V')}, "
            f"{say.in_unit(given.current, 'A', 2)}",
        ),
        (_("risk.hot_water_each_set"), say.mass(given.design.fill)),
        (_("risk.steam_into_room"), say.mass(float(f"{boiled:.2g}"))),
        (_("risk.time_near_boil"), say.minutes(given.design.minutes - given.bench.lesson.handling / 60)),
    )


def hazards(given: PieceBasis) -> tuple[str, ...]:
    """Hazards of this set-up."""
    mains = given.bench.supply.voltage > LOW_VOLTAGE
    of_the_kit = (
        *(("risk.steam_comes_out",) if given.design.is_covered else ()),
        *(("risk.lagging_hides_hot",) if given.design.kit.vessel.jacket.thickness > 0.0 else ()),
        *(("risk.eyes_meter_stopwatch",) if given.timed else ()),
    )
    electric = ("risk.mains_electricity_near", "risk.damaged_untested_heater") if mains else ()
    return given.texts(*electric, *ALWAYS, *of_the_kit, *given.presented.hazards)


def hazards_table(given: PieceBasis) -> TextTable:
    """Hazards with blank columns for everything that somebody responsible has to judge."""
    rows = [(hazard, *[BLANK] * 5) for hazard in (*hazards(given), BLANK, BLANK)]
    return given.grid("risk.hazards", COLUMNS, rows, writing=True)
