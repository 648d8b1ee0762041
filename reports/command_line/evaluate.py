"""The command that evaluates readings, and the files that it writes."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from design.errors import DesignError
from design.evaluation.attempts import Attempt
from design.evaluation.evaluate import NothingEvaluatedError, evaluate
from design.evaluation.learned import knowledge_table
from design.sheets.readings_file import read_readings
from reports.command_line import console as parts
from reports.command_line.plan_file import read_planned
from reports.command_line.request import PAGE, attributes, json_bytes
from reports.pages.evaluate_page import evaluate_page
from reports.pages.handout_page import class_page, handouts_page
from reports.tables import evaluate as tables
from reports.tables.evaluate_workbook import workbook_bytes
from reports.tables.files import csv_bytes
from reports.words.evaluate import per_kilogram, stated, verdict_text, with_expanded
from reports.words.findings import what_was_found
from reports.words.languages import ENGLISH, Language, language
from reports.words.names import quantity_name, source_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from rich.console import Console

    from design.evaluation.classroom import ClassView
    from design.evaluation.evaluate import Evaluation, EvaluationRequest, GroupEvaluation
    from design.evaluation.result import GroupResult, Outcome
    from design.evaluation.school import SchoolResult
    from reports.command_line.console import Report
    from reports.command_line.request import EvaluateRequest
    from reports.rendering import Origin

CSV = ("warnings.csv", "groups.csv", "sources.csv", "improvements.csv")
HANDOUTS, CLASS = "handouts.html", "class.html"
FILES = (PAGE, HANDOUTS, CLASS, "evaluate.json", "working.xlsx", *CSV, "knowledge.toml")
"""Every file that an evaluation may consist of."""


def run_evaluate(request: EvaluateRequest, asked: EvaluationRequest) -> None:
    """Evaluate a readings sheet, taken with what the bench file says of today or with a design of a plan."""
    if request.attempt is None and request.attempt_uncertainty is not None:
        raise DesignError("--attempt-uncertainty: must come with --attempt VALUE (got no value)")
    say = language(request.language)
    if request.plan is None and request.place is not None:
        raise DesignError("--design: must come with --plan plan.json, whose ranking it counts in (got no plan)")
    bench, sheet = request.read(request.bench_file), read_readings(request.readings)
    asked = replace(
        asked,
        attempt=None if request.attempt is None else Attempt(request.attempt, request.attempt_uncertainty),
        coverage=bench.search.coverage,
        seed=request.seed,
        trials=request.trials or asked.trials,
        planned=None if request.plan is None else read_planned(request.plan, bench, request.place),
    )

    def find(progress: Report) -> Evaluation:
        with parts.stage(progress, "evaluating the readings"):
            try:
                return evaluate(bench, sheet, asked)
            except NothingEvaluatedError as refused:
                lines = [f"{refused}:", *map(what_was_found, refused.findings)]
                raise DesignError("\n".join(lines)) from refused

    request.answer(FILES, find, partial(evaluate_files, say=say), partial(show_evaluation, say=say))


def show_evaluation(evaluation: Evaluation, page: Path, console: Console, say: Language = ENGLISH) -> None:
    """Print findings and what the readings gave: a computed value where the own one is there, or to the teacher."""
    lines = [what_was_found(finding, say) for finding in evaluation.findings]
    for group in evaluation.groups:
        name, check = say.text("evaluate.group", group=group.group), group.attempt
        if check is not None:
            said = say.text("evaluate.step_same" if check.same else "evaluate.step_differs", step=check.step or "?")
            own = say.text("evaluate.own", difference=say.signed_percent(check.difference_percent))
            lines.append(f"{name}: {own}; {said}")
        if group in evaluation.shown:
            lines.append(f"{name}: {stated(group.result.best, group.verdict, say)}")
            plain = group.result.uncorrected
            lines.append(f"{name}: {say.text('evaluate.plain', value=with_expanded(plain, say))}")
        else:
            lines.append(f"{name}: {say.text('evaluate.attempt_withheld')}")
    view = evaluation.classroom
    if view is not None and evaluation.request.teacher:
        expanded = 0.5 * (view.interval[1] - view.interval[0])
        pooled = per_kilogram(view.value, expanded, say=say)
        lines.append(say.text("evaluate.pooled", value=pooled, verdict=verdict_text(evaluation.verdict, say)))
    parts.heading(console, evaluation.bench.name)
    parts.sentences(console, lines)
    parts.report_path(console, page)


def evaluate_files(evaluation: Evaluation, origin: Origin, say: Language = ENGLISH) -> dict[str, bytes]:
    """Write an evaluation as the contents of its files; ValueError where a number is not finite."""
    withheld = [group.group for group in evaluation.groups if group not in evaluation.shown]
    files = {
        PAGE: evaluate_page(evaluation, origin, say).encode("utf-8"),
        HANDOUTS: handouts_page(evaluation, origin, say).encode("utf-8"),
        "evaluate.json": json_bytes(evaluate_record(evaluation)),
        "working.xlsx": workbook_bytes(evaluation, origin.date, withheld, say),
        "warnings.csv": csv_bytes(tables.finding_table(evaluation.findings)),
        "sources.csv": csv_bytes(tables.source_table(evaluation.groups[0])),
        "improvements.csv": csv_bytes(tables.improvement_table(evaluation)),
    }
    if not withheld:
        files["groups.csv"] = csv_bytes(tables.result_table(evaluation))
        if evaluation.classroom is not None:
            files[CLASS] = class_page(evaluation, origin, say).encode("utf-8")
    if evaluation.learned is not None:
        files["knowledge.toml"] = learned_text(evaluation, origin).encode("utf-8")
    return files


def learned_text(evaluation: Evaluation, origin: Origin) -> str:
    """Write the knowledge learned as TOML, with where it comes from."""
    learned, used, sheet = evaluation.learned, evaluation.used, evaluation.sheet
    if learned is None:
        raise ValueError("no knowledge was learned")
    kit = used.kit
    provenance = (
        f"Learned by boiloff {origin.version} on {origin.date}; for plan --knowing, or the bench file's [knowledge].",
        f"Bench: {evaluation.bench.path}; readings: {sheet.file}",
        f"SHA-256 {sheet.digest}; groups: {learned.groups}.",
        "By importance sampling on the bench's knowledge, effective sample size "
        f"{learned.effective_sample_size:.0f}, if the latent heat is {used.reference / 1e3:.1f} kJ/kg within 0.1 %.",
        f'Holds for heater "{kit.heater.name}" in vessel "{kit.vessel.name}", and for the meter "{kit.meter.name}".',
        *(f'Stated for the vessel without "{one.name}", which it wore, as a bench file does.' for one in kit.fittings),
    )
    return knowledge_table(learned, kit, [_one_line(line) for line in provenance])


def _one_line(text: str) -> str:
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def evaluate_record(evaluation: Evaluation) -> dict[str, Any]:
    """Put an evaluation into plain dictionaries and lists; for several groups the value is the pooled one."""
    first, groups = evaluation.groups[0], evaluation.groups
    return _values(evaluation.classroom or first.result.best, groups) | {
        "verdict": evaluation.verdict,
        "warnings": [
            attributes(finding, "row column code") | {"message": what_was_found(finding)}
            for finding in evaluation.findings
        ],
        "groups": [_group_record(group) for group in groups],
        "school": _school_record(first.school, first.presets),
        "sources": _source_records(first),
    }


def _values(found: Outcome | ClassView, groups: Sequence[GroupEvaluation]) -> dict[str, Any]:
    """Put what was found from groups into a dictionary, with the means of their uncorrected values and losses."""
    return {
        "latent_heat_J_per_kg": found.value,
        "uncorrected_J_per_kg": sum(group.result.uncorrected.value for group in groups) / len(groups),
        "standard_uncertainty_J_per_kg": found.standard_uncertainty,
        "interval_J_per_kg": found.interval,
        "corrected": groups[0].result.corrected,
        "reference_J_per_kg": found.agreement.reference,
        **attributes(found.agreement, "difference_percent normalised_error"),
        "losses_W": sum(group.result.measured.loss for group in groups) / len(groups),
    }


def _group_record(group: GroupEvaluation) -> dict[str, Any]:
    check, school = group.attempt, group.school
    return {
        "group": group.group,
        **_values(group.result.best, [group]),
        "procedure": group.result.used.procedure.identifier,
        "correction": group.result.used.correction,
        "z_score": group.result.best.agreement.z_score,
        **_scatter_record(group.result),
        "verdict": group.verdict,
        "energy_source": _energy_sources(group),
        "school_J_per_kg": school.value,
        "school_uncertainty_J_per_kg": school.uncertainty,
        "attempt": None
        if check is None
        else {
            "value_J_per_kg": check.attempt.value,
            "uncertainty_J_per_kg": check.attempt.uncertainty,
            **attributes(check, "difference_percent same step figures"),
            "recognised": [way.way for way in check.done],
        },
        **_suspect_record(group),
        "effective_sample_size": group.explanation.effective_sample_size if group.explanation else None,
        "refusal": group.refusal,
    }


def _suspect_record(group: GroupEvaluation) -> dict[str, Any]:
    """Put single causes, the run that would tell, and the loss that the readings give into a dictionary."""
    suspects, further, seen = group.suspects, group.further, group.seen_loss
    return {
        "as_known_probability": suspects.as_known,
        "suspects": [
            attributes(one, "key probability size unit row") | {"likelihood_ratio": one.ratio}
            for one in suspects.ranked
        ],
        "inseparable": [one.key for one in suspects.inseparable],
        "further_run": None
        if further is None
        else attributes(further, "kind first second readings standard_uncertainty unit"),
        "loss_seen": None
        if seen is None
        else {"way": seen.way, "value_W": seen.value, "standard_uncertainty_W": seen.standard_uncertainty},
    }


def _scatter_record(result: GroupResult) -> dict[str, Any]:
    """Put what the readings show of their noise into a dictionary; keys of what they cannot show are None."""
    scatter, budget = result.measured.scatter, result.best.propagation
    shown = scatter.seen
    return {
        "effective_dof": budget.effective_dof if math.isfinite(budget.effective_dof) else None,
        "coverage_factor": budget.coverage_factor,
        "expanded_uncertainty_J_per_kg": budget.expanded_uncertainty,
        "scatter": {
            "seen": shown,
            "chi_square": scatter.chi_square if shown else None,
            "degrees_of_freedom": scatter.degrees_of_freedom,
            "chance": scatter.chance if shown else None,
            "factor": scatter.factor,
            "expected_noise_kg": scatter.expected_noise,
            "effective_dof": scatter.effective_dof if shown else None,
            "expanded_uncertainty_at_three_times_J_per_kg": result.best.expanded_uncertainty_unseen,
            "fits": [attributes(fit, "kind power run chi_square degrees_of_freedom chance") for fit in scatter.fits],
        },
    }


def _energy_sources(group: GroupEvaluation) -> list[str]:
    """Where the energy of the runs comes from, each once; "nameplate" is computed, and no reading."""
    return sorted({run.source for level in group.result.measured.levels for run in level})


def _school_record(school: SchoolResult, presets: tuple[SchoolResult, ...]) -> dict[str, Any]:
    def one(result: SchoolResult) -> dict[str, Any]:
        return {
            "rules": result.rules.name,
            "latent_heat_J_per_kg": result.value,
            "uncertainty_J_per_kg": result.uncertainty,
            "uncertainty_percent": result.percent,
            **attributes(result, "difference_percent agrees"),
        }

    return one(school) | {"presets": [one(preset) for preset in presets], "sources": dict(school.rules.sources)}


def _source_records(group: GroupEvaluation) -> list[dict[str, Any]]:
    """Every source with its knowledge before and after, largest share of the variance first."""
    accounts = {account.symbol: account for account in group.explanation.accounts} if group.explanation else {}
    records = []
    for source in tables.sources_of(group):
        quantity = source.quantity
        symbol = quantity.symbol.removesuffix("_est")
        account = accounts.get(symbol)
        records.append(
            {
                "quantity": quantity_name(quantity.name),
                "symbol": symbol,
                "unit": quantity.unit,
                "estimate": quantity.distribution.mean,
                "standard_uncertainty": quantity.distribution.standard_uncertainty,
                "bias_percent": source.pushes,
                "standard_uncertainty_percent": source.uncertainty,
                "share": source.share,
                "kind": source.kind,
                "posterior_estimate": account.mean if account else None,
                "posterior_standard_uncertainty": account.standard_uncertainty if account else None,
                "posterior_interval": list(account.interval) if account else None,
                "alone": account.alone if account else None,
                "chance": account.chance if account else None,
                "evidence": source_words(quantity.source),
            }
        )
    return sorted(records, key=lambda record: -float(record["share"]))
