"""Marking sheet: sample groups worked from the model, slips with the values they give, and the sign table."""

from __future__ import annotations

from typing import Any

from design.evaluation.school import agrees, school_result
from design.evaluation.school_rules import DEFAULT_RULES, SchoolRules, read_rules
from reports.pieces.parts import Given, Grid, counts_heading, grid
from reports.pieces.sample_groups import SampleGroup, SampleRun, runs_by_power, sample_groups
from reports.tables.plan import SIGNS
from reports.words import rounding

SHORT_SIGNS: tuple[tuple[str, str], ...] = (
    ("marking.heat_lost_vessel", "marking.droplets_thrown_out"),
    ("marking.steam_condenses_runs", "marking.heater_held_outside"),
    ("marking.restart_after_pause", "marking.evaporation_counted_before_energy"),
    ("marking.energy_meter_reading", "marking.energy_meter_reading_low"),
)
"""Effects that make L too high, and beside them some that make it too low."""
KILOWATT_HOUR = 3.6e6
"""One kilowatt-hour. [J]"""


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the marking sheet."""
    rules = read_rules(DEFAULT_RULES)
    groups = sample_groups(given)
    return {
        "readings": readings_table(given, groups),
        "results": results_table(given, groups, rules),
        "working": working(given, groups[0]),
        "slips": slips_table(given, groups[0]),
        "signs": signs_table(given),
        "rule": given.say.text("school_rule.default"),
        "range": _range(given),
    }


def readings_table(given: Given, groups: tuple[SampleGroup, ...]) -> Grid:
    """Readings of the sample groups, run by run."""
    _, say = given.say.text, given.say
    rows = []
    for group in groups:
        for number, (run, value) in enumerate(zip(group.runs, group.values, strict=True), start=1):
            rows += [_reading_row(given, group.letter, number, reading, value) for reading in run]
    headings = [
        _("marking.group_run"),
        _("marking.power_w"),
        counts_heading(say, given.kit.meter),
        _("marking.energy_e_kj"),
        _("word.mass_m_g"),
        _("word.time_t_s"),
        _("marking.l_kj_kg"),
    ]
    return grid(_("marking.readings_three_sample"), headings, rows, range(1, 7))


def _reading_row(given: Given, letter: str, number: int, reading: SampleRun, value: float) -> tuple[str, ...]:
    say = given.say
    counts = say.fixed(reading.counts, given.kit.meter.digits) if reading.counts else "–"
    return (
        f"{letter}{number}",
        say.in_unit(reading.power, "", 4),
        counts,
        say.significant(reading.energy / 1000, 4),
        say.fixed(reading.mass * 1000, _decimals(given)),
        say.fixed(reading.time, 0),
        say.significant(value / 1000, 4),
    )


def _decimals(given: Given) -> int:
    """Decimals of a mass in grams that the balance shows, or that the masses are stated to."""
    step = given.kit.balance.resolution * 1000
    return 0 if step >= 1 or given.is_fixed_mass else len(rounding.in_unit(step, "", 2).partition(".")[2])


def results_table(given: Given, groups: tuple[SampleGroup, ...], rules: SchoolRules) -> Grid:
    """Result of each group by the school rule, its difference from the accepted value, and the corrected result."""
    _, say, reference = given.say.text, given.say, given.plan.latent_heat
    corrected = given.design.correction != "none"
    rows = []
    for group in groups:
        percent = school_percent(given, group, rules)
        difference = 100 * (group.mean - reference) / reference
        uncertainty = group.mean * percent / 100
        value = say.with_uncertainty(group.mean / 1000, uncertainty / 1000, digits=rules.figures.digits)
        within = agrees(rules, group.mean, uncertainty, reference)
        verdict = _("word.yes") if within else _("marking.no_look_systematic")
        row = [group.letter, value, say.percent(percent), say.signed_percent(difference), verdict]
        rows.append((*row, say.significant(group.corrected / 1000, 4)) if corrected else tuple(row))
    headings = [
        _("word.group"), _("marking.mean_l_kj"), _("marking.uncertainty"), _("marking.difference_accepted_value"),
        _("marking.difference_within_uncertainty"),
    ]  # fmt: skip
    if corrected:
        headings.append(_("marking.correction_plan_kj"))
    return grid(_("marking.results_school_rule"), headings, rows, (1, 2, 3, 5) if corrected else (1, 2, 3))


def school_percent(given: Given, group: SampleGroup, rules: SchoolRules) -> float:
    """Percentage uncertainty of a group's mean by a school rule, from its readings alone, as an evaluation has it."""
    return school_result(given.design.design, runs_by_power(given, group), rules).percent


def working(given: Given, group: SampleGroup) -> tuple[str, ...]:
    """Work out the first run of a group, line by line."""
    _, say = given.say.text, given.say
    lines = [_("marking.n_n_f2")] if given.timed else []
    for place, reading in enumerate(group.runs[0], start=1):
        part = "" if len(group.runs[0]) == 1 else f"_{place}".translate(str.maketrans("_123", "\0₁₂₃")).strip("\0")
        mass = say.fixed(reading.mass, 3 + _decimals(given))
        energy = say.in_unit(reading.energy, "J", 5)
        if reading.counts:
            step = say.in_unit(reading.energy / reading.counts, "J", 5)
            counts = say.fixed(reading.counts, given.kit.meter.digits)
            lines.append(f"E{part} = {counts} × {step} = {energy}")
        else:
            lines.append(f"E{part} = U·I·t = {energy}")
        lines.append(f"m{part} = {mass}{rounding.THIN}kg")
    lines.append(_("marking.equation_value", equation=_equation(given), value=_kilojoules(given, group.values[0])))
    return tuple(lines)


def _equation(given: Given) -> str:
    several = given.procedure.number_of_powers > 1
    working = given.presented.working_several if several else given.presented.working
    return working or given.say.text("marking.least_squares")


def _kilojoules(given: Given, value: float) -> str:
    return f"{given.say.significant(value / 1000, 4)}{rounding.THIN}kJ/kg"


def slips_table(given: Given, group: SampleGroup) -> Grid:
    """Commonest slips, each with the value it makes of the first group's readings."""
    _, reading, value = given.say.text, group.runs[0][0], group.values[0]
    rated = given.kit.heater.power
    found = [
        (_("marking.mass_left_grams"), value / 1000, "J/g"),
        (_("marking.energy_left_kilowatt"), value / KILOWATT_HOUR, "kWh/kg"),
        (_("marking.kilowatt_hours_multiplied"), value / 1000, "J/kg"),
        (_("marking.final_reading_balance"),
         reading.energy / (given.kit.vessel_mass + given.design.fill_kg - reading.mass), "J/kg"),
    ]  # fmt: skip
    if reading.counts:
        found.append((_("marking.number_counts_taken"), value * reading.counts / reading.energy, "1/kg"))
    if given.timed:
        whole = int(reading.counts)
        found.append((_("marking.parts_count_left"), value * whole / reading.counts, "J/kg"))
    if given.procedure.number_of_powers == 1:
        heating = float(given.situation.levels.warm_up[0])
        found += [
            (_("marking.nameplate_power_times"), rated * reading.time / reading.mass, "J/kg"),
            (_("marking.energy_heating_up"), value * (reading.time + heating) / reading.time, "J/kg"),
            (_("marking.time_minutes_power"), rated * reading.time / 60 / reading.mass, "J/kg"),
        ]
    rows = [(text, given.say.in_unit(number, unit, 4)) for text, number, unit in found]
    return grid(
        _("marking.if_group_had", letter=group.letter), (_("marking.slip"), _("marking.value_run_1")), rows, [1]
    )


def signs_table(given: Given) -> Grid:
    """Direction of each effect on the uncorrected value."""
    _ = given.say.text
    rows = [
        (given.say.text(f"sign.{sign}.effect"), given.say.text(f"push.{push}"), given.say.text(f"sign.{sign}.because"))
        for sign, push in SIGNS
    ]
    return grid(
        _("marking.which_way_each_effect"), (_("word.effect"), _("marking.l_comes_out"), _("word.because")), rows
    )


def _range(given: Given) -> tuple[str, str, str]:
    """Accepted value, and the ends of the interval of the uncorrected class results."""
    say, design = given.say, given.design
    low, high = given.uncorrected_range
    return (
        say.latent_heat(given.plan.latent_heat, 0.1),
        say.latent_heat(low, design.standard_uncertainty_percent),
        say.latent_heat(high, design.standard_uncertainty_percent),
    )
