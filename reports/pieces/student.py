"""Student run sheet: aim, kit, drawing, steps, an empty table, and room for working and discussion."""

from __future__ import annotations

from typing import Any

from reports.pieces.drawings import apparatus, apparatus_parts
from reports.pieces.parts import Given, Grid, counts_heading, grid
from reports.pieces.specification import short_figures
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


def values(given: Given) -> dict[str, Any]:
    """Fill the template of the student run sheet."""
    return {
        "kit": short_figures(given),
        "drawing": apparatus(given),
        "parts": apparatus_parts(given),
        "steps": run_sheet.student_steps(
            given.design, kit_words(given.design.design), given.say, covered=given.is_covered
        ),
        "results": results_table(given),
        "marks": marks_table(given) if given.timed else None,
        "cooling": cooling_table(given) if given.design.correction == "cooling-run" else None,
        "formulas": formulas(given),
        "questions": questions(given),
    }


def results_table(given: Given) -> Grid:
    """Empty table of readings: quantity and unit in the headings, separated by a solidus."""
    _ = given.say.text
    counts = counts_heading(given.say, given.kit.meter)
    if given.is_fixed_mass:
        ends = (
            (_("student.whole_marks_n"), _("student.parts_f2_f1"))
            if given.timed
            else (_("student.meter_start"), _("student.meter_end"))
        )
        counts = f"{counts} = N + f₂ − f₁" if given.timed else counts
        headings = [_("student.run"), *ends, counts, _("word.time_t_s"), _("word.mass_m_g")]
    elif given.presented.by_readings:
        headings = [
            _("student.reading"),
            counts,
            _("student.balance_g"),
            _("word.time_t_s"),
            _("student.mass_boiled_away"),
        ]
    else:
        headings = [
            _("student.run"),
            counts,
            _("student.balance_start_g"),
            _("student.balance_end_g"),
            _("word.time_t_s"),
            _("word.mass_m_g"),
        ]
    headings += (
        [_("student.energy_e_j")] if given.presented.by_readings else [_("student.energy_e_j"), _("student.l_j_kg")]
    )
    rows = [(label, *_cells(given, len(headings))) for label in _labels(given)]
    return grid(_("student.readings"), headings, rows, writing=True)


def marks_table(given: Given) -> Grid:
    """Empty table of the times of the marks about each reading, where they are timed."""
    _ = given.say.text
    headings = (
        _("student.reading"),
        _("student.mark_before_t1"),
        _("student.reading_t_s"),
        _("student.mark_after_t2"),
        "f = (t − t₁)/(t₂ − t₁)",
    )
    rows = [(label, *[""] * 4) for label in _timed_readings(given)]
    return grid(_("student.times_marks_part"), headings, rows, writing=True)


def _timed_readings(given: Given) -> list[str]:
    """Label the readings between marks: every tip, or the end of every run that starts on a mark."""
    say = given.say
    runs = _labels(given)
    if not given.is_fixed_mass:
        return [say.text("student.run_end", run=run) for run in runs]
    if given.presented.shares_tips:
        return [say.text("student.tip_number", number=str(number)) for number in range(1, len(runs) + 2)]
    return [say.text(end, run=run) for run in runs for end in ("student.run_start", "student.run_end")]


def cooling_table(given: Given) -> Grid:
    """Empty table of the cooling run."""
    _ = given.say.text
    headings = (_("student.reading"), _("word.time_t_s"), _("student.water_temperature_c"), _("student.balance_g"))
    return grid(
        _("student.cooling_run"), headings, [(str(number), "", "", "") for number in range(COOLING_ROWS)], writing=True
    )


def _labels(given: Given) -> list[str]:
    if given.presented.by_readings:
        return [str(number) for number in range(SERIES_ROWS)]
    powers = given.design.powers_W
    runs = min(given.design.repeats, MOST_TIMED_RUNS if given.timed else MOST_RUNS)
    if len(powers) > 1:
        return [f"{run + 1} · {given.say.power(power)}" for run in range(runs) for power in sorted(powers)]
    return [str(number + 1) for number in range(max(runs, 2))]


def _cells(given: Given, columns: int) -> tuple[str, ...]:
    """Empty cells, with the mass written in where it is set and not read."""
    cells = [""] * (columns - 1)
    if given.is_fixed_mass:
        cells[4] = given.say.in_unit(given.design.mass_kg * 1000, "", 4)
    return tuple(cells)


def formulas(given: Given) -> tuple[tuple[str, str], ...]:
    """Equations for the working, as pairs of what they give and MathML."""
    _, say = given.say.text, given.say
    step = given.design.design.model.constants.get("k", 0.0)
    found = []
    if step > 0.0:
        equation = mathml.equation("E", f"{float(f'{step:.6g}')!r} * n", say)
        found.append((_("student.energy_meter_joules"), equation))
    else:
        found.append((_("student.energy_voltage_current"), mathml.equation("E", "U * I * t", say)))
    several = len(given.design.powers_W) > 1
    left, right, label = given.presented.equation_several if several else given.presented.equation
    return (*found, (_(label), mathml.equation(left, right, say)))


def questions(given: Given) -> tuple[tuple[str, int], ...]:
    """Questions for the discussion, each with the number of lines to write on."""
    _ = given.say.text
    return (
        (_("student.your_value_above"), 2),
        (_("student.name_one_effect"), 3),
        (_("student.which_reading_limits"), 2),
        (_("student.which_one_change"), 2),
    )
