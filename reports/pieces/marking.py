"""Marking sheet: sample groups drawn from the measurement model by a seed, slips with their values, the sign table."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from budget.model.measurement import MeasurementModel
from design.evaluation.runs import Run, runs_of
from design.evaluation.school import agrees, school_result
from design.evaluation.school_rules import DEFAULT_RULES, SchoolRules, read_rules
from design.procedures.face import estimate
from design.rehearsal.tally import METER_DIGITS
from design.sheets.readings import Quantity, Reading, TypedNumber
from reports.pieces.parts import PieceBasis, TextTable
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
NUMBER_OF_GROUPS = 3
READ_OFF = ("d_count",)
"""Inputs whose error is made here by rounding the readings as the meter shows them; not where its marks are timed."""


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the marking sheet."""
    rules = read_rules(DEFAULT_RULES)
    groups = sample_groups(given)
    return {
        "readings": readings_table(given, groups),
        "results": results_table(given, groups, rules),
        "working": working(given, groups[0]),
        "slips": slips_table(given, groups[0]),
        "signs": _signs(given),
        "rule": given.say.text("school_rule.default"),
        "range": _range(given),
    }


def readings_table(given: PieceBasis, groups: tuple[SampleGroup, ...]) -> TextTable:
    """Readings of the sample groups, run by run."""
    rows = []
    for group in groups:
        for number, (run, value) in enumerate(zip(group.runs, group.values, strict=True), start=1):
            rows += [_reading_row(given, group.letter, number, reading, value) for reading in run]
    headings = (
        *given.texts("marking.group_run", "marking.power_w"),
        given.counts_heading,
        *given.texts("marking.energy_e_kj", "word.mass_m_g", "word.time_t_s", "marking.l_kj_kg"),
    )
    return TextTable(given.say.text("marking.readings_three_sample"), headings, tuple(rows), frozenset(range(1, 7)))


def _reading_row(given: PieceBasis, letter: str, number: int, reading: SampleRun, value: float) -> tuple[str, ...]:
    say = given.say
    return (
        f"{letter}{number}",
        say.in_unit(reading.power, "", 4),
        say.fixed(reading.counts, given.design.kit.meter.digits) if reading.counts else "–",
        say.significant(reading.energy / 1000, 4),
        say.fixed(reading.mass * 1000, _decimals(given)),
        say.fixed(reading.time, 0),
        say.significant(value / 1000, 4),
    )


def _decimals(given: PieceBasis) -> int:
    """Decimals of a mass in grams that the balance shows, or that the masses are stated to."""
    step = given.design.kit.balance.resolution * 1000
    return 0 if step >= 1 or given.is_fixed_mass else len(rounding.in_unit(step, "", 2).partition(".")[2])


def results_table(given: PieceBasis, groups: tuple[SampleGroup, ...], rules: SchoolRules) -> TextTable:
    """Result of each group by the school rule, its difference from the accepted value, and the corrected result."""
    _, say, reference = given.say.text, given.say, given.plan.latent_heat
    corrected = given.design.corrected
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
        "word.group", "marking.mean_l_kj", "marking.uncertainty", "marking.difference_accepted_value",
        "marking.difference_within_uncertainty",
    ]  # fmt: skip
    if corrected:
        headings.append("marking.correction_plan_kj")
    return given.grid("marking.results_school_rule", headings, rows, (1, 2, 3, 5) if corrected else (1, 2, 3))


def school_percent(given: PieceBasis, group: SampleGroup, rules: SchoolRules) -> float:
    """Percentage uncertainty of a group's mean by a school rule, from its readings alone, as an evaluation has it."""
    return school_result(given.design, runs_by_power(given, group), rules).percent


def working(given: PieceBasis, group: SampleGroup) -> tuple[str, ...]:
    """Work out the first run of a group, line by line."""
    _, say = given.say.text, given.say
    lines = [_("marking.n_n_f2")] if given.timed else []
    for place, reading in enumerate(group.runs[0], start=1):
        part = "" if len(group.runs[0]) == 1 else f"_{place}".translate(str.maketrans("_123", "\0₁₂₃")).strip("\0")
        mass = say.fixed(reading.mass, 3 + _decimals(given))
        energy = say.in_unit(reading.energy, "J", 5)
        if reading.counts:
            step = say.in_unit(reading.energy / reading.counts, "J", 5)
            counts = say.fixed(reading.counts, given.design.kit.meter.digits)
            lines.append(f"E{part} = {counts} × {step} = {energy}")
        else:
            lines.append(f"E{part} = U·I·t = {energy}")
        lines.append(f"m{part} = {mass}{rounding.THIN}kg")
    lines.append(_("marking.equation_value", equation=_equation(given), value=_kilojoules(given, group.values[0])))
    return tuple(lines)


def _equation(given: PieceBasis) -> str:
    several = given.design.procedure.number_of_powers > 1
    working = given.presented.working_several if several else given.presented.working
    return working or given.say.text("marking.least_squares")


def _kilojoules(given: PieceBasis, value: float) -> str:
    return f"{given.say.significant(value / 1000, 4)}{rounding.THIN}kJ/kg"


def slips_table(given: PieceBasis, group: SampleGroup) -> TextTable:
    """Commonest slips, each with the value it makes of the first group's readings."""
    _, reading, value = given.say.text, group.runs[0][0], group.values[0]
    rated = given.design.kit.heater.power
    found = [
        (_("marking.mass_left_grams"), value / 1000, "J/g"),
        (_("marking.energy_left_kilowatt"), value / KILOWATT_HOUR, "kWh/kg"),
        (_("marking.kilowatt_hours_multiplied"), value / 1000, "J/kg"),
        (_("marking.final_reading_balance"),
         reading.energy / (given.design.kit.vessel_mass + given.design.fill - reading.mass), "J/kg"),
    ]  # fmt: skip
    if reading.counts:
        found.append((_("marking.number_counts_taken"), value * reading.counts / reading.energy, "1/kg"))
    if given.timed:
        whole = int(reading.counts)
        found.append((_("marking.parts_count_left"), value * whole / reading.counts, "J/kg"))
    if given.design.procedure.number_of_powers == 1:
        heating = float(given.design.situation.levels.warm_up[0])
        found += [
            (_("marking.nameplate_power_times"), rated * reading.time / reading.mass, "J/kg"),
            (_("marking.energy_heating_up"), value * (reading.time + heating) / reading.time, "J/kg"),
            (_("marking.time_minutes_power"), rated * reading.time / 60 / reading.mass, "J/kg"),
        ]
    rows = [(text, given.say.in_unit(number, unit, 4)) for text, number, unit in found]
    caption = _("marking.if_group_had", letter=group.letter)
    headings = given.texts("marking.slip", "marking.value_run_1")
    return TextTable(caption, headings, tuple(rows), frozenset([1]))


def _signs(given: PieceBasis) -> TextTable:
    """Direction of each effect on the uncorrected value."""
    rows = [given.texts(f"sign.{sign}.effect", f"push.{push}", f"sign.{sign}.because") for sign, push in SIGNS]
    headings = ("word.effect", "marking.l_comes_out", "word.because")
    return given.grid("marking.which_way_each_effect", headings, rows)


def _range(given: PieceBasis) -> tuple[str, str, str]:
    """Accepted value, and the ends of the interval of the uncorrected class results."""
    say, design = given.say, given.ranked
    low, high = given.uncorrected_range
    return (
        say.latent_heat(given.plan.latent_heat, 0.1),
        say.latent_heat(low, design.standard_uncertainty_percent),
        say.latent_heat(high, design.standard_uncertainty_percent),
    )


@dataclass(frozen=True)
class SampleRun:
    """What a group reads at one power: power [W], counts (0 where none are), energy [J], mass [kg], time [s]."""

    power: float
    counts: float
    energy: float
    mass: float
    time: float


@dataclass(frozen=True)
class SampleGroup:
    """
    One group: its letter, and for each run the readings at each power, the highest first, and E/m.

    The latent heats are in J/kg; the corrected one is the mean with the correction of the design.
    """

    letter: str
    runs: tuple[tuple[SampleRun, ...], ...]
    values: tuple[float, ...]
    corrected: float

    @property
    def mean(self) -> float:
        """Mean of the uncorrected values. [J/kg]"""
        return float(np.mean(self.values))


def sample_groups(given: PieceBasis, number: int = NUMBER_OF_GROUPS) -> tuple[SampleGroup, ...]:
    """
    Draw the readings of some groups, each with a set of its own.

    What a set has for all its runs (losses, meter, heater) is drawn once a group, the scatter anew for each run.
    """
    model = given.design.model
    generator = np.random.default_rng([given.plan.seed, number])
    return tuple(_group(given, model, generator, chr(ord("A") + place)) for place in range(number))


def _group(given: PieceBasis, model: MeasurementModel, generator: np.random.Generator, letter: str) -> SampleGroup:
    known = {symbol: value for symbol, value in model.constants.items() if symbol.endswith("_est") or symbol == "b"}
    shared = _drawn(model, generator)
    rounded = () if given.design.kit.meter.reads == "timed" else READ_OFF
    scatter = {quantity.symbol for quantity in model.inputs if quantity.scatter}
    runs, values, corrected = [], [], []
    for _ in range(given.design.repeats):
        fresh = _drawn(model, generator)
        state = {symbol: fresh[symbol] if symbol in scatter else value for symbol, value in shared.items()}
        state.update({symbol: 0.0 for symbol in state if symbol.startswith(rounded)})
        found = {key: float(value) for key, value in model.evaluate_all({**state, "N": 1.0}).items()}
        run = tuple(_as_read(given, model, found, place) for place in range(len(given.design.powers)))
        readings = {**found, **_symbols(run), **model.constants}
        runs.append(run)
        values.append(estimate(given.design.procedure, "none", readings, known))
        corrected.append(estimate(given.design.procedure, given.design.correction, readings, known))
    return SampleGroup(letter, tuple(runs), tuple(values), float(np.mean(corrected)))


def readings_of(given: PieceBasis, group: SampleGroup) -> tuple[Reading, ...]:
    """Rows of a sheet that the group would hand in: start and end of each run at each power, in their order."""
    rows: list[Reading] = []
    for number, run in enumerate(group.runs, start=1):
        for place, reading in enumerate(run, start=1):
            end = _typed(given, reading)
            start = {key: one if key == "power" else replace(one, text="0", value=0.0) for key, one in end.items()}
            name = f"{number}.{place}"
            for mark, numbers in (("0", start), ("1", end)):
                rows.append(Reading(len(rows) + 2, group.letter, name, mark, numbers, heater=True))
    return tuple(rows)


def runs_by_power(given: PieceBasis, group: SampleGroup) -> tuple[tuple[Run, ...], ...]:
    """Runs of a group as an evaluation reads them from its sheet, at each power, the highest first."""
    powers, steps_of_mass = given.design.powers, given.design.procedure.needs_mass_set
    runs = runs_of(readings_of(given, group), given.design.kit, steps_of_mass=steps_of_mass, rated_power=max(powers))
    return tuple(runs[place :: len(powers)] for place in range(len(powers)))


def _typed(given: PieceBasis, reading: SampleRun) -> dict[Quantity, TypedNumber]:
    """What is typed at the end of a run that starts at nought, in the digits of the instruments."""
    kit = given.design.kit
    read: dict[Quantity, tuple[float, float]] = {
        "time": (reading.time, 1.0),
        "mass": (reading.mass, kit.balance.resolution),
    }
    if kit.meter.energy_per_count > 0.0:
        read["counts"] = (reading.counts, kit.meter.fineness)
    else:
        power = reading.energy / reading.time
        step = 10.0 ** (math.floor(math.log10(power)) + 1 - METER_DIGITS)
        read["power"] = (round(power / step) * step, step)
    return {quantity: TypedNumber(repr(value), value, step, 1.0) for quantity, (value, step) in read.items()}


def _drawn(model: MeasurementModel, generator: np.random.Generator) -> dict[str, float]:
    """Draw every uncertain input once."""
    return {
        symbol: float(model.distributions[symbol].ppf(np.asarray(generator.uniform(0.001, 0.999))))
        for symbol in model.uncertain
    }


def _as_read(given: PieceBasis, model: MeasurementModel, found: Mapping[str, float], place: int) -> SampleRun:
    """Round energy to what the meter shows, the mass to what the balance shows, the time to seconds."""
    part = "" if len(given.design.powers) == 1 else f"_{place + 1}"
    energy, mass, time = found[f"E{part}_read"], found[f"m{part}_read"], found[f"t{part}"]
    own = f"k{part}" if place and f"k{part}" in model.constants else "k"
    step = model.constants.get(own, 0.0)
    counts = 0.0
    if step > 0.0:
        fineness = given.design.kit.meter.fineness
        counts = round(energy / step / fineness) * fineness
        energy = counts * step
    if given.design.procedure.needs_display:
        mass = round(mass / given.design.kit.balance.resolution) * given.design.kit.balance.resolution
    return SampleRun(given.design.powers[place], counts, energy, mass, float(round(time)))


def _symbols(run: tuple[SampleRun, ...]) -> dict[str, float]:
    """Readings under the symbols of the procedure's equation."""
    named = {"t": run[0].time}
    for place, reading in enumerate(run, start=1):
        part = "" if len(run) == 1 else f"_{place}"
        named |= {f"E{part}_read": reading.energy, f"m{part}_read": reading.mass, f"t{part}": reading.time}
    return named
