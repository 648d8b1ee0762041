"""The rehearse command: from a bench file to a folder of virtual runs."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING, Any

from design.rehearsal.tally import sheet_columns, sheet_rows
from reports.command_line.plan_output import design_record
from reports.pages.rehearse_page import rehearse_page
from reports.tables.files import csv_bytes, timeless
from reports.tables.rehearse import rehearsal_tables, sheet_table

if TYPE_CHECKING:
    from design.bench import Bench
    from design.chosen import Design
    from design.rehearsal.campaign import Rehearsal
    from reports.command_line.commands import Request
    from reports.command_line.progress import Report
    from reports.rendering import Origin
    from reports.tables.tables import Table


FILES = (
    "report.html",
    "rehearse.json",
    "readings.csv",
    "readings.xlsx",
    "coverage.csv",
    "errors.csv",
    "reported.csv",
    "traces.csv",
    "truth.csv",
    "books.csv",
    "behaviour.csv",
)
"""Every file that a rehearsal report may consist of."""
SHOWN = 12
"""Most groups on the sample sheet."""
WORDS = ("group", "run", "mark", "heater", "remark")
"""Columns of a readings sheet that hold words."""


def rehearse_files(rehearsal: Rehearsal, origin: Origin) -> dict[str, bytes]:
    """
    Write a rehearsal as the contents of its files.

    Raises
    ------
    ValueError
        If a number of the rehearsal is not finite.
    """
    sheet = sample_sheet(rehearsal)
    record = json.dumps(rehearse_record(rehearsal, origin.version), ensure_ascii=False, indent=1, allow_nan=False)
    return {
        "report.html": rehearse_page(rehearsal, sheet, origin).encode("utf-8"),
        "rehearse.json": (record + "\n").encode("utf-8"),
        "readings.csv": csv_bytes(sheet),
        "readings.xlsx": sheet_workbook(sheet, origin.date),
        **{f"{table.name}.csv": csv_bytes(table) for table in rehearsal_tables(rehearsal)},
    }


def rehearse_record(rehearsal: Rehearsal, version: str) -> dict[str, Any]:
    """Put a rehearsal into plain dictionaries and lists; the first eight keys are public and stay."""
    design, one = rehearsal.design, rehearsal.coverage_one
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
        "coverage_68": {"asked": one.asked, "found": one.found, "interval": list(one.interval)},
        "design": design_record(design),
    }


def sample_sheet(rehearsal: Rehearsal) -> Table:
    """Readings of the first runs that came to their end, one for each group of the lesson."""
    import numpy as np

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
    from datetime import datetime

    from openpyxl import Workbook

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


def run_rehearse(request: Request, runs: int, place: int) -> None:
    """
    Play the design at a place of the plan's ranking, or with 0 what is done today.

    Raises
    ------
    DesignError
        If nothing is feasible, or the design asked for does not exist.
    """
    from design.rehearsal.campaign import rehearse
    from design.search.planning import DEFAULT_TRIALS

    bench, trials = request.bench, request.trials or DEFAULT_TRIALS

    def find(progress: Report) -> Rehearsal:
        design = _design(request, bench, place, trials, progress)
        return rehearse(design, runs=runs, seed=request.seed, trials=trials, progress=progress)

    request.answer("rehearse.json", FILES, find, rehearse_files, "show_rehearsal")


def _design(request: Request, bench: Bench, place: int, trials: int, progress: Report) -> Design:
    from design.errors import DesignError
    from design.rehearsal.campaign import planned_design, todays_design
    from design.search.planning import plan_bench

    if place == 0:
        return todays_design(bench)
    plan = plan_bench(bench, seed=request.seed, trials=trials, workers=request.workers, progress=progress)
    if plan.recommended is None:
        from reports.command_line.terminal import infeasible_message

        raise DesignError(infeasible_message(plan, str(request.file)))
    return planned_design(plan, place)
