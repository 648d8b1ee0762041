"""Faults at the bench: what is seen, where it comes from, what to do."""

from __future__ import annotations

from typing import Any

from reports.pieces.parts import PieceBasis, TextTable

Row = tuple[str, ...]


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the table of faults."""
    return {"faults": faults_table(given)}


def faults_table(given: PieceBasis) -> TextTable:
    """Faults of this kit and procedure, those of every kit after them."""
    rows = [*_of_the_kit(given), *_of_timed_marks(given), *_of_the_value(given), *_of_every_kit(given)]
    return given.grid("fault.what_seen_where", ("fault.seen", "fault.cause", "word.what_do"), rows)


def _of_the_kit(given: PieceBasis) -> list[Row]:
    _, say, texts, kit = given.say.text, given.say, given.texts, given.design.kit
    if kit.balance.kind == "electronic":
        rows = [texts("fault.number_balance_stands", "fault.filter_hold_waits", "fault.switch_filter_off")]
    else:
        rows = [texts("fault.beam_swings_never", "fault.bumps_boiling_too", "fault.judge_middle_swing")]
    if kit.meter.energy_per_count > 0.0:
        time = say.in_unit(float(given.design.situation.runs.time[0]) / max(given.design.counts, 1.0), "s", 2)
        cause = _("fault.one_count_takes", time=time)
        rows.append((_("fault.meter_seems_stand"), cause, _("fault.wait_several_counts")))
    if kit.heater.held_by == "stand":
        rows.append(texts("fault.balance_jumps_when_heater", "fault.lead_pulls_heater", "fault.clamp_heater_clear"))
    if kit.vessel.jacket.thickness > 0.0:
        rows.append(texts("fault.lagging_gets_wet", "fault.boiled_over_drops", "fault.switch_off_let"))
    if given.design.is_covered:
        rows.append(texts("fault.drops_fall_lid", "fault.steam_condenses_runs", "fault.switch_off_let_cool_set"))
    return rows


def _of_timed_marks(given: PieceBasis) -> list[Row]:
    if not given.timed:
        return []
    seen = given.say.text("fault.marks_do_not_follow", time=given.say.in_unit(given.mark_interval, "s", 2))
    return [
        given.texts("fault.part_count_comes", "fault.not_last_mark", "fault.one_person_calls"),
        (seen, *given.texts("fault.mark_missed_another", "fault.twice_time_missed")),
    ]


def _of_the_value(given: PieceBasis) -> list[Row]:
    _, say, texts = given.say.text, given.say, given.texts
    loss, power = given.design.loss, max(given.design.powers)
    alone = _(
        "fault.heat_loss_alone",
        loss=say.in_unit(loss, "W", 2),
        power=say.power(power),
        share=say.signed_percent(100 * loss / max(power - loss, 1.0)),
    )
    return [
        (_("fault.l_too_high"), alone, _("fault.more_power_lagging")),
        texts("fault.l_too_high_far", "fault.energy_counted_before_steady", "fault.start_only_after_two"),
        texts("word.l_too_low", "fault.droplets_thrown_out", "fault.more_height_rim"),
        texts("fault.runs_differ_more", "fault.draught_drops_balance", "fault.shield_wipe_dry"),
        texts("fault.l_agrees_last", "fault.perhaps_luck_errors", "fault.ask_sizes_both"),
    ]


def _of_every_kit(given: PieceBasis) -> list[Row]:
    texts = given.texts
    return [
        texts("fault.water_does_not_boil", "fault.power_too_low", "fault.more_power_smaller"),
        texts("fault.water_thrown_over", "fault.too_full_too", "fault.switch_off_first"),
        texts("fault.drops_under_rim", "fault.steam_condenses_cold", "fault.keep_clamps_leads"),
        texts("fault.element_shows_above", "fault.boiled_too_long", "fault.switch_off_once"),
        texts("fault.circuit_breaker_residual", "fault.too_many_sets", "fault.stop_do_not_switch"),
    ]
