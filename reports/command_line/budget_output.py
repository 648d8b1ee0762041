"""A budget as files: page, JSON, CSV and XLSX."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from reports.pages.budget_page import budget_page
from reports.pages.budget_tables import inputs_table
from reports.tables.files import csv_bytes, xlsx_bytes

if TYPE_CHECKING:
    from budget.budget_file import BudgetFile
    from budget.report import BudgetReport
    from reports.rendering import Origin

FILES = ("report.html", "budget.json", "budget.csv", "budget.xlsx")
"""Every file of a budget report."""


def budget_files(report: BudgetReport, file: BudgetFile, seed: int, origin: Origin) -> dict[str, bytes]:
    """Write a budget as the contents of its files."""
    table = inputs_table(report)
    record = {**report.to_json_dict(), "boiloff": origin.version, "seed": seed}
    return {
        "report.html": budget_page(report, file, seed, origin).encode("utf-8"),
        "budget.json": (json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8"),
        "budget.csv": csv_bytes(table),
        "budget.xlsx": xlsx_bytes([table], origin.date),
    }
