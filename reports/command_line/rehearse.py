"""The command that rehearses: from a bench file to a folder of virtual runs."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from openpyxl import Workbook

from design.errors import DesignError
from design.rehearsal.campaign import planned_design, rehearse, todays_design
from design.rehearsal.tally import sheet_columns, sheet_rows
from design.rehearsal.worlds import WORLDS
from design.search import planning as search
from reports.command_line import console as parts
from reports.command_line.plan import design_record, infeasible_message
from reports.command_line.request import PAGE, attributes, json_bytes
from reports.pages.rehearse_page import rehearse_page
from reports.tables.files import csv_bytes, timeless
from reports.tables.rehearse import coverage_table, differs_table, rehearsal_tables, sheet_table
from reports.words.languages import ENGLISH, Language, language
from reports.words.rehearse import decision

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from design.chosen import Design
    from design.rehearsal.campaign import Elsewhere, Rehearsal
    from reports.command_line.console import Report
    from reports.command_line.request import Request
    from reports.rendering import Origin
    from reports.tables.tables import Table


CSV = ("readings", "coverage", "when_the_world_differs", "errors", "reported", "traces", "truth", "books", "behaviour")
FILES = (PAGE, "rehearse.json", "readings.xlsx", *(f"{name}.csv" for name in CSV))
"""Every file that a rehearsal report may consist of."""
SHOWN = 12
"""Most groups on the sample sheet."""
WORDS = ("group", "run", "mark", "heater", "remark")
"""Columns of a readings sheet that hold words."""


def run_rehearse(request: Request, file: Path, runs: int, place: int, code: str = "en") -> None:
    """
    Play the design at a place of the plan's ranking, or with 0 what is done today.

    The page is in the language of a code.

    Raises
    ------
    DesignError, OutputError
        If nothing is feasible, the design asked for does not exist, or there is no such language.
    """
    say = language(code)
    bench, trials = request.read(file), request.trials or search.DEFAULT_TRIALS

    def design(progress: Report) -> Design:
        if place == 0:
            return todays_design(bench)
        plan = search.plan_bench(bench, seed=request.seed, trials=trials, workers=request.workers, progress=progress)
        if plan.recommended is None:
            raise DesignError(infeasible_message(plan, str(file)))
        return planned_design(plan, place)

    def find(progress: Report) -> Rehearsal:
        return rehearse(design(progress), runs=runs, seed=request.seed, trials=trials, worlds=WORLDS, progress=progress)

    request.answer(FILES, find, partial(rehearse_files, say=say), show_rehearsal)


def show_rehearsal(rehearsal: Rehearsal, page: Path, console: Console) -> None:
    """Print what the rehearsal found."""
    parts.heading(console, rehearsal.bench.name)
    parts.sentences(console, decision(rehearsal))
    coverage = coverage_table(rehearsal)
    parts.data_table(console, coverage, [column.key for column in coverage.columns])
    parts.data_table(console, differs_table(rehearsal), ["kind", "found_percent", "bias_percent", "over_rim_percent"])
    parts.report_path(console, page)


def rehearse_files(rehearsal: Rehearsal, origin: Origin, say: Language = ENGLISH) -> dict[str, bytes]:
    """Write a rehearsal as the contents of its files; ValueError where a number is not finite."""
    sheet = sample_sheet(rehearsal)
    return {
        PAGE: rehearse_page(rehearsal, replace(sheet, caption=say.text("rehearse.table_readings")), origin, say).encode(
            "utf-8"
        ),
        "rehearse.json": json_bytes(rehearse_record(rehearsal, origin.version)),
        "readings.csv": csv_bytes(sheet),
        "readings.xlsx": sheet_workbook(sheet, origin.date),
        **{f"{table.name}.csv": csv_bytes(table) for table in rehearsal_tables(rehearsal)},
    }


def rehearse_record(rehearsal: Rehearsal, version: str) -> dict[str, Any]:
    """Put a rehearsal into plain dictionaries and lists; the first eight keys are public and stay."""
    design, one = rehearsal.ranked, rehearsal.coverage_one
    return {
        "runs": int(rehearsal.reported.size),
        "coverage_asked": rehearsal.coverage.asked,
        "coverage_found": rehearsal.coverage.found,
        "coverage_interval": list(rehearsal.coverage.interval),
        "bias_percent": 100.0 * rehearsal.bias,
        "spread_percent": 100.0 * rehearsal.spread,
        "budget_bias_percent": design.bias_percent,
        "budget_standard_uncertainty_percent": design.standard_uncertainty_percent,
        "boiloff": version,
        "bench": rehearsal.bench.name,
        "seed": rehearsal.seed,
        "abandoned": rehearsal.abandoned,
        "reference_J_per_kg": rehearsal.reference,
        "coverage_68": attributes(one, "asked found interval"),
        "over_rim_share": rehearsal.over_rim,
        "when_the_world_differs": [_elsewhere_record(one) for one in rehearsal.elsewhere],
        "design": design_record(design),
    }


def _elsewhere_record(one: Elsewhere) -> dict[str, Any]:
    """A world that differs; ``outside`` tells whether it lies outside what the budget states."""
    return {
        "kind": one.world.key,
        "coverage_found": one.coverage.found,
        "bias_percent": 100.0 * one.bias,
        "over_rim_share": one.over_rim,
        "outside": one.world.outside,
        "runs": one.runs,
        "coverage_interval": list(one.coverage.interval),
    }


def sample_sheet(rehearsal: Rehearsal) -> Table:
    """Readings of the first runs that came to their end, one for each group of the lesson."""
    groups = rehearsal.bench.lesson.groups
    finished = np.flatnonzero(np.isfinite(rehearsal.played.noted.time).all(axis=1))[: max(1, min(groups, SHOWN))]
    rows = [
        row
        for place, index in enumerate(finished, start=1)
        for row in sheet_rows(rehearsal.sheet, int(index), str(place))
    ]
    return sheet_table(rows, sheet_columns(rows))


def sheet_workbook(sheet: Table, date: str) -> bytes:
    """Write a readings sheet as XLSX: numbers as numbers that show the digits typed."""
    book = Workbook()
    page = book.worksheets[0]
    page.title = sheet.name
    page.append([column.key for column in sheet.columns])
    for place, row in enumerate(sheet.rows, start=2):
        for number, (column, cell) in enumerate(zip(sheet.columns, row, strict=True), start=1):
            text = str(cell or "")
            if not text or column.key in WORDS:
                page.cell(place, number, text or None)
                continue
            decimals = len(text.partition(".")[2])
            page.cell(place, number, float(text)).number_format = f"0.{'0' * decimals}" if decimals else "0"
    page.freeze_panes = "A2"
    book.properties.creator = "boiloff"
    book.properties.created = datetime.fromisoformat(date)
    buffer = io.BytesIO()
    book.save(buffer)
    return timeless(buffer.getvalue(), date)
