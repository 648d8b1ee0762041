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
        "groups": given.say.several("technician.number_group", given.groups),
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
        _("word.item"),
        _("word.name"),
        _("word.figures"),
        _("technician.each_group"),
        _("technician.all"),
        _("technician.there"),
        _("technician.put_out"),
    )
    return grid(_("word.kit"), headings, rows, [3, 4, 5], writing=True)


def _owned(given: Given, item: Item) -> str:
    return given.say.text("technician.enough") if item.owned >= EVERY_GROUP else given.say.fixed(item.owned, 0)


def small_parts(given: Given) -> Grid:
    """What else a group needs."""
    _, say = given.say.text, given.say
    parts = [
        (_("technician.insulating_board_stand"), 1),
        (_("technician.stopwatch_lap_times") if given.timed else _("technician.stopwatch"), 1),
        (_("technician.thermometer_105_c"), 1),
        (_("technician.eye_protection_one_each"), 3),
        (_("technician.heat_proof_mat"), 1),
        (_("technician.cloth_dry_outside"), 1),
    ]
    if given.kit.heater.held_by == "stand":
        parts.insert(0, (_("technician.stand_boss_clamp"), 1))
    if given.bench.supply.voltage > LOW_VOLTAGE:
        parts.append((_("technician.residual_current_device"), 1))
    rows = [(part, say.fixed(number, 0), say.fixed(number * given.groups, 0), BLANK) for part, number in parts]
    return grid(
        _("technician.small_parts"),
        (_("technician.part"), _("technician.each_group"), _("technician.all"), _("technician.put_out")),
        rows,
        [1, 2],
        writing=True,
    )


def amounts(given: Given) -> tuple[tuple[str, str], ...]:
    """Fill level, water, load of the balance and of the circuit, as pairs of label and text."""
    _, say, levels = given.say.text, given.say, given.situation.levels
    level = given.kit.vessel.height - float(levels.first_freeboard[0])
    load = given.kit.vessel_mass + float(levels.fill[0])
    boiled = float(given.situation.all_runs.mass.sum()) * given.design.repeats
    total = given.current * given.groups
    return (
        (
            _("technician.water_each_vessel"),
            _(
                "technician.level_above_floor",
                mass=say.mass(given.design.fill_kg),
                level=say.in_unit(level * 1000, "mm"),
                freeboard=say.in_unit(float(levels.first_freeboard[0]) * 1000, "mm"),
            ),
        ),
        (
            _("technician.balance"),
            _(
                "technician.before_masses_put",
                load=say.in_unit(load, "kg"),
                capacity=say.in_unit(given.kit.balance.capacity, "kg"),
            ),
        ),
        (
            _("technician.circuit"),
            _(
                "technician.all_groups_together",
                current=say.in_unit(total, "A", 2),
                limit=say.in_unit(given.bench.supply.current_limit, "A"),
            ),
        ),
        (
            _("technician.steam"),
            _("technician.about_water_go",
              mass=say.mass(float(f"{boiled * given.groups:.2g}"))),
        ),
    )  # fmt: skip


def trial_table(given: Given) -> Grid:
    """What a trial before the lesson should give, with room for what it gave."""
    _, say = given.say.text, given.say
    runs = given.situation.all_runs
    rows = [
        (_("technician.time_cold_boil"), say.minutes(float(given.situation.levels.warm_up[0]) / 60), BLANK),
        (_("technician.time_one_run"), say.in_unit(float(runs.time[0, 0]) / 60, "min", 2), BLANK),
        (_("technician.mass_boiled_away"), say.mass(float(runs.mass[0, 0])), BLANK),
    ]
    if given.design.counts:
        rows.append((_("technician.counts_one_run"), given.counts(round(given.design.counts)), BLANK))
    rows += [
        (_("technician.heat_loss_boil"), say.in_unit(given.design.loss_W, "W", 2), BLANK),
        (_("technician.smallest_change_seen"), BLANK, BLANK),
        (_("technician.unsteadiness_balance_while_boils"), BLANK, BLANK),
    ]
    return grid(
        _("technician.trial_one_set"),
        (_("technician.what"), _("technician.planned"), _("technician.found")),
        rows,
        [1],
        writing=True,
    )


def checks(given: Given) -> tuple[str, ...]:
    """Checks to tick before and after."""
    _ = given.say.text
    found = [
        _("technician.leads_plugs_heaters"),
        _("technician.minimum_depth_marked"),
        _("technician.balance_reads_same"),
        _("technician.vessel_steady_board"),
        _("technician.instructions_risk_assessment"),
        _("technician.afterwards_unplugged_cooled"),
    ]
    if given.timed:
        spacing = given.say.in_unit(given.mark_interval, "s", 2)
        marks = _("technician.marks_meter_view", time=spacing)
        found.insert(4, marks)
    if given.kit.fittings:
        found.insert(4, _("technician.what_put_vessel"))
    if given.is_covered:
        found.insert(4, _("technician.steam_under_lid"))
    if given.kit.balance.kind == "electronic":
        found.insert(3, _("technician.filter_hold_balance"))
    return tuple(found)
