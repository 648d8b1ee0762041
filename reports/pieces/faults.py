"""Faults at the bench: what is seen, where it comes from, what to do."""

from __future__ import annotations

from typing import Any

from reports.pieces.parts import Given, Grid, grid


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the table of faults."""
    return {"faults": faults_table(given)}


def faults_table(given: Given) -> Grid:
    """Faults of this kit and procedure, those of every kit after them."""
    _ = given.say.text
    rows = [
        *_of_the_kit(given),
        *_of_fittings(given),
        *_of_timed_marks(given),
        *_of_the_value(given),
        *_of_every_kit(given),
    ]
    return grid(_("fault.what_seen_where"), (_("fault.seen"), _("fault.cause"), _("word.what_do")), rows)


def _of_the_kit(given: Given) -> list[tuple[str, str, str]]:
    _, say = given.say.text, given.say
    rows = []
    if given.kit.balance.kind == "electronic":
        rows.append((_("fault.number_balance_stands"), _("fault.filter_hold_waits"), _("fault.switch_filter_off")))
    else:
        rows.append((_("fault.beam_swings_never"), _("fault.bumps_boiling_too"), _("fault.judge_middle_swing")))
    if given.kit.meter.energy_per_count > 0.0:
        seconds = float(given.situation.runs.time[0]) / max(given.design.counts, 1.0)
        rows.append(
            (
                _("fault.meter_seems_stand"),
                _("fault.one_count_takes", time=say.in_unit(seconds, "s", 2)),
                _("fault.wait_several_counts"),
            )
        )
    if given.kit.heater.held_by == "stand":
        rows.append((_("fault.balance_jumps_when_heater"), _("fault.lead_pulls_heater"), _("fault.clamp_heater_clear")))
    return rows


def _of_fittings(given: Given) -> list[tuple[str, str, str]]:
    _, rows = given.say.text, []
    if given.kit.vessel.jacket.thickness > 0.0:
        rows.append((_("fault.lagging_gets_wet"), _("fault.boiled_over_drops"), _("fault.switch_off_let")))
    if given.is_covered:
        rows.append((_("fault.drops_fall_lid"), _("fault.steam_condenses_runs"), _("fault.switch_off_let_cool_set")))
    return rows


def _of_timed_marks(given: Given) -> list[tuple[str, str, str]]:
    _, say = given.say.text, given.say
    if not given.timed:
        return []
    return [
        (_("fault.part_count_comes"), _("fault.not_last_mark"), _("fault.one_person_calls")),
        (
            _("fault.marks_do_not_follow", time=say.in_unit(given.mark_interval, "s", 2)),
            _("fault.mark_missed_another"),
            _("fault.twice_time_missed"),
        ),
    ]


def _of_the_value(given: Given) -> list[tuple[str, str, str]]:
    _, say = given.say.text, given.say
    share = 100 * given.design.loss_W / max(max(given.design.powers_W) - given.design.loss_W, 1.0)
    loss = say.in_unit(given.design.loss_W, "W", 2)
    power = say.power(max(given.design.powers_W))
    return [
        (
            _("fault.l_too_high"),
            _("fault.heat_loss_alone", loss=loss, power=power, share=say.signed_percent(share)),
            _("fault.more_power_lagging"),
        ),
        (_("fault.l_too_high_far"), _("fault.energy_counted_before_steady"), _("fault.start_only_after_two")),
        (_("word.l_too_low"), _("fault.droplets_thrown_out"), _("fault.more_height_rim")),
        (_("fault.runs_differ_more"), _("fault.draught_drops_balance"), _("fault.shield_wipe_dry")),
        (_("fault.l_agrees_last"), _("fault.perhaps_luck_errors"), _("fault.ask_sizes_both")),
    ]


def _of_every_kit(given: Given) -> list[tuple[str, str, str]]:
    _ = given.say.text
    return [
        (_("fault.water_does_not_boil"), _("fault.power_too_low"), _("fault.more_power_smaller")),
        (_("fault.water_thrown_over"), _("fault.too_full_too"), _("fault.switch_off_first")),
        (_("fault.drops_under_rim"), _("fault.steam_condenses_cold"), _("fault.keep_clamps_leads")),
        (_("fault.element_shows_above"), _("fault.boiled_too_long"), _("fault.switch_off_once")),
        (_("fault.circuit_breaker_residual"), _("fault.too_many_sets"), _("fault.stop_do_not_switch")),
    ]
