"""Student run sheet: aim, kit, drawing, steps, an empty table, and room for working and discussion."""

from __future__ import annotations

from typing import Any

from reports.pieces.drawings import apparatus, apparatus_parts
from reports.pieces.parts import BLANK, PieceBasis, TextTable
from reports.pieces.specification import ranges_of
from reports.words import mathml, run_sheet
from reports.words.plan import kit_words

SERIES_ROWS = 7
"""Rows for a series: the first reading and six steps."""
COOLING_ROWS = 5
"""Rows for a cooling run: at its start, and after each of about four minutes."""
MOST_RUNS = 5
"""Rows that fit on the sheet; more runs go on paper."""
MOST_TIMED_RUNS = 3
"""The same where the marks about each reading are timed, which takes a table of its own."""


QUESTIONS = (
    ("student.your_value_above", 2),
    ("student.name_one_effect", 3),
    ("student.which_reading_limits", 2),
    ("student.which_one_change", 2),
)
"""Questions for the discussion, each with the number of lines to write on."""


def values(given: PieceBasis) -> dict[str, Any]:
    """Fill the template of the student run sheet."""
    return {
        "kit": [(given.role(role), ranges_of(given, item)) for role, item in given.design.kit.items.items()],
        "drawing": apparatus(given),
        "parts": apparatus_parts(given),
        "steps": run_sheet.student_steps(given.design, kit_words(given.design), given.say),
        "results": results_table(given),
        "marks": marks_table(given) if given.timed else None,
        "cooling": _cooling_table(given) if given.design.has_cooling_run else None,
        "formulas": _formulas(given),
        "questions": [(given.say.text(key), lines) for key, lines in QUESTIONS],
    }


def results_table(given: PieceBasis) -> TextTable:
    """Empty table of readings: quantity and unit in the headings, separated by a solidus."""
    counts, energy = given.counts_heading, ["student.energy_e_j", "student.l_j_kg"]
    before, after = (
        ["student.run"],
        ["student.balance_start_g", "student.balance_end_g", "word.time_t_s", "word.mass_m_g"],
    )
    if given.is_fixed_mass:
        whole, timed = ("student.meter_start", "student.meter_end"), ("student.whole_marks_n", "student.parts_f2_f1")
        before, after = ["student.run", *(timed if given.timed else whole)], ["word.time_t_s", "word.mass_m_g"]
        counts = f"{counts} = N + f₂ − f₁" if given.timed else counts
    elif given.presented.by_readings:
        before, after = ["student.reading"], ["student.balance_g", "word.time_t_s", "student.mass_boiled_away"]
        energy = energy[:1]
    headings = (*given.texts(*before), counts, *given.texts(*after, *energy))
    rows = tuple((label, *_cells(given, len(headings))) for label in _labels(given))
    return TextTable(given.say.text("student.readings"), headings, rows, writing=True)


def marks_table(given: PieceBasis) -> TextTable:
    """Empty table of the times of the marks about each reading, where they are timed."""
    named = given.texts("student.reading", "student.mark_before_t1", "student.reading_t_s", "student.mark_after_t2")
    rows = tuple((label, *[BLANK] * 4) for label in _timed_readings(given))
    return TextTable(given.say.text("student.times_marks_part"), (*named, "f = (t − t₁)/(t₂ − t₁)"), rows, writing=True)


def _timed_readings(given: PieceBasis) -> list[str]:
    """Label the readings between marks: every tip, or the end of every run that starts on a mark."""
    say = given.say
    runs = _labels(given)
    if not given.is_fixed_mass:
        return [say.text("student.run_end", run=run) for run in runs]
    if given.presented.shares_tips:
        return [say.text("student.tip_number", number=str(number)) for number in range(1, len(runs) + 2)]
    return [say.text(end, run=run) for run in runs for end in ("student.run_start", "student.run_end")]


def _cooling_table(given: PieceBasis) -> TextTable:
    """Empty table of the cooling run."""
    headings = ("student.reading", "word.time_t_s", "student.water_temperature_c", "student.balance_g")
    rows = [(str(number), *[BLANK] * 3) for number in range(COOLING_ROWS)]
    return given.grid("student.cooling_run", headings, rows, writing=True)


def _labels(given: PieceBasis) -> list[str]:
    if given.presented.by_readings:
        return [str(number) for number in range(SERIES_ROWS)]
    powers = given.design.powers
    runs = min(given.design.repeats, MOST_TIMED_RUNS if given.timed else MOST_RUNS)
    if len(powers) > 1:
        return [f"{run + 1} · {given.say.power(power)}" for run in range(runs) for power in sorted(powers)]
    return [str(number + 1) for number in range(max(runs, 2))]


def _cells(given: PieceBasis, columns: int) -> tuple[str, ...]:
    """Empty cells, with the mass written in where it is set and not read."""
    cells = [""] * (columns - 1)
    if given.is_fixed_mass:
        cells[4] = given.say.in_unit(given.design.mass * 1000, "", 4)
    return tuple(cells)


def _formulas(given: PieceBasis) -> tuple[tuple[str, str], ...]:
    """Equations for the working, as pairs of what they give and MathML."""
    say, step = given.say, given.design.model.constants.get("k", 0.0)
    energy = "student.energy_meter_joules" if step > 0.0 else "student.energy_voltage_current"
    right = f"{float(f'{step:.6g}')!r} * n" if step > 0.0 else "U * I * t"
    presented = given.presented
    of_latent_heat = presented.equation_several if len(given.design.powers) > 1 else presented.equation
    equations = (("E", right, energy), of_latent_heat)
    return tuple((say.text(label), mathml.equation(left, right, say)) for left, right, label in equations)
