"""Student run sheet: aim, kit, drawing, steps, an empty table, and room for working and discussion."""

from __future__ import annotations

from typing import Any

from reports.pieces.drawings import apparatus, apparatus_parts
from reports.pieces.parts import Given, Grid, counts_heading, grid
from reports.pieces.specification import short_figures
from reports.pieces.steps import student_steps
from reports.words import mathml
from reports.words.languages import N_

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
        "steps": student_steps(given),
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
        ends = (_("Whole marks N"), _("Parts f₂ − f₁")) if given.timed else (_("Meter, start"), _("Meter, end"))
        counts = f"{counts} = N + f₂ − f₁" if given.timed else counts
        headings = [_("Run"), *ends, counts, _("Time t / s"), _("Mass m / g")]
    elif given.design.procedure == "series":
        headings = [_("Reading"), counts, _("Balance / g"), _("Time t / s"), _("Mass boiled away m / g")]
    else:
        headings = [
            _("Run"), counts, _("Balance, start / g"), _("Balance, end / g"), _("Time t / s"), _("Mass m / g"),
        ]  # fmt: skip
    headings += [_("Energy E / J")] if given.design.procedure == "series" else [_("Energy E / J"), _("L / (J/kg)")]
    rows = [(label, *_cells(given, len(headings))) for label in _labels(given)]
    return grid(_("Readings"), headings, rows, writing=True)


def marks_table(given: Given) -> Grid:
    """Empty table of the times of the marks about each reading, where they are timed."""
    _ = given.say.text
    headings = (
        _("Reading"), _("Mark before, t₁ / s"), _("Reading, t / s"), _("Mark after, t₂ / s"), "f = (t − t₁)/(t₂ − t₁)",
    )  # fmt: skip
    rows = [(label, *[""] * 4) for label in _timed_readings(given)]
    return grid(_("Times of the marks, and the part f of a count to 0.01"), headings, rows, writing=True)


def _timed_readings(given: Given) -> list[str]:
    """Label the readings between marks: every tip, or the end of every run that starts on a mark."""
    say = given.say
    runs = _labels(given)
    if not given.is_fixed_mass:
        return [say.text("{run}, end", run=run) for run in runs]
    if given.design.procedure == "fixed-mass-restart":
        return [say.text("tip {number}", number=str(number)) for number in range(1, len(runs) + 2)]
    return [say.text(end, run=run) for run in runs for end in (N_("{run}, start"), N_("{run}, end"))]


def cooling_table(given: Given) -> Grid:
    """Empty table of the cooling run."""
    _ = given.say.text
    headings = (_("Reading"), _("Time t / s"), _("Water temperature / °C"), _("Balance / g"))
    return grid(_("Cooling run"), headings, [(str(number), "", "", "") for number in range(COOLING_ROWS)], writing=True)


def _labels(given: Given) -> list[str]:
    if given.design.procedure == "series":
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
    step = given.model.constants.get("k", 0.0)
    found = []
    if step > 0.0:
        equation = mathml.equation("E", f"{float(f'{step:.6g}')!r} * n", say)
        found.append((_("Energy from the meter, in joules, with n counts"), equation))
    else:
        found.append((_("Energy from voltage, current and time"), mathml.equation("E", "U * I * t", say)))
    if len(given.design.powers_W) == 1:
        found.append((_("Specific latent heat of vaporisation"), mathml.equation("L", "E / m", say)))
    elif given.design.procedure == "two-powers":
        equation = mathml.equation("L", "(E_1 - E_2) / (m_1 - m_2)", say)
        found.append((_("From two powers, for equal times"), equation))
    else:
        equation = mathml.equation("E", "L * m + W * t", say)
        found.append((_("Straight lines through the readings at each power"), equation))
    return tuple(found)


def questions(given: Given) -> tuple[tuple[str, int], ...]:
    """Questions for the discussion, each with the number of lines to write on."""
    _ = given.say.text
    return (
        (
            _("Is your value above or below the accepted one, and by more than your uncertainty?"),
            2,
        ),
        (
            _(
                "Name one effect that makes L too high and one that makes it too low. For each: which reading does it "
                "change, how, and why?"
            ),
            3,
        ),
        (_("Which reading limits your result most? How do you know?"), 2),
        (_("Which one change would help most, and by about how much? Give your reason."), 2),
    )
