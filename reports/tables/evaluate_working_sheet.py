"""The corrected value and its JCGM 100 budget as live formulas, from the readings of every mark on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from design.evaluation.working import columns_of, plus_minus, run_symbols, shown_names, working_of
from reports.tables.live_cells import Content, Live, LiveSheet, formula_of
from reports.tables.typed_cells import energy_since_first, mass_since_first
from reports.words.by_hand import on_one_line
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from design.evaluation.evaluate import GroupEvaluation
    from design.evaluation.runs import Run
    from design.evaluation.working import Working, WorkingStep
    from reports.tables.typed_cells import TypedCells

LETTERS = {"E": "C", "m": "D", "t": "E"}
"""Columns of energy, mass and time in the table of marks."""
COUNT_ENERGY = "B2"
DIVISORS = {"exact": "1", "limit": "SQRT(3)", "triangular": "SQRT(6)", "standard": "1"}


def working_sheet(sheet: LiveSheet, group: GroupEvaluation, typed: TypedCells, say: Language = ENGLISH) -> None:
    """Write the working of a group: marks, what is put in, steps, budget."""
    result, _ = group.result, say.text
    working = working_of(result)
    run = result.measured.levels[0][0]
    count = result.used.kit.meter.energy_per_count if run.source == "counts" else 1.0
    sheet.write(_("working.group", group=group.group), bold=True)
    sheet.write(_("workbook.count_energy"), count)
    sheet.write()
    marks = _marks(sheet, group, typed, say)
    cells = _readings(working, marks)
    cells |= _given(sheet, working, say)
    cells |= _steps(sheet, working, (cells, marks), say)
    _budget(sheet, group, cells["L"], say)
    sheet.widths(30, 46, 20, 20, 16, 16, 18, 20)


Marks = dict[str, tuple[int, int]]
"""First and last row of each run in the table of marks, by the tail of its symbols."""


def _marks(sheet: LiveSheet, group: GroupEvaluation, typed: TypedCells, say: Language) -> Marks:
    """Write energy, mass and time since the first mark of each run."""
    heads = ("run", "mark", "energy", "mass", "time")
    sheet.write(*(say.text(f"working.{head}") for head in heads), bold=True)
    tails, found = run_symbols(group.result), {}
    for level in group.result.measured.levels:
        for run in level:
            first = sheet.row
            for place in range(run.mass.size):
                sheet.write(run.name, _mark(run, place), *_mark_cells(run, place, typed))
            found[tails[run.name]] = (first, sheet.row - 1)
    sheet.write()
    return found


def _mark(run: Run, place: int) -> str:
    marks = run.readings[place] if len(run.readings) > 1 else run.readings[0] if place else ()
    return marks[0].mark if marks else "0"


def _mark_cells(run: Run, place: int, typed: TypedCells) -> list[Content]:
    values = [float(column[place]) + 0.0 for column in columns_of(run).values()]  # no minus before a zero
    formulas = (
        energy_since_first(typed, run, place, COUNT_ENERGY),
        mass_since_first(typed, run, place),
        typed.since_first(run, place, "time"),
    )
    return [value if text is None else Live(text, value) for value, text in zip(values, formulas, strict=False)]


def _readings(working: Working, marks: Marks) -> dict[str, str]:
    """Cells of the readings that steps take: the last mark of a run."""
    cells = {}
    for symbol in working.readings:
        letter, tail = symbol[0], symbol[1:].removesuffix("_raw")
        cells[symbol] = f"{LETTERS[letter]}{marks[tail][1]}"
    return cells


def _given(sheet: LiveSheet, working: Working, say: Language) -> dict[str, str]:
    heads = ("symbol", "quantity", "value", "unit", "plus_minus", "meaning")
    sheet.write(*(say.text(f"working.{head}") for head in heads), bold=True)
    cells = {}
    for one in working.given:
        unit, stated = ("" if one.unit == "1" else one.unit), (None if one.kind == "exact" else one.stated)
        place = sheet.write(
            one.symbol, quantity_name(one.name, say), one.value, unit, stated, say.text(f"working.{one.kind}")
        )
        cells[one.symbol] = f"C{place}"
    sheet.write()
    return cells


def _steps(sheet: LiveSheet, working: Working, found: tuple[dict[str, str], Marks], say: Language) -> dict[str, str]:
    cells, marks = dict(found[0]), found[1]
    sheet.write(say.text("working.symbol"), say.text("workbook.equation"), say.text("workbook.si_value"), bold=True)
    for step in working.steps:
        if step.summed is None:
            text, formula = on_one_line(step.text, str, say), formula_of(step.text, cells.__getitem__)
        else:
            text, formula = _summed(step, marks)
        place = sheet.write(step.symbol, text, Live(formula, step.value))
        cells[step.symbol] = f"C{place}"
    if working.corrected:
        sheet.write("L − L_0", say.text("working.correction"), Live(f"{cells['L']}-{cells['L_0']}", working.correction))
    sheet.write()
    return cells


def _summed(step: WorkingStep, marks: Marks) -> tuple[str, str]:
    """Sum over the marks of a run, of the deviations of one column times the other column."""
    first, second = step.summed or ("", "")
    tail = step.symbol.removeprefix(f"S_{first}{second}").removesuffix("_raw")
    start, end = marks[tail]
    x, y = (f"{LETTERS[letter]}{start}:{LETTERS[letter]}{end}" for letter in (first, second))
    return f"Σ ({first} − mean of {first})·{second}", f"(SUMPRODUCT({x},{y})-COUNT({x})*AVERAGE({x})*AVERAGE({y}))"


def _budget(sheet: LiveSheet, group: GroupEvaluation, value: str, say: Language) -> None:
    """Write every input with its ±, divisor, u, c and c·u; then u(L), U and E_n."""
    outcome, _ = group.result.best, say.text
    propagation, names = (
        outcome.propagation,
        shown_names(group.result.measured.model, group.result.measured.uncorrected),
    )
    heads = ("symbol", "quantity", "plus_minus", "meaning", "divisor", "u", "sensitivity_signed", "contribution_signed")
    sheet.write(*(say.text(f"working.{head}") for head in heads), bold=True)
    first = sheet.row
    for quantity in outcome.model.inputs:
        if propagation.contributions[quantity.symbol] == 0.0:
            continue
        kind, stated, divisor = plus_minus(quantity.distribution)
        place = sheet.row
        sheet.write(
            names[quantity.symbol],
            quantity_name(quantity.name, say),
            stated,
            say.text(f"working.{kind}"),
            Live(DIVISORS[kind], divisor),
            Live(f"C{place}/E{place}", stated / divisor),
            propagation.sensitivity_coefficients[quantity.symbol],
            Live(f"F{place}*G{place}", propagation.contributions[quantity.symbol]),
        )
    last = sheet.row - 1
    u, expanded, agreement = outcome.standard_uncertainty, propagation.expanded_uncertainty, outcome.agreement
    combined = Live(f"SQRT(SUMSQ(H{first}:H{last}))", u) if last >= first else u
    at_u = f"C{sheet.write(_('workbook.combined'), None, combined)}"
    sheet.write(_("workbook.degrees"), None, _("working.infinite") if math.isinf(propagation.effective_dof)
                else propagation.effective_dof)  # fmt: skip
    at_k = f"C{sheet.write(_('workbook.coverage_factor'), None, propagation.coverage_factor)}"
    at_big = f"C{sheet.write(_('workbook.expanded'), None, Live(f'{at_k}*{at_u}', expanded))}"
    at_ref = f"C{sheet.write(_('workbook.reference'), None, agreement.reference)}"
    at_own = f"C{sheet.write(_('workbook.reference_u'), None, agreement.reference_uncertainty)}"
    error = f"({value}-{at_ref})/SQRT({at_big}^2+({at_k}*{at_own})^2)"
    sheet.write(_("graph.note"), None, Live(error, agreement.normalised_error))
