"""Technician list: what to put out for all groups, how full, what to check and what to find out in a trial."""

from __future__ import annotations

from typing import Any

from design.fields import EVERY_GROUP
from design.kit import Item
from reports.pieces.parts import BLANK, Given, Grid, grid, role_name, sentence_start
from reports.pieces.specification import ranges_of
from reports.pieces.supply import LOW_VOLTAGE


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the technician list."""
    return {
        "groups": given.say.several("{number} group", "{number} groups", given.groups),
        "kit": kit_table(given),
        "small": small_parts(given),
        "amounts": amounts(given),
        "trial": trial_table(given),
        "checks": checks(given),
    }


def kit_table(given: Given) -> Grid:
    """Items by role: for one group, for all, in the cupboard, and a box to tick."""
    _, say = given.say.text, given.say
    rows = [
        (
            sentence_start(role_name(say, role)),
            item.name,
            ranges_of(given, item),
            say.fixed(1, 0),
            say.fixed(given.groups, 0),
            _owned(given, item),
            BLANK,
        )
        for role, item in given.kit.items.items()
    ]
    headings = (
        _("Item"), _("Name"), _("In figures"), _("Each group"), _("In all"), _("There"), _("Put out"),
    )  # fmt: skip
    return grid(_("Kit"), headings, rows, [3, 4, 5], writing=True)


def _owned(given: Given, item: Item) -> str:
    return given.say.text("enough") if item.owned >= EVERY_GROUP else given.say.fixed(item.owned, 0)


def small_parts(given: Given) -> Grid:
    """What else a group needs."""
    _, say = given.say.text, given.say
    parts = [
        (_("insulating board to stand between vessel and balance, 10 mm or thicker"), 1),
        (_("stopwatch with lap times") if given.timed else _("stopwatch"), 1),
        (_("thermometer to 105 °C, for the room and the water"), 1),
        (_("eye protection, one for each person"), 3),
        (_("heat-proof mat and gloves or tongs"), 1),
        (_("cloth for a dry outside of the vessel"), 1),
    ]
    if given.kit.heater.held_by == "stand":
        parts.insert(0, (_("stand with boss and clamp for the heater, clear of the vessel"), 1))
    if given.bench.supply.voltage > LOW_VOLTAGE:
        parts.append((_("residual-current device, 30 mA, tested"), 1))
    rows = [(part, say.fixed(number, 0), say.fixed(number * given.groups, 0), BLANK) for part, number in parts]
    return grid(_("Small parts"), (_("Part"), _("Each group"), _("In all"), _("Put out")), rows, [1, 2], writing=True)


def amounts(given: Given) -> tuple[tuple[str, str], ...]:
    """Fill level, water, load of the balance and of the circuit, as pairs of label and text."""
    _, say, levels = given.say.text, given.say, given.situation.levels
    level = given.kit.vessel.height - float(levels.first_freeboard[0])
    load = given.kit.vessel_mass + float(levels.fill[0])
    boiled = float(given.situation.all_runs.mass.sum()) * given.design.repeats
    total = given.current * given.groups
    return (
        (
            _("Water in each vessel"),
            _(
                "{mass}, a level of {level} above the floor of the vessel, {freeboard} below the rim",
                mass=say.mass(given.design.fill_kg),
                level=say.in_unit(level * 1000, "mm"),
                freeboard=say.in_unit(float(levels.first_freeboard[0]) * 1000, "mm"),
            ),
        ),
        (
            _("On the balance"),
            _(
                "{load} of {capacity}, before masses are put on",
                load=say.in_unit(load, "kg"),
                capacity=say.in_unit(given.kit.balance.capacity, "kg"),
            ),
        ),
        (
            _("On the circuit"),
            _(
                "{current} for all groups together; limit stated for the plan: {limit}",
                current=say.in_unit(total, "A", 2),
                limit=say.in_unit(given.bench.supply.current_limit, "A"),
            ),
        ),
        (
            _("Steam"),
            _("about {mass} of water go into the room: open windows, keep detectors in mind",
              mass=say.mass(float(f"{boiled * given.groups:.2g}"))),
        ),
    )  # fmt: skip


def trial_table(given: Given) -> Grid:
    """What a trial before the lesson should give, with room for what it gave."""
    _, say = given.say.text, given.say
    runs = given.situation.all_runs
    rows = [
        (_("time from cold to the boil"), say.minutes(float(given.situation.levels.warm_up[0]) / 60), BLANK),
        (_("time of one run"), say.in_unit(float(runs.time[0, 0]) / 60, "min", 2), BLANK),
        (_("mass boiled away in one run"), say.mass(float(runs.mass[0, 0])), BLANK),
    ]
    if given.design.counts:
        rows.append((_("counts in one run"), given.counts(round(given.design.counts)), BLANK))
    rows += [
        (_("heat loss at the boil, from a cooling run"), say.in_unit(given.design.loss_W, "W", 2), BLANK),
        (_("smallest change seen on the meter"), BLANK, BLANK),
        (_("unsteadiness of the balance while it boils"), BLANK, BLANK),
    ]
    return grid(
        _("Trial with one set before the lesson"), (_("What"), _("Planned"), _("Found")), rows, [1], writing=True
    )


def checks(given: Given) -> tuple[str, ...]:
    """Checks to tick before and after."""
    _ = given.say.text
    found = [
        _("Leads, plugs and heaters looked over; test label in date, as your rules ask."),
        _("Minimum depth marked on each heater; the element is covered at the end of the last run as well."),
        _("Balance reads the same with the lead moved by hand: nothing pulls on it."),
        _("Vessel steady on its board; lead, meter and socket away from steam and drips."),
        _("Instructions and risk assessment of your employer at hand."),
        _("Afterwards: unplugged, cooled, emptied, dried; scale removed from the heaters; losses noted for next time."),
    ]
    if given.timed:
        spacing = given.say.in_unit(given.mark_interval, "s", 2)
        marks = _(
            "Marks of the meter in view from the stopwatch; one comes about every {time}.",
            time=spacing,
        )
        found.insert(4, marks)
    if given.kit.fittings:
        found.insert(4, _("What is put on the vessel is dry, sits firmly and touches no heater."))
    if given.is_covered:
        found.insert(4, _("Steam from under lid or guard comes out away from people, meter and sockets."))
    if given.kit.balance.kind == "electronic":
        found.insert(3, _("Filter or hold of the balance off: the number follows a changing load."))
    return tuple(found)
