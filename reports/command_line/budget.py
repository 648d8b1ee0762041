"""The command that works out a budget: page, JSON, CSV and XLSX."""

from __future__ import annotations

from typing import TYPE_CHECKING

from budget.budget_file import read_budget_file
from budget.report import BudgetReport, analyse
from reports.command_line import console as parts
from reports.command_line.request import PAGE, json_bytes
from reports.pages.budget_page import ROUNDED, budget_page, facts, inputs_table, statement, telling
from reports.tables.files import csv_bytes, xlsx_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from budget.budget_file import BudgetFile
    from reports.command_line.console import Report
    from reports.command_line.request import Request
    from reports.rendering import Origin

FILES = (PAGE, "budget.json", "budget.csv", "budget.xlsx")
"""Every file of a budget report."""


def run_budget(request: Request, path: Path, order: int) -> None:
    """Work out the budget of a budget file by the law of propagation to an order."""
    file = read_budget_file(path)
    coverage = file.coverage if request.coverage is None else request.coverage

    def find(progress: Report) -> BudgetReport:
        with parts.stage(progress, "working out the budget"):
            return analyse(file.model, coverage, order, request.trials, request.seed, workers=request.workers)

    def write(report: BudgetReport, origin: Origin) -> dict[str, bytes]:
        return budget_files(report, file, request.seed, origin)

    request.answer(FILES, find, write, show_budget)


def show_budget(report: BudgetReport, page: Path, console: Console) -> None:
    """Print the budget as a table, the result, and where the report is."""
    columns = ("symbol", "estimate", "standard_uncertainty", "unit", "contribution", "share_percent")
    coefficient = (
        ("type", "coverage_factor", "degrees_of_freedom", "sensitivity_coefficient")
        if console.width >= parts.WIDE
        else ()
    )
    parts.heading(console, report.model.name or report.model.symbol)
    table = inputs_table(report)
    kept = [key for key in coefficient if key in telling(table)]
    parts.data_table(console, table.rounded_by(*ROUNDED), (*columns, *kept))
    console.print()
    parts.sentences(console, [statement(report)])
    parts.facts(console, facts(report))
    parts.sentences(console, [note for note in report.notes if note != report.validation.sentence()])
    parts.report_path(console, page)


def budget_files(report: BudgetReport, file: BudgetFile, seed: int, origin: Origin) -> dict[str, bytes]:
    """Write a budget as the contents of its files."""
    table = inputs_table(report)
    record = {**report.to_json_dict(), "boiloff": origin.version, "seed": seed}
    return {
        PAGE: budget_page(report, file, seed, origin).encode("utf-8"),
        "budget.json": json_bytes(record),
        "budget.csv": csv_bytes(table),
        "budget.xlsx": xlsx_bytes([table], origin.date),
    }
