"""The working as a workbook: readings as typed, the school rule and the JCGM 100 budget as live formulas."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from reports.tables.evaluate_school_sheet import school_sheet
from reports.tables.evaluate_working_sheet import working_sheet
from reports.tables.live_cells import Content, LiveSheet, live_book
from reports.tables.typed_cells import COLUMNS, TypedCells
from reports.words.findings import what_was_found
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.evaluation.evaluate import Evaluation

LONGEST_TITLE = 31
"""Characters that the title of a sheet may have."""


def workbook_bytes(evaluation: Evaluation, date: str, withheld: Sequence[str] = (), say: Language = ENGLISH) -> bytes:
    """
    Write the working as formulas that a spreadsheet works out again, each with its value.

    Parameters
    ----------
    evaluation : Evaluation
        What was evaluated.
    date : str
        Date of the workbook, ISO 8601.
    withheld : sequence of str
        Groups whose working is left out, as their own value is not there yet.
    say : Language
        Language of its words.
    """
    book = live_book(date)
    places = _readings(book.sheet(say.text("workbook.readings")), evaluation, say)
    typed = TypedCells(say.text("workbook.readings"), places)
    for index, group in enumerate(evaluation.groups, start=1):
        if group.group not in withheld:
            working_sheet(book.sheet(_title(say.text("workbook.working"), index, group.group)), group, typed, say)
            school_sheet(book.sheet(_title(say.text("workbook.school"), index, group.group)), group, typed, say)
    _warnings(book.sheet(say.text("workbook.rows")), evaluation, say)
    return book.content()


def _title(word: str, index: int, group: str) -> str:
    return f"{word} {index} {re.sub(r'[^0-9A-Za-z -]', '', group)}"[:LONGEST_TITLE].strip()


def _readings(sheet: LiveSheet, evaluation: Evaluation, say: Language) -> dict[int, int]:
    """Write the readings; give the row here of each row of the sheet."""
    used = [column for column in COLUMNS if any(column in reading.numbers for reading in evaluation.sheet.readings)]
    heads = ["group", "run", "mark", "heater", *COLUMNS]
    titles = [evaluation.sheet.heading(column) if column in used else column for column in heads]
    sheet.write(*titles, say.text("workbook.as_typed"), say.text("workbook.remark"), bold=True)
    places = {}
    for reading in evaluation.sheet.readings:
        numbers: list[Content] = []
        for column in COLUMNS:
            number = reading.numbers.get(column)
            numbers.append(None if number is None else float(f"{number.value / number.factor:.12g}"))
        typed = "; ".join(f"{name} {number.text}" for name, number in reading.numbers.items())
        heater = {True: "on", False: "off", None: ""}[reading.heater]
        places[reading.row] = sheet.write(
            reading.group, reading.run, reading.mark, heater, *numbers, typed, reading.remark
        )
    sheet.sheet.freeze_panes(1, 0)
    return places


def _warnings(sheet: LiveSheet, evaluation: Evaluation, say: Language) -> None:
    keys = ("table.row", "table.column", "table.code", "table.seen_and_likely")
    sheet.write(*(say.text(key) for key in keys), bold=True)
    for finding in evaluation.findings:
        sheet.write(finding.row, finding.column, finding.code, what_was_found(finding, say))
    sheet.widths(8, 16, 26, 90)
