"""The evaluation report: the student's copy with labels, numbers and figures; the teacher's with the account."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.figures.intervals import Interval, intervals
from reports.figures.posterior import posterior
from reports.pages.evaluate_graphs import class_graph, class_said, group_graphs, robust_of
from reports.pages.plan_page import equations
from reports.rendering import page
from reports.tables import account as account_tables
from reports.tables import evaluate as tables
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words import rounding
from reports.words.evaluate import per_kilogram, scatter_of_readings, why_off
from reports.words.languages import ENGLISH
from reports.words.names import procedure_name
from reports.words.suspects import what_could_be_wrong

if TYPE_CHECKING:
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.result import Outcome
    from reports.figures.canvas import Figure
    from reports.rendering import Origin


def evaluate_page(evaluation: Evaluation, origin: Origin) -> str:
    """
    Write the evaluation report as one HTML document that loads nothing.

    In the student's copy the computed value of a group appears once the group's own value is there, and no sentence of
    an evaluation does.
    """
    shown, teacher = evaluation.shown, evaluation.request.teacher
    all_shown = len(shown) == len(evaluation.groups)
    groups = [_group(evaluation, group) for group in evaluation.groups]
    graphs = any(group["graphs"] for group in groups)
    values: dict[str, Any] = {
        "evaluation": evaluation,
        "origin": origin,
        "words": ENGLISH.group("evaluate"),
        "teacher": teacher,
        "invented": ENGLISH.text("evaluate.invented") if evaluation.bench.scenario == "invented" else "",
        "facts": facts(evaluation),
        "attempts": tables.attempt_table(evaluation),
        "ways": [tables.ways_table(group) for group in evaluation.groups if group.attempt and not group.attempt.same],
        "withheld": [group.group for group in evaluation.groups if group not in shown],
        "findings": tables.finding_table(evaluation.findings),
        "shown": bool(shown),
        "results": tables.result_table(evaluation) if all_shown else None,
        "groups": groups,
        "graphs": graphs,
        "rules": tables.rules_table(evaluation.groups[0].school),
        "improvements": tables.improvement_table(evaluation),
        "classroom": _classroom(evaluation) if all_shown else None,
        "signs": tables.direction_table(),
        "safety": wording.safety(),
        "heater_off": ENGLISH.text("caution.heater_off_warning"),
        "acknowledgement": acknowledgement(evaluation, origin),
        "attempt_heading": _attempt_heading(evaluation),
        "contents": _contents(evaluation, graphs=graphs),
    }
    return page("evaluate.html", values)


def facts(evaluation: Evaluation) -> tuple[tuple[str, str], ...]:
    """Say what was evaluated, as pairs of label and text."""
    used, bench = evaluation.used, evaluation.bench
    kit = ", ".join(f"{wording_items.role(role)} “{item.name}”" for role, item in used.kit.items.items())
    loss, spread = used.hardware.loss, used.hardware.loss_uncertainty
    return (
        (
            "Readings",
            f"{evaluation.sheet.file}; rows: {len(evaluation.sheet.readings)}; groups: {len(evaluation.groups)}",
        ),
        ("Bench", bench.name),
        ("Kit", kit),
        ("Procedure", f"{procedure_name(used.procedure)}; {wording.correction(used.correction)}"),
        (
            "Reference",
            f"{per_kilogram(used.reference, evaluation.groups[0].result.best.agreement.reference_uncertainty)} at "
            f"{rounding.in_unit(bench.room.pressure / 1e3, 'kPa', 4)}",
        ),
        ("Heat loss, as known before", rounding.with_standard_uncertainty(loss, spread, "W")),
        ("School rule", evaluation.groups[0].school.rules.name),
        ("Rows to look at again", str(len(evaluation.findings))),
    )


def acknowledgement(evaluation: Evaluation, origin: Origin) -> str:
    """Line by which a student names the program, its version, the date and the inputs."""
    return (
        f"Computed with boiloff {origin.version} on {origin.date} from {evaluation.sheet.file} "
        f"(SHA-256 {evaluation.sheet.digest[:16]}…) and {evaluation.bench.path}; a model, not a measurement."
    )


def _group(evaluation: Evaluation, group: GroupEvaluation) -> dict[str, Any]:
    teacher, shown = evaluation.request.teacher, group in evaluation.shown
    account = account_tables.account_table(group)
    key = f"g{evaluation.groups.index(group) + 1}"
    explained = teacher and group.explanation is not None
    return {
        "name": group.group,
        "key": key,
        "graphs": group_graphs(group, key, shown=shown),
        "school": tables.school_table(group) if shown else None,
        "left_out": tables.left_out_table(group) if shown else None,
        "figure": _intervals(evaluation, group) if shown else None,
        "scatter": scatter_of_readings(group) if shown else (),
        "sources": tables.source_table(group),
        "why": (*what_could_be_wrong(group), *why_off(group)) if teacher else (),
        "suspects": account_tables.suspect_table(group) if teacher else None,
        "account": account if explained else None,
        "posterior": posterior(f"posterior-{evaluation.groups.index(group) + 1}", group.explanation.accounts, account)
        if explained and group.explanation
        else None,
        "budget": tables.budget_table(group) if teacher else None,
        "marks": tables.marks_table(group) if teacher else None,
        "equations": equations(group.result.best.model) if teacher else "",
    }


def _intervals(evaluation: Evaluation, group: GroupEvaluation) -> Figure:
    """Own value, school rule, readings alone, and losses taken off, beside the reference."""
    rows = []
    if group.attempt is not None:
        own = group.attempt.attempt
        rows.append(_row("own value", own.value, own.uncertainty or 0.0, "own"))
    school = group.school
    rows.append(_row(f"school rule: {school.rules.name}", school.value, school.uncertainty, "school"))
    plain, best = group.result.uncorrected, group.result.best
    rows.append(_outcome_row("readings alone, E/m", plain, "readings"))
    rows.append(_outcome_row("losses taken off", best, "corrected"))
    coverage = rounding.percent_of_share(evaluation.request.coverage)
    caption = (
        f"Dashed line: reference at room pressure. Bars: limits of the rule; for the last two {coverage} intervals."
    )
    key = f"interval-{evaluation.groups.index(group) + 1}"
    return intervals(key, rows, group.result.used.reference / 1e3, caption)


def _row(label: str, value: float, half: float, kind: str) -> Interval:
    return Interval(label, value / 1e3, (value - half) / 1e3, (value + half) / 1e3, kind, half / 1e3)


def _outcome_row(label: str, outcome: Outcome, kind: str) -> Interval:
    low, high = outcome.interval
    return Interval(label, outcome.value / 1e3, low / 1e3, high / 1e3, kind, outcome.standard_uncertainty / 1e3)


def _classroom(evaluation: Evaluation) -> dict[str, Any] | None:
    view = evaluation.classroom
    if view is None:
        return None
    robust = robust_of(evaluation)
    return {
        "table": tables.class_table(evaluation),
        "figure": class_graph(evaluation, view, robust),
        "said": class_said(view, robust),
    }


def _contents(evaluation: Evaluation, *, graphs: bool) -> list[tuple[str, str]]:
    teacher, shown = evaluation.request.teacher, bool(evaluation.shown)
    names = ["attempt", "findings"]
    names += ["result"] if shown else []
    names += ["graphs"] if graphs else []
    names += ["classroom"] if evaluation.classroom is not None and shown else []
    names += ["school"] if shown else []
    names += ["account"] if teacher else []
    names += ["sources", "improvements", "signs"]
    names += ["budget"] if teacher else []
    names += ["rules", "cautions", "acknowledgement"]
    headings = {**ENGLISH.group("evaluate"), "attempt": _attempt_heading(evaluation)}
    return [(f"{name}-section", headings[name]) for name in names]


def _attempt_heading(evaluation: Evaluation) -> str:
    """Ask of own values where there are any, or where the student's copy waits for them."""
    asked = not evaluation.request.teacher or any(group.attempt is not None for group in evaluation.groups)
    return ENGLISH.text("evaluate.attempt" if asked else "evaluate.evaluated")
