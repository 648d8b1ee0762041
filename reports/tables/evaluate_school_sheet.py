"""The school rule as live formulas: divisions and factors on top, a row a run, then mean, repeats and comparison."""

from __future__ import annotations

import statistics
from typing import TYPE_CHECKING

from design.evaluation.school import difference_uncertainty, reading_uncertainty, repeats_uncertainty
from reports.tables.live_cells import Content, Live
from reports.tables.typed_cells import energy_since_first, mass_since_first
from reports.words.evaluate import run_name, verdict_text
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Callable

    from design.evaluation.evaluate import GroupEvaluation
    from design.evaluation.runs import Run
    from design.evaluation.school import SchoolLine
    from design.evaluation.school_rules import SchoolRules
    from reports.tables.live_cells import LiveSheet
    from reports.tables.typed_cells import TypedCells

READING_FACTORS = {"half division": "0.5", "full division": "1", "rectangular": "0.5/SQRT(3)"}
HEADINGS = ("E / J", "u(E) / J", "m / kg", "u(m) / kg", "L / (J/kg)", "u(L) / (J/kg)")


def school_sheet(sheet: LiveSheet, group: GroupEvaluation, typed: TypedCells, say: Language = ENGLISH) -> None:
    """Write the school rule of a group."""
    school, rules, _ = group.school, group.school.rules, say.text
    run = group.result.measured.levels[0][0]
    count = group.result.used.kit.meter.energy_per_count if run.source == "counts" else 1.0
    factor = Live(READING_FACTORS[rules.reading.rule], reading_uncertainty(1.0, rules))
    sheet.write(_("workbook.rules"), rules.name)
    sheet.write(_("workbook.count_energy"), count)
    sheet.write(_("workbook.factor"), factor)
    sheet.write(_("workbook.in_a_difference"), rules.difference.readings)
    sheet.write(_("workbook.coverage_factor"), rules.coverage_factor)
    sheet.write(_("workbook.reference"), group.result.used.reference)
    sheet.write(_("workbook.last_digit"), run.division("mass"))
    sheet.write()
    sheet.write(_("workbook.run"), *HEADINGS, bold=True)
    first = sheet.row
    for line in school.lines:
        _line(sheet, line, rules, typed, say)
    _foot(sheet, group, (first, sheet.row - 1), say)
    sheet.widths(42, 18, 18, 18, 18, 18, 18)


def _line(sheet: LiveSheet, line: SchoolLine, rules: SchoolRules, typed: TypedCells, say: Language) -> None:
    place = sheet.row
    add = rules.combine.rule == "add"
    shares = [f"C{place}/B{place}", f"E{place}/D{place}"]
    together = "+".join(shares) if add else "SQRT(" + "+".join(f"({share})^2" for share in shares) + ")"
    value: Content = line.value if line.gradient else Live(f"B{place}/D{place}", line.value)
    spread: Content = line.uncertainty if line.gradient else Live(f"F{place}*({together})", line.uncertainty)
    energy = _taken(line, lambda run: energy_since_first(typed, run, len(run.readings) - 1, "B2"))
    mass = _taken(line, lambda run: mass_since_first(typed, run, len(run.readings) - 1))
    sheet.write(
        run_name(line, say),
        line.energy if energy is None else Live(energy, line.energy),
        _spread(line.energy_uncertainty, rules, add=add),
        line.mass if mass is None else Live(mass, line.mass),
        _spread(line.mass_uncertainty, rules, add=add),
        value,
        spread,
    )


def _taken(line: SchoolLine, of_run: Callable[[Run], str | None]) -> str | None:
    """Formula of a run, or of one less the other over the time of the first."""
    parts = [of_run(run) for run in line.runs]
    if None in parts:
        return None
    if len(parts) == 1:
        return parts[0]
    high, low = line.runs[0].span[2], line.runs[1].span[2]
    ratio = f"*{high / low!r}" if high and low and high != low else ""
    return f"{parts[0]}-({parts[1]}){ratio}"


def _spread(uncertainty: float, rules: SchoolRules, *, add: bool) -> Live:
    """Uncertainty of a difference as factor, number of readings and division, so that each can be changed."""
    division = uncertainty / difference_uncertainty(1.0, rules)
    return Live(f"B3*{'B4' if add else 'SQRT(B4)'}*{division!r}", uncertainty)


def _foot(sheet: LiveSheet, group: GroupEvaluation, rows: tuple[int, int], say: Language) -> None:
    school, rules, _ = group.school, group.school.rules, say.text
    first, last = rows
    values, spreads = f"F{first}:F{last}", f"G{first}:G{last}"
    sheet.write()
    mean = sheet.row
    repeats = {
        "half range": f"(MAX({values})-MIN({values}))/2",
        "largest deviation": f"MAX(MAX({values})-B{mean},B{mean}-MIN({values}))",
        "standard error": f"STDEV({values})/SQRT(COUNT({values}))",
    }[rules.repeats.rule]
    agreement = {
        "percentage difference": f"ABS(B{mean + 5})<B{mean + 4}",
        "expanded uncertainty": f"ABS(B{mean}-B6)<=B{mean + 3}",
        "z score": f"ABS(B{mean}-B6)<=2*B{mean + 3}/B5",
    }[rules.agreement.rule]
    of_readings = statistics.fmean(line.uncertainty for line in school.lines)
    of_repeats = repeats_uncertainty([line.value for line in school.lines], rules)
    verdict, agrees, differs = (verdict_text(one, say) for one in (group.school_verdict(school), "agrees", "differs"))
    rule = f'IF({agreement},"{agrees}","{differs}")'
    sheet.write(_("workbook.mean"), Live(f"AVERAGE({values})", school.value))
    sheet.write(_("workbook.of_readings"), Live(f"AVERAGE({spreads})", of_readings))
    sheet.write(_("workbook.of_repeats"), Live(repeats, of_repeats) if last > first else 0)
    sheet.write(_("workbook.by_rule"), Live(f"B5*MAX(B{mean + 1},B{mean + 2})", school.uncertainty))
    sheet.write(_("workbook.percent"), Live(f"100*B{mean + 3}/B{mean}", school.percent))
    sheet.write(_("workbook.difference"), Live(f"100*(B{mean}-B6)/B6", school.difference_percent))
    sheet.write(_("workbook.agreement"), Live(rule, verdict) if verdict in {agrees, differs} else verdict)
