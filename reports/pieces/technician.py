"""Technician list: what to put out for all groups, how full, what to check and what to find out in a trial."""

from __future__ import annotations

from typing import Any

from design.fields import EVERY_GROUP
from reports.pieces.parts import BLANK, PieceBasis, TextTable, sentence_start
from reports.pieces.specification import ranges_of
from reports.pieces.supply import LOW_VOLTAGE
from reports.words.run_sheet import fill_words


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the technician list."""
    return {
        "groups": given.say.several("technician.number_group", given.groups),
        "kit": _kit(given),
        "small": small_parts(given),
        "amounts": amounts(given),
        "trial": _trial(given),
        "checks": checks(given),
    }


def _kit(given: PieceBasis) -> TextTable:
    """Items by role: for one group, for all, in the cupboard, and a box to tick."""
    say = given.say
    rows = [
        (
            sentence_start(given.role(role)),
            item.name,
            ranges_of(given, item),
            say.fixed(1, 0),
            say.fixed(given.groups, 0),
            say.text("technician.enough") if item.owned >= EVERY_GROUP else say.fixed(item.owned, 0),
            BLANK,
        )
        for role, item in given.design.kit.items.items()
    ]
    headings = (
        "word.item", "word.name", "word.figures", "technician.each_group", "technician.all", "technician.there",
        "technician.put_out",
    )  # fmt: skip
    return given.grid("word.kit", headings, rows, [3, 4, 5], writing=True)


def small_parts(given: PieceBasis) -> TextTable:
    """What else a group needs."""
    stand, mains = given.design.kit.heater.held_by == "stand", given.bench.supply.voltage > LOW_VOLTAGE
    parts = (
        *((("technician.stand_boss_clamp", 1),) if stand else ()),
        ("technician.insulating_board_stand", 1),
        ("technician.stopwatch_lap_times" if given.timed else "technician.stopwatch", 1),
        ("technician.thermometer_105_c", 1),
        ("technician.eye_protection_one_each", 3),
        ("technician.heat_proof_mat", 1),
        ("technician.cloth_dry_outside", 1),
        *((("technician.residual_current_device", 1),) if mains else ()),
    )
    say = given.say
    rows = [(say.text(part), say.fixed(each, 0), say.fixed(each * given.groups, 0), BLANK) for part, each in parts]
    headings = ("technician.part", "technician.each_group", "technician.all", "technician.put_out")
    return given.grid("technician.small_parts", headings, rows, [1, 2], writing=True)


def amounts(given: PieceBasis) -> tuple[tuple[str, str], ...]:
    """Fill level, water, load of the balance and of the circuit, as pairs of label and text."""
    _, say, levels, design = given.say.text, given.say, given.design.situation.levels, given.design

    stands = fill_words(design, say)
    load = given.design.kit.vessel_mass + float(levels.fill[0])
    boiled = float(given.design.situation.all_runs.mass.sum()) * given.design.repeats
    total = given.current * given.groups
    return (
        (
            _("technician.water_each_vessel"),
            _("technician.level_above_floor", **stands),
        ),
        (
            _("technician.at_the_boil"),
            _("technician.level_at_the_boil", **stands),
        ),
        (
            _("technician.balance"),
            _(
                "technician.before_masses_put",
                load=say.in_unit(load, "kg"),
                capacity=say.in_unit(given.design.kit.balance.capacity, "kg"),
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


def _trial(given: PieceBasis) -> TextTable:
    """What a trial before the lesson should give, with room for what it gave."""
    say, runs, ranked = given.say, given.design.situation.all_runs, given.ranked
    planned = (
        ("technician.time_cold_boil", say.minutes(float(given.design.situation.levels.warm_up[0]) / 60)),
        ("technician.time_one_run", say.in_unit(float(runs.time[0, 0]) / 60, "min", 2)),
        ("technician.mass_boiled_away", say.mass(float(runs.mass[0, 0]))),
        *((("technician.counts_one_run", given.counts(round(ranked.design.counts))),) if ranked.design.counts else ()),
        ("technician.heat_loss_boil", say.in_unit(ranked.design.loss, "W", 2)),
        ("technician.smallest_change_seen", BLANK),
        ("technician.unsteadiness_balance_while_boils", BLANK),
    )
    rows = [(say.text(key), value, BLANK) for key, value in planned]
    headings = ("technician.what", "technician.planned", "technician.found")
    return given.grid("technician.trial_one_set", headings, rows, [1], writing=True)


def checks(given: PieceBasis) -> tuple[str, ...]:
    """Checks to tick before and after."""
    electronic, texts = given.design.kit.balance.kind == "electronic", given.texts
    interval = given.say.in_unit(given.mark_interval, "s", 2)
    return (
        *texts("technician.leads_plugs_heaters", "technician.minimum_depth_marked", "technician.balance_reads_same"),
        *(texts("technician.filter_hold_balance") if electronic else ()),
        *texts("technician.vessel_steady_board"),
        *(texts("technician.steam_under_lid") if given.design.is_covered else ()),
        *(texts("technician.what_put_vessel") if given.design.kit.fittings else ()),
        *((given.say.text("technician.marks_meter_view", time=interval),) if given.timed else ()),
        *texts("technician.instructions_risk_assessment", "technician.afterwards_unplugged_cooled"),
    )
