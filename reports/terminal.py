"""What a command prints: a short summary of a plan, and what to do where nothing is feasible."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports import rounding, wording

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from budget.report import BudgetReport
    from design.bench import Bench
    from design.plan import Plan


def show_plan(plan: Plan, bench: Bench, page: Path, console: Console) -> None:
    """Print the decision and the best of the ranking, then where the report is."""
    from rich.table import Table
    from rich.text import Text

    design = plan.recommended
    if design is None:
        raise ValueError("a summary needs a recommended design (got a plan without one)")
    words = wording.kit_words(bench, design)
    facts = Table(show_header=False, box=None, padding=(0, 2, 0, 0))
    facts.add_column(style="bold", no_wrap=True)
    facts.add_column(overflow="fold")
    for label, value in wording.summary(plan, design, words):
        facts.add_row(label, Text(value))
    console.print(Text(plan.bench_name, style="bold"))
    console.print(facts)
    console.print(
        Text(
            f"{rounding.grouped(str(plan.considered))} combinations considered, "
            f"{rounding.grouped(str(plan.feasible))} feasible."
        )
    )
    console.print(Text(f"Report: {page}"), soft_wrap=True)


def show_budget(report: BudgetReport, page: Path, console: Console) -> None:
    """Print the budget as a table, the result, and where the report is."""
    from rich.table import Table
    from rich.text import Text

    from reports.budget_tables import inputs_table
    from reports.pages.budget_page import facts, statement

    shown = inputs_table(report).only(
        [
            "symbol",
            "estimate",
            "standard_uncertainty",
            "unit",
            "sensitivity_coefficient",
            "contribution",
            "share_percent",
        ]
    )
    grid = Table(box=None, padding=(0, 2, 0, 0), header_style="bold")
    for column in shown.columns:
        grid.add_column(column.heading, justify="right" if column.is_number else "left")
    for row in shown.texts():
        grid.add_row(*(Text(cell) for cell in row))
    console.print(Text(report.model.name or report.model.symbol, style="bold"))
    console.print(grid)
    console.print(Text(statement(report)))
    for label, value in facts(report):
        console.print(Text(f"{label}: {value}"))
    for note in report.notes:
        if note != report.validation.sentence():
            console.print(Text(note))
    console.print(Text(f"Report: {page}"), soft_wrap=True)


def infeasible_message(plan: Plan, path: str) -> str:
    """Say that nothing is feasible, which limits are broken, and what would mend the nearest misses."""
    lines = [
        f"{path}: nothing is feasible: each of the {rounding.grouped(str(plan.considered))} combinations breaks a "
        "limit."
    ]
    common = sorted(plan.rejected.items(), key=lambda pair: (-pair[1], pair[0]))[:6]
    if common:
        lines.append("Limits, with the combinations that break them first:")
        lines += [f"  {rounding.grouped(str(number)):>8}  {reason}" for reason, number in common]
    if plan.near_misses:
        lines.append("Nearest misses, and what would mend them:")
    for miss in plan.near_misses:
        lines.append(f"  {miss.description}")
        lines += [f"    - {limit}" for limit in miss.limits]
        lines += [f"    + {remedy}" for remedy in miss.remedies]
    return "\n".join(lines)
