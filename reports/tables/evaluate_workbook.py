"""The working as a workbook: readings as typed, and the school rule as live formulas."""

from __future__ import annotations

import io
import re
from datetime import datetime
from typing import TYPE_CHECKING, Any

from reports.tables.files import guarded, timeless
from reports.words.evaluate import verdict_text
from reports.words.findings import what_was_found

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.runs import Run
    from design.evaluation.school import SchoolLine
    from design.evaluation.school_rules import SchoolRules
    from design.sheets.readings import Quantity, Reading

COLUMNS: tuple[Quantity, ...] = (
    "time", "counts", "energy", "voltage", "current", "power", "mass", "mass_step", "temperature",
)  # fmt: skip
WORDS = 4
"""Columns of words before the numbers: group, run, mark, heater."""
READING_FACTORS = {"half division": "0.5", "full division": "1", "rectangular": "0.5/SQRT(3)"}
HEADINGS = ("run", "E / J", "u(E) / J", "m / kg", "u(m) / kg", "L / (J/kg)", "u(L) / (J/kg)")


def workbook_bytes(evaluation: Evaluation, date: str, withheld: Sequence[str] = ()) -> bytes:
    """
    Write the working of the school rule as formulas that a spreadsheet works out again.

    Parameters
    ----------
    evaluation : Evaluation
        What was evaluated.
    date : str
        Date of the workbook, ISO 8601.
    withheld : sequence of str
        Groups whose working is left out, as their own value is not there yet.
    """
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "Readings"
    places = _readings(sheet, evaluation)
    for index, group in enumerate(evaluation.groups, start=1):
        if group.group not in withheld:
            _group(book.create_sheet(_title(index, group.group)), group, places)
    _warnings(book.create_sheet("Rows to look at"), evaluation)
    book.properties.creator = "boiloff"
    book.properties.created = datetime.fromisoformat(date)
    buffer = io.BytesIO()
    book.save(buffer)
    return timeless(buffer.getvalue(), date)


def _title(index: int, group: str) -> str:
    return f"School rule {index} {re.sub(r'[^0-9A-Za-z -]', '', group)}"[:31].strip()


def _bold(sheet: Any, row: int) -> None:
    from openpyxl.styles import Font

    for cell in sheet[row]:
        cell.font = Font(bold=True)


def _readings(sheet: Any, evaluation: Evaluation) -> dict[int, int]:
    """Write the readings; give the row here of each row of the sheet."""
    used = [column for column in COLUMNS if any(column in reading.numbers for reading in evaluation.sheet.readings)]
    heads = ["group", "run", "mark", "heater", *COLUMNS, "as typed", "remark"]
    sheet.append([_heading(evaluation, column, used) for column in heads])
    _bold(sheet, 1)
    places = {}
    for row, reading in enumerate(evaluation.sheet.readings, start=2):
        numbers = [_number(reading, column) for column in COLUMNS]
        typed = "; ".join(f"{name} {number.text}" for name, number in reading.numbers.items())
        heater = {True: "on", False: "off", None: ""}[reading.heater]
        words = [reading.group, reading.run, reading.mark, heater]
        sheet.append([*(guarded(word) for word in words), *numbers, guarded(typed), guarded(reading.remark)])
        places[reading.row] = row
    sheet.freeze_panes = "A2"
    return places


def _heading(evaluation: Evaluation, column: str, used: Sequence[str]) -> str:
    return guarded(evaluation.sheet.heading(column)) if column in used else column


def _number(reading: Reading, column: Quantity) -> float | None:
    number = reading.numbers.get(column)
    return None if number is None else float(f"{number.value / number.factor:.12g}")


def _group(sheet: Any, group: GroupEvaluation, places: dict[int, int]) -> None:
    """Divisions and factors on top, a row a run, then mean, repeats and comparison."""
    school, rules = group.school, group.school.rules
    run = group.result.measured.levels[0][0]
    count = group.result.used.kit.meter.energy_per_count if run.source == "counts" else 1.0
    top: list[tuple[str, Any]] = [
        ("rules", guarded(rules.name)),
        ("energy of one count / J", count),
        ("factor on one division", f"={READING_FACTORS[rules.reading.rule]}"),
        ("readings in a difference", rules.difference.readings),
        ("coverage factor", rules.coverage_factor),
        ("reference / (J/kg)", group.result.used.reference),
        ("last digit of the mass as typed / kg", run.division("mass")),
    ]
    for row in top:
        sheet.append(row)
    sheet.append([])
    sheet.append(HEADINGS)
    _bold(sheet, len(top) + 2)
    first = len(top) + 3
    for place, line in enumerate(school.lines, start=first):
        add = rules.combine.rule == "add"
        shares = [f"C{place}/B{place}", f"E{place}/D{place}"]
        together = "+".join(shares) if add else "SQRT(" + "+".join(f"({share})^2" for share in shares) + ")"
        energy, mass = _energy(line, places), _mass(line, places)
        value: str | float = line.value if line.gradient else f"=B{place}/D{place}"
        spread: str | float = line.uncertainty if line.gradient else f"=F{place}*({together})"
        spreads = [_spread(size, rules, add=add) for size in (line.energy_uncertainty, line.mass_uncertainty)]
        sheet.append([guarded(line.name), energy, spreads[0], mass, spreads[1], value, spread])
    last = first + len(school.lines) - 1
    _foot(sheet, group, first, last)
    for letter, width in (("A", 34), *((letter, 18) for letter in "BCDEFG")):
        sheet.column_dimensions[letter].width = width


def _foot(sheet: Any, group: GroupEvaluation, first: int, last: int) -> None:
    values, spreads = f"F{first}:F{last}", f"G{first}:G{last}"
    mean = last + 2
    repeats = {
        "half range": f"=(MAX({values})-MIN({values}))/2",
        "largest deviation": f"=MAX(MAX({values})-B{mean},B{mean}-MIN({values}))",
        "standard error": f"=STDEV({values})/SQRT(COUNT({values}))",
    }[group.school.rules.repeats.rule]
    rule = {
        "percentage difference": f'=IF(ABS(B{mean + 5})<B{mean + 4},"agrees","differs")',
        "expanded uncertainty": f'=IF(ABS(B{mean}-B6)<=B{mean + 3},"agrees","differs")',
        "z score": f'=IF(ABS(B{mean}-B6)<=2*B{mean + 3}/B5,"agrees","differs")',
    }[group.school.rules.agreement.rule]
    verdict = group.school_verdict(group.school)
    said = verdict_text(verdict) if verdict in {"withheld", "says_nothing"} else rule
    sheet.append([])
    for row in (
        ("mean L / (J/kg)", f"=AVERAGE({values})"),
        ("uncertainty of the readings", f"=AVERAGE({spreads})"),
        ("uncertainty from repeats", repeats if last > first else 0),
        ("uncertainty by the rule / (J/kg)", f"=B5*MAX(B{mean + 1},B{mean + 2})"),
        ("uncertainty / %", f"=100*B{mean + 3}/B{mean}"),
        ("difference from the reference / %", f"=100*(B{mean}-B6)/B6"),
        ("by the rule of agreement", said),
    ):
        sheet.append(row)
    best = group.result.best
    sheet.append([])
    sheet.append(["losses taken off, by simulation (a number, not a formula) / (J/kg)", best.value])
    sheet.append(["its standard uncertainty / (J/kg)", best.standard_uncertainty])


def _energy(line: SchoolLine, places: dict[int, int]) -> Any:
    """E of a run from its first and last count, or of the difference of two runs over equal times."""
    source = line.runs[0].source
    if source == "counts":
        return _formula(line.runs, places, "counts", "B2")
    return _formula(line.runs, places, "energy", None) if source == "energy" else line.energy


def _mass(line: SchoolLine, places: dict[int, int]) -> Any:
    if len(line.runs[0].readings) < 2 or any(run.numbers("mass_step") for run in line.runs):
        return line.mass
    return _formula(line.runs, places, "mass", None)


def _formula(runs: Sequence[Run], places: dict[int, int], quantity: Quantity, factor: str | None) -> str:
    parts = []
    for run in runs:
        last, first = (_cell(run.readings[end], places, quantity) for end in (-1, 0))
        number = run.readings[0][0].numbers[quantity]
        parts.append(f"ABS({last}-{first})*{factor or repr(number.factor)}")
    if len(parts) == 1:
        return f"={parts[0]}"
    high, low = runs[0].span[2], runs[1].span[2]
    ratio = f"*{high / low!r}" if high and low and high != low else ""
    return f"={parts[0]}-{parts[1]}{ratio}"


def _cell(mark: Sequence[Reading], places: dict[int, int], quantity: Quantity) -> str:
    from openpyxl.utils import get_column_letter

    letter = get_column_letter(WORDS + 1 + COLUMNS.index(quantity))
    cells = [f"Readings!{letter}{places[row.row]}" for row in mark if quantity in row.numbers]
    return cells[0] if len(cells) == 1 else f"AVERAGE({','.join(cells)})"


def _spread(uncertainty: float, rules: SchoolRules, *, add: bool) -> str:
    """Uncertainty of a difference as factor, number of readings and division, so that each can be changed."""
    from design.evaluation.school import reading_uncertainty

    readings = rules.difference.readings
    division = uncertainty / (reading_uncertainty(1.0, rules) * (readings if add else readings**0.5))
    return f"=B3*{'B4' if add else 'SQRT(B4)'}*{division!r}"


def _warnings(sheet: Any, evaluation: Evaluation) -> None:
    sheet.append(["row", "column", "code", "message"])
    _bold(sheet, 1)
    for finding in evaluation.findings:
        sheet.append([finding.row, guarded(finding.column), finding.code, guarded(what_was_found(finding))])
    sheet.column_dimensions["D"].width = 90
