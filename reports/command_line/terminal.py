"""What each command prints on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from design.procedures.registry import procedure_named
from reports.command_line import console as parts
from reports.tables.compare import procedures_table
from reports.tables.plan import by_number, ranking_table
from reports.tables.rehearse import coverage_table
from reports.words import compare as wording_compare
from reports.words import plan as wording
from reports.words import rounding
from reports.words.evaluate import AGREES, per_kilogram
from reports.words.languages import ENGLISH
from reports.words.names import limit_name, remedy
from reports.words.rehearse import decision
from reports.words.search import chances_explained

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from budget.report import BudgetReport
    from design.comparison.side_by_side import Comparison
    from design.evaluation.evaluate import Evaluation
    from design.rehearsal.campaign import Rehearsal
    from design.search.plan import NearMiss, Plan


SHOWN = 5
"""Rows of the ranking that are printed."""


def show_plan(plan: Plan, page: Path, console: Console) -> None:
    """Print the decision and the best of the ranking, then where the report is."""
    design = plan.recommended
    if design is None:
        raise ValueError("a summary needs a recommended design (got a plan without one)")
    words = wording.kit_words(design.design)
    parts.heading(console, plan.bench_name)
    parts.facts(console, wording.summary(plan, design, words))
    if len(plan.ranking) > 1:
        columns = ("rank", "procedure", "price", "rms_error_percent", "within_margin_percent", "best")
        kit = ("kit",) if console.width >= parts.WIDE else ()
        parts.data_table(console, ranking_table(plan), (*columns, *kit), rows=SHOWN)
        console.print()
        parts.sentences(console, [chances_explained(plan)])
    considered, feasible = (rounding.grouped(str(number)) for number in (plan.considered, plan.feasible))
    console.print()
    parts.sentences(console, [f"{considered} combinations considered, {feasible} feasible."])
    parts.report_path(console, page)


def show_budget(report: BudgetReport, page: Path, console: Console) -> None:
    """Print the budget as a table, the result, and where the report is."""
    from reports.pages.budget_page import facts, statement
    from reports.pages.budget_tables import ROUNDED, inputs_table

    columns = ("symbol", "estimate", "standard_uncertainty", "unit", "contribution", "share_percent")
    coefficient = ("sensitivity_coefficient",) if console.width >= parts.WIDE else ()
    parts.heading(console, report.model.name or report.model.symbol)
    parts.data_table(console, inputs_table(report).rounded_by(*ROUNDED), (*columns, *coefficient))
    console.print()
    parts.sentences(console, [statement(report)])
    parts.facts(console, facts(report))
    parts.sentences(console, [note for note in report.notes if note != report.validation.sentence()])
    parts.report_path(console, page)


def infeasible_message(plan: Plan, path: str) -> str:
    """Say that nothing is feasible, which limits are broken, and what would mend the nearest misses."""
    lines = [
        f"{path}: nothing is feasible: each of the {rounding.grouped(str(plan.considered))} combinations breaks a "
        "limit."
    ]
    common = by_number(plan.rejected)[:6]
    if common:
        lines.append("Limits, with the combinations that break them first:")
        lines += [f"  {rounding.grouped(str(number)):>8}  {reason}" for reason, number in common]
    if plan.near_misses:
        lines.append("Nearest misses, and what would mend them:")
    for miss in plan.near_misses:
        lines.append(f"  {_described(miss)}")
        lines += [f"    - {limit_name(limit.key)}" for limit in miss.limits]
        lines += [f"    + {remedy(limit)}" for limit in miss.limits]
    return "\n".join(lines)


def _described(miss: NearMiss) -> str:
    powers = " and ".join(f"{power:.0f} W" for power in miss.powers_W)
    runs = "1 run" if miss.repeats == 1 else f"{miss.repeats} runs"
    procedure = procedure_named(miss.procedure, len(miss.powers_W)).name
    return f"{', '.join(miss.items)}; {procedure}, {powers}, {1000 * miss.mass_kg:.0f} g, {runs}"


def show_comparison(comparison: Comparison, page: Path, console: Console) -> None:
    """Print what the comparison found."""
    parts.heading(console, comparison.bench.name)
    parts.sentences(console, wording_compare.decision(comparison))
    columns = ("method", "bias_percent", "standard_uncertainty_percent", "rms_error_percent", "minutes")
    parts.data_table(console, procedures_table(comparison), columns)
    parts.report_path(console, page)


def show_rehearsal(rehearsal: Rehearsal, page: Path, console: Console) -> None:
    """Print what the rehearsal found."""
    parts.heading(console, rehearsal.bench.name)
    parts.sentences(console, decision(rehearsal))
    coverage = coverage_table(rehearsal)
    parts.data_table(console, coverage, [column.key for column in coverage.columns])
    parts.report_path(console, page)


def show_evaluation(evaluation: Evaluation, page: Path, console: Console) -> None:
    """Print what the readings gave: a computed value only where the own one is there, or to the teacher."""
    lines = [f"{finding.code}: {finding.message}" for finding in evaluation.findings]
    for group in evaluation.groups:
        best, plain, check = group.result.best, group.result.uncorrected, group.attempt
        if check is not None:
            step = "the same" if check.same else f"step that differs: {check.step or 'not found'}"
            lines.append(f"Group {group.group}: own value {check.difference_percent:+.2f} % from E/m; {step}")
        if group in evaluation.shown:
            lines.append(
                f"Group {group.group}: E/m {per_kilogram(plain.value, plain.standard_uncertainty)}, "
                f"corrected {per_kilogram(best.value, best.standard_uncertainty)}; "
                f"{AGREES[best.agreement.agrees]} with the reference (E_n {best.agreement.normalised_error:.2f})"
            )
        else:
            lines.append(f"Group {group.group}: {ENGLISH.text('evaluate.attempt_withheld')}")
    parts.heading(console, evaluation.bench.name)
    parts.sentences(console, lines)
    parts.report_path(console, page)
