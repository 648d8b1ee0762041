"""What ``boiloff evaluate`` does, apart from reading the command line, and the files that it writes."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from design.errors import DesignError
from design.evaluation.attempts import Attempt
from design.evaluation.evaluate import evaluate
from design.evaluation.learned import knowledge_table
from design.sheets.readings_file import read_readings
from reports.pages.evaluate_page import evaluate_page
from reports.tables import evaluate as tables
from reports.tables.evaluate_workbook import workbook_bytes
from reports.tables.files import csv_bytes
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from pathlib import Path

    from design.evaluation.classroom import ClassView
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.evaluate import Request as Asked
    from design.evaluation.result import Outcome
    from design.evaluation.school import SchoolResult
    from design.sheets.readings import Finding
    from reports.command_line.commands import Request
    from reports.command_line.progress import Report
    from reports.rendering import Origin

FILES = (
    "report.html",
    "evaluate.json",
    "working.xlsx",
    "warnings.csv",
    "groups.csv",
    "sources.csv",
    "improvements.csv",
    "knowledge.toml",
)
"""Every file that an evaluation may consist of."""


def run_evaluate(
    request: Request, readings: Path, asked: Asked, attempt: float | None, attempt_uncertainty: float | None
) -> None:
    """Evaluate a readings sheet; the own result [J/kg] and its uncertainty are those of the command line."""
    if attempt is None and attempt_uncertainty is not None:
        raise DesignError("--attempt-uncertainty: must come with --attempt VALUE (got no value)")
    bench, sheet = request.bench, read_readings(readings)
    own = None if attempt is None else Attempt(attempt, attempt_uncertainty)
    trials = request.trials or asked.trials
    asked = replace(asked, attempt=own, coverage=bench.search.coverage, seed=request.seed, trials=trials)

    def find(progress: Report) -> Evaluation:
        progress("evaluating the readings", 0, 1)
        found = evaluate(bench, sheet, asked)
        progress("evaluating the readings", 1, 1)
        return found

    request.answer("evaluate.json", FILES, find, evaluate_files, "show_evaluation")


def evaluate_files(evaluation: Evaluation, origin: Origin) -> dict[str, bytes]:
    """
    Write an evaluation as the contents of its files.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    withheld = [group.group for group in evaluation.groups if group not in evaluation.shown]
    record = json.dumps(evaluate_record(evaluation), ensure_ascii=False, indent=1, allow_nan=False)
    files = {
        "report.html": evaluate_page(evaluation, origin).encode("utf-8"),
        "evaluate.json": (record + "\n").encode("utf-8"),
        "working.xlsx": workbook_bytes(evaluation, origin.date, withheld),
        "warnings.csv": csv_bytes(tables.finding_table(evaluation.findings)),
        "sources.csv": csv_bytes(tables.source_table(evaluation.groups[0])),
        "improvements.csv": csv_bytes(tables.improvement_table(evaluation)),
    }
    if not withheld:
        files["groups.csv"] = csv_bytes(tables.result_table(evaluation))
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
        f"Learned by boiloff {origin.version} on {origin.date}; replaces the bench file's [knowledge] table.",
        f"Bench: {evaluation.bench.path}; readings: {sheet.file}",
        f"SHA-256 {sheet.digest}; groups: {learned.groups}.",
        "By importance sampling on the bench's knowledge, effective sample size "
        f"{learned.effective_sample_size:.0f}, if the latent heat is {used.reference / 1e3:.1f} kJ/kg within 0.1 %.",
        f'Holds for heater "{kit.heater.name}" in vessel "{kit.vessel.name}"; where the shelf has other vessels, move',
        "wall_loss, base_loss, return_loss and carry_over into that [[vessel]].",
        *(f'Stated for the vessel without "{one.name}", which it wore, as a bench file does.' for one in kit.fittings),
    )
    return knowledge_table(learned, evaluation.bench, [_one_line(line) for line in provenance])


def _one_line(text: str) -> str:
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def evaluate_record(evaluation: Evaluation) -> dict[str, Any]:
    """Put an evaluation into plain dictionaries and lists; for several groups the value is the pooled one."""
    first, groups = evaluation.groups[0], evaluation.groups
    record = _of_group(first)
    if evaluation.classroom is not None:
        uncorrected = _mean([group.result.uncorrected.value for group in groups])
        losses = _mean([group.result.measured.loss for group in groups])
        record = _values(evaluation.classroom, uncorrected, losses, corrected=first.result.corrected)
    return record | {
        "warnings": [_finding_record(finding) for finding in evaluation.findings],
        "groups": [_group_record(group) for group in groups],
        "school": _school_record(first.school, first.presets),
        "sources": _source_records(first),
    }


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def _of_group(group: GroupEvaluation) -> dict[str, Any]:
    result = group.result
    return _values(result.best, result.uncorrected.value, result.measured.loss, corrected=result.corrected)


def _values(found: Outcome | ClassView, uncorrected: float, loss: float, *, corrected: bool) -> dict[str, Any]:
    return {
        "latent_heat_J_per_kg": found.value,
        "uncorrected_J_per_kg": uncorrected,
        "standard_uncertainty_J_per_kg": found.standard_uncertainty,
        "interval_J_per_kg": list(found.interval),
        "corrected": corrected,
        "reference_J_per_kg": found.agreement.reference,
        "difference_percent": found.agreement.difference_percent,
        "normalised_error": found.agreement.normalised_error,
        "losses_W": loss,
    }


def _finding_record(finding: Finding) -> dict[str, Any]:
    return {"row": finding.row, "column": finding.column, "code": finding.code, "message": finding.message}


def _group_record(group: GroupEvaluation) -> dict[str, Any]:
    check, school = group.attempt, group.school
    return {
        "group": group.group,
        **_of_group(group),
        "procedure": group.result.used.procedure.identifier,
        "correction": group.result.used.correction,
        "z_score": group.result.best.agreement.z_score,
        "school_J_per_kg": school.value,
        "school_uncertainty_J_per_kg": school.uncertainty,
        "attempt": None
        if check is None
        else {
            "value_J_per_kg": check.attempt.value,
            "uncertainty_J_per_kg": check.attempt.uncertainty,
            "difference_percent": check.difference_percent,
            "same": check.same,
            "step": check.step,
        },
        "effective_sample_size": group.explanation.effective_sample_size if group.explanation else None,
        "refusal": group.refusal,
    }


def _school_record(school: SchoolResult, presets: tuple[SchoolResult, ...]) -> dict[str, Any]:
    def one(result: SchoolResult) -> dict[str, Any]:
        return {
            "rules": result.rules.name,
            "latent_heat_J_per_kg": result.value,
            "uncertainty_J_per_kg": result.uncertainty,
            "uncertainty_percent": result.percent,
            "difference_percent": result.difference_percent,
            "agrees": result.agrees,
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
                "evidence": quantity.source,
            }
        )
    return sorted(records, key=lambda record: -float(record["share"]))
