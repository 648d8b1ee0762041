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
from reports.tables.evaluate_attempts import attempt_table, ways_table
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.evaluate import per_kilogram, scatter_of_readings, why_off
from reports.words.languages import ENGLISH, Language
from reports.words.names import procedure_name
from reports.words.suspects import what_could_be_wrong

if TYPE_CHECKING:
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.result import Outcome
    from reports.figures.canvas import Figure
    from reports.rendering import Origin


def evaluate_page(evaluation: Evaluation, origin: Origin, say: Language = ENGLISH) -> str:
    """
    Write the evaluation report as one HTML document that loads nothing.

    In the student's copy the computed value of a group appears once the group's own value is there, and no sentence of
    an evaluation does.
    """
    shown, teacher = evaluation.shown, evaluation.request.teacher
    all_shown = len(shown) == len(evaluation.groups)
    groups = [_group(evaluation, group, say) for group in evaluation.groups]
    values: dict[str, Any] = {
        "evaluation": evaluation,
        "origin": origin,
        "words": say.group("evaluate"),
        "lang": say.code,
        "text": say.group("heading") | {"skip": say.text("evaluate.skip"), "numbers": say.text("evaluate.numbers")},
        "teacher": teacher,
        "invented": say.text("evaluate.invented") if evaluation.bench.scenario == "invented" else "",
        "facts": facts(evaluation, say),
        "attempts": attempt_table(evaluation, say),
        "ways": [ways_table(group, say) for group in evaluation.groups if group.attempt and not group.attempt.same],
        "withheld": [group.group for group in evaluation.groups if group not in shown],
        "findings": tables.finding_table(evaluation.findings, say),
        "shown": bool(shown),
        "results": tables.result_table(evaluation, say) if all_shown else None,
        "groups": groups,
        "rules": tables.rules_table(evaluation.groups[0].school, say),
        "improvements": tables.improvement_table(evaluation, say),
        "classroom": _classroom(evaluation, say) if all_shown else None,
        "signs": tables.direction_table(say),
        "safety": wording.safety(say),
        "heater_off": say.text("caution.heater_off_warning"),
        "acknowledgement": acknowledgement(evaluation, origin, say),
        "attempt_heading": _attempt_heading(evaluation, say),
        "contents": _contents(evaluation, say),
    }
    return page("evaluate.html", values)


def facts(evaluation: Evaluation, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Say what was evaluated, as pairs of label and text."""
    used, bench, _ = evaluation.used, evaluation.bench, say.text
    kit = ", ".join(
        wording_items.named(wording_items.role(role, say), item.name, say) for role, item in used.kit.items.items()
    )
    loss, spread = used.hardware.loss, used.hardware.loss_uncertainty
    reference = evaluation.groups[0].result.best.agreement.reference_uncertainty
    rows = _(
        "evaluate.fact_rows",
        file=evaluation.sheet.file,
        rows=len(evaluation.sheet.readings),
        groups=len(evaluation.groups),
    )
    return (
        (_("evaluate.fact_readings"), rows),
        (_("evaluate.fact_bench"), bench.name),
        (_("evaluate.fact_kit"), kit),
        (
            _("evaluate.fact_procedure"),
            f"{procedure_name(used.procedure, say)}; {wording.correction(used.correction, say)}",
        ),
        (
            _("evaluate.fact_reference"),
            _(
                "evaluate.fact_reference_at",
                reference=per_kilogram(used.reference, reference, say=say),
                pressure=say.in_unit(bench.room.pressure / 1e3, "kPa", 4),
            ),
        ),
        (_("evaluate.fact_loss"), say.with_standard_uncertainty(loss, spread, "W")),
        (_("evaluate.fact_rule"), evaluation.groups[0].school.rules.name),
        (_("evaluate.rows_again"), str(len(evaluation.findings))),
    )


def acknowledgement(evaluation: Evaluation, origin: Origin, say: Language = ENGLISH) -> str:
    """Line by which a student names the program, its version, the date and the inputs."""
    return say.text(
        "evaluate.acknowledged",
        version=origin.version,
        date=origin.date,
        file=evaluation.sheet.file,
        digest=evaluation.sheet.digest[:16],
        bench=evaluation.bench.path,
    )


def _group(evaluation: Evaluation, group: GroupEvaluation, say: Language) -> dict[str, Any]:
    teacher, shown = evaluation.request.teacher, group in evaluation.shown
    account = account_tables.account_table(group, say)
    key = f"g{evaluation.groups.index(group) + 1}"
    explained = teacher and group.explanation is not None
    return {
        "name": group.group,
        "heading": say.text("evaluate.group", group=group.group),
        "key": key,
        "graphs": group_graphs(group, key, say, shown=shown),
        "school": tables.school_table(group, say) if shown else None,
        "left_out": tables.left_out_table(group, say) if shown else None,
        "figure": _intervals(evaluation, group, say) if shown else None,
        "scatter": scatter_of_readings(group, say) if shown else (),
        "sources": tables.source_table(group, say),
        "why": (*what_could_be_wrong(group, say), *why_off(group, say)) if teacher else (),
        "suspects": account_tables.suspect_table(group, say) if teacher else None,
        "account": account if explained else None,
        "posterior": posterior(
            f"posterior-{evaluation.groups.index(group) + 1}", group.explanation.accounts, account, say
        )
        if explained and group.explanation
        else None,
        "budget": tables.budget_table(group, say) if teacher else None,
        "marks": tables.marks_table(group, say),
        "equations": equations(group.result.best.model) if teacher else "",
    }


def _intervals(evaluation: Evaluation, group: GroupEvaluation, say: Language) -> Figure:
    """Own value, school rule, readings alone, and losses taken off, beside the reference."""
    rows = []
    if group.attempt is not None:
        own = group.attempt.attempt
        rows.append(_row(say.text("evaluate.own_interval"), own.value, own.uncertainty or 0.0, "own"))
    school = group.school
    rows.append(
        _row(say.text("evaluate.school_interval", rules=school.rules.name), school.value, school.uncertainty, "school")
    )
    plain, best = group.result.uncorrected, group.result.best
    rows.append(_outcome_row(say.text("evaluate.readings_interval"), plain, "readings"))
    rows.append(_outcome_row(say.text("evaluate.corrected_interval"), best, "corrected"))
    coverage = say.percent_of_share(evaluation.request.coverage)
    caption = say.text("evaluate.interval_caption", coverage=coverage)
    key = f"interval-{evaluation.groups.index(group) + 1}"
    return intervals(key, rows, group.result.used.reference / 1e3, caption, say)


def _row(label: str, value: float, half: float, kind: str) -> Interval:
    return Interval(label, value / 1e3, (value - half) / 1e3, (value + half) / 1e3, kind, half / 1e3)


def _outcome_row(label: str, outcome: Outcome, kind: str) -> Interval:
    low, high = outcome.interval
    return Interval(label, outcome.value / 1e3, low / 1e3, high / 1e3, kind, outcome.standard_uncertainty / 1e3)


def _classroom(evaluation: Evaluation, say: Language) -> dict[str, Any] | None:
    view = evaluation.classroom
    if view is None:
        return None
    robust = robust_of(evaluation)
    return {
        "table": tables.class_table(evaluation, say),
        "figure": class_graph(evaluation, view, robust, say),
        "said": class_said(evaluation, view, robust, say),
    }


def _contents(evaluation: Evaluation, say: Language) -> list[tuple[str, str]]:
    teacher, shown = evaluation.request.teacher, bool(evaluation.shown)
    names = ["attempt", "findings"]
    names += ["result"] if shown else []
    names += ["graphs"]
    names += ["classroom"] if evaluation.classroom is not None and shown else []
    names += ["school"] if shown else []
    names += ["account"] if teacher else []
    names += ["sources", "improvements", "signs"]
    names += ["budget"] if teacher else []
    names += ["rules", "cautions", "acknowledgement"]
    headings = {**say.group("evaluate"), "attempt": _attempt_heading(evaluation, say)}
    return [(f"{name}-section", headings[name]) for name in names]


def _attempt_heading(evaluation: Evaluation, say: Language) -> str:
    """Ask of own values where there are any, or where the student's copy waits for them."""
    asked = not evaluation.request.teacher or any(group.attempt is not None for group in evaluation.groups)
    return say.text("evaluate.attempt" if asked else "evaluate.evaluated")
