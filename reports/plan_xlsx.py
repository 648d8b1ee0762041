"""The tables of a plan as one workbook: a sheet a table, units in the headings, numbers as numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from reports.languages import ENGLISH, Language
from reports.plan_tables import plan_tables
from reports.search_tables import search_tables
from reports.xlsx_files import xlsx_bytes

if TYPE_CHECKING:
    from design.plan import Plan
    from reports.tables import Column, Table

FILE = "plan.xlsx"
"""Name of the workbook."""
SOFT_HYPHEN = "\u00ad"
"""Where a page may break a long heading; a spreadsheet would show it."""


def plan_workbook(plan: Plan, date: str, say: Language = ENGLISH) -> bytes:
    """
    Write every table of a plan into a workbook.

    Parameters
    ----------
    plan : Plan
        The plan.
    date : str
        Date of the workbook, ISO 8601.
    say : Language
        Language of headings.
    """
    tables = (*plan_tables(plan), *search_tables(plan).values())
    named = {table.name: with_units(table, say) for table in tables}
    return xlsx_bytes(tuple(named.values()), date)


def with_units(table: Table, say: Language = ENGLISH) -> Table:
    """Translate the headings of a table and put the unit behind each, after a solidus."""
    return replace(table, columns=tuple(_with_unit(column, say) for column in table.columns))


def _with_unit(column: Column, say: Language) -> Column:
    heading = say.text(column.heading).replace(SOFT_HYPHEN, "")
    return replace(column, heading=f"{heading} / {column.unit_behind}" if column.unit_behind else heading)
