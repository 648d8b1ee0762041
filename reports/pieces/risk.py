"""Draft for a risk assessment: hazards are listed, everything that judges them is left blank."""

from __future__ import annotations

from typing import Any

from reports.pieces.parts import BLANK, Given, Grid, grid
from reports.pieces.supply import LOW_VOLTAGE


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the draft."""
    return {
        "head": head(given),
        "kinds": kinds(given),
        "figures": figures(given),
        "hazards": hazards_table(given),
        "signatures": signatures(given),
    }


def head(given: Given) -> tuple[str, ...]:
    """Labels of the lines to fill in."""
    _ = given.say.text
    return (
        _("risk.activity"),
        _("risk.place"),
        _("word.date"),
        _("risk.class_number"),
        _("risk.teacher"),
        _("risk.technician"),
        _("risk.model_assessment_rule"),
        _("risk.review"),
    )


def kinds(given: Given) -> tuple[str, ...]:
    """Kinds of activity, one of which is ticked."""
    _ = given.say.text
    return (_("risk.technician_alone"), _("risk.demonstration_teacher"), _("risk.pupils"))


def figures(given: Given) -> tuple[tuple[str, str], ...]:
    """Figures of the plan that an assessment needs."""
    _, say = given.say.text, given.say
    runs = given.situation.all_runs
    boiled = float(runs.mass.sum()) * given.design.repeats * given.groups
    return (
        (_("risk.sets_once"), say.fixed(given.groups, 0)),
        (
            _("risk.supply_each_set"),
            f"{say.power(max(given.design.powers_W))}, {say.in_unit(given.bench.supply.voltage, 'V')}, "
            f"{say.in_unit(given.current, 'A', 2)}",
        ),
        (_("risk.hot_water_each_set"), say.mass(given.design.fill_kg)),
        (_("risk.steam_into_room"), say.mass(float(f"{boiled:.2g}"))),
        (_("risk.time_near_boil"), say.minutes(given.design.minutes - given.bench.lesson.handling / 60)),
    )


def hazards(given: Given) -> tuple[str, ...]:
    """Hazards of this set-up."""
    _ = given.say.text
    found = []
    if given.bench.supply.voltage > LOW_VOLTAGE:
        found += [_("risk.mains_electricity_near"), _("risk.damaged_untested_heater")]
    found += [
        _("risk.scalds_boiling_water"),
        _("risk.scalds_steam_above"),
        _("risk.vessel_tips_slides"),
        _("risk.heater_switched_dry"),
        _("risk.hot_heater_vessel"),
        _("risk.vessel_boils_dry"),
        _("risk.steam_drips_meter"),
        _("risk.lead_pulls_balance"),
        _("risk.several_heaters_one_circuit"),
        _("risk.broken_glass_slippery"),
        _("risk.steam_sets_off"),
    ]
    if given.is_covered:
        found.append(_("risk.steam_comes_out"))
    if given.kit.vessel.jacket.thickness > 0.0:
        found.append(_("risk.lagging_hides_hot"))
    if given.timed:
        found.append(_("risk.eyes_meter_stopwatch"))
    return (*found, *(_(hazard) for hazard in given.presented.hazards))


def hazards_table(given: Given) -> Grid:
    """Hazards with blank columns for everything that somebody responsible has to judge."""
    _ = given.say.text
    rows = [(hazard, *[BLANK] * 5) for hazard in (*hazards(given), BLANK, BLANK)]
    headings = (
        _("risk.hazard"), _("risk.who_may_harmed"), _("risk.controls_place"), _("risk.rating"),
        _("risk.further_action_whom"), _("risk.rating_after"),
    )  # fmt: skip
    return grid(_("risk.hazards"), headings, rows, writing=True)


def signatures(given: Given) -> Grid:
    """Lines for signatures."""
    _ = given.say.text
    people = (_("risk.prepared"), _("risk.checked_person_responsible"), _("risk.read_technician"))
    rows = [(person, *[BLANK] * 3) for person in people]
    return grid(
        _("risk.signatures"), (_("risk.who"), _("word.name"), _("word.signature"), _("word.date")), rows, writing=True
    )
