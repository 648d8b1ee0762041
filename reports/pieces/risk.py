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
        _("Activity"),
        _("Place"),
        _("Date"),
        _("Class and number"),
        _("Teacher"),
        _("Technician"),
        _("Model assessment or rule used"),
        _("Review by"),
    )


def kinds(given: Given) -> tuple[str, ...]:
    """Kinds of activity, one of which is ticked."""
    _ = given.say.text
    return (_("by a technician alone"), _("demonstration by the teacher"), _("by pupils"))


def figures(given: Given) -> tuple[tuple[str, str], ...]:
    """Figures of the plan that an assessment needs."""
    _, say = given.say.text, given.say
    runs = given.situation.all_runs
    boiled = float(runs.mass.sum()) * given.design.repeats * given.groups
    return (
        (_("Sets at once"), say.fixed(given.groups, 0)),
        (
            _("Supply of each set"),
            f"{say.power(max(given.design.powers_W))}, {say.in_unit(given.bench.supply.voltage, 'V')}, "
            f"{say.in_unit(given.current, 'A', 2)}",
        ),
        (_("Hot water in each set"), say.mass(given.design.fill_kg)),
        (_("Steam into the room"), say.mass(float(f"{boiled:.2g}"))),
        (_("Time near the boil"), say.minutes(given.design.minutes - given.bench.lesson.handling / 60)),
    )


def hazards(given: Given) -> tuple[str, ...]:
    """Hazards of this set-up."""
    _ = given.say.text
    found = []
    if given.bench.supply.voltage > LOW_VOLTAGE:
        found += [
            _("mains electricity near water; wet hands on plugs and switches"),
            _("damaged or untested heater, lead or meter"),
        ]
    found += [
        _("scalds by boiling water: splashes, boiling over, spilling"),
        _("scalds by steam above the vessel"),
        _("vessel tips or slides off the balance"),
        _("heater switched on dry, or lifted out while it is on"),
        _("hot heater or vessel touched, carried or laid down"),
        _("vessel boils dry, or is left alone"),
        _("steam and drips in meter, balance or sockets"),
        _("lead pulls at the balance or trips somebody"),
        _("several heaters on one circuit or on an extension lead"),
        _("broken glass, slippery floor"),
        _("steam sets off a detector; warm, damp room"),
    ]
    if given.is_covered:
        found.append(_("steam that comes out at the side of a lid or guard; hot lid or guard that slips or falls"))
    if given.kit.vessel.jacket.thickness > 0.0:
        found.append(_("lagging that hides the hot wall, gets wet, or scorches at the heater"))
    if given.timed:
        found.append(_("eyes on meter and stopwatch, nobody’s on the boiling vessel"))
    if given.design.procedure == "fixed-mass-restart":
        found.append(_("masses put on and taken off beside boiling water"))
    return tuple(found)


def hazards_table(given: Given) -> Grid:
    """Hazards with blank columns for everything that somebody responsible has to judge."""
    _ = given.say.text
    rows = [(hazard, *[BLANK] * 5) for hazard in (*hazards(given), BLANK, BLANK)]
    headings = (
        _("Hazard"), _("Who may be harmed, and how"), _("Controls in place"), _("Rating"),
        _("Further action, by whom, by when"), _("Rating after"),
    )  # fmt: skip
    return grid(_("Hazards"), headings, rows, writing=True)


def signatures(given: Given) -> Grid:
    """Lines for signatures."""
    _ = given.say.text
    people = (_("Prepared by"), _("Checked by the person responsible"), _("Read by the technician"))
    rows = [(person, *[BLANK] * 3) for person in people]
    return grid(_("Signatures"), (_("Who"), _("Name"), _("Signature"), _("Date")), rows, writing=True)
