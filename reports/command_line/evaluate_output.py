"""An evaluation as files: page, JSON, workbook, tables, and the knowledge learned."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from reports.pages.evaluate_page import evaluate_page
from reports.tables import evaluate as tables
from reports.tables.evaluate_workbook import workbook_bytes
from reports.tables.files import csv_bytes
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.school import SchoolResult
    from design.sheets.readings import Finding
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


def evaluate_files(evaluation: Evaluation, origin: Origin, *, teacher: bool) -> dict[str, bytes]:
    """
    Write an evaluation as the contents of its files.

    Parameters
    ----------
    evaluation : Evaluation
        What was found.
    origin : Origin
        Version and date to print.
    teacher : bool
        Whether it is the teacher's copy.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    withheld = [group.group for group in evaluation.groups if not teacher and group.attempt is None]
    record = json.dumps(evaluate_record(evaluation), ensure_ascii=False, indent=1, allow_nan=False)
    files = {
        "report.html": evaluate_page(evaluation, origin, teacher=teacher).encode("utf-8"),
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
    from design.evaluation.learned import knowledge_table

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
    first, view = evaluation.groups[0], evaluation.classroom
    record = _value_record(first)
    if view is not None:
        reference = evaluation.used.reference
        pooled = _pooled(evaluation)
        record |= {
            "latent_heat_J_per_kg": view.pooled,
            "uncorrected_J_per_kg": _mean([group.result.uncorrected.value for group in evaluation.groups]),
            "standard_uncertainty_J_per_kg": view.pooled_uncertainty,
            "interval_J_per_kg": list(pooled[0]),
            "difference_percent": 100.0 * (view.pooled / reference - 1.0),
            "normalised_error": pooled[1],
            "losses_W": _mean([group.result.measured.loss for group in evaluation.groups]),
        }
    return record | {
        "warnings": [_finding_record(finding) for finding in evaluation.findings],
        "groups": [_group_record(group) for group in evaluation.groups],
        "school": _school_record(first.school, first.presets),
        "sources": _source_records(first),
    }


def _pooled(evaluation: Evaluation) -> tuple[tuple[float, float], float]:
    """Interval of the pooled value at the coverage asked, and its normalised error."""
    from math import hypot

    from budget.propagation import coverage_factor

    view, reference = evaluation.classroom, evaluation.groups[0].result.best.agreement
    if view is None:
        raise ValueError("no class to pool")
    half = coverage_factor(evaluation.request.coverage, float("inf")) * view.pooled_uncertainty
    expanded = hypot(half, half / view.pooled_uncertainty * reference.reference_uncertainty)
    return (view.pooled - half, view.pooled + half), (view.pooled - reference.reference) / expanded


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def _value_record(group: GroupEvaluation) -> dict[str, Any]:
    result = group.result
    return {
        "latent_heat_J_per_kg": result.best.value,
        "uncorrected_J_per_kg": result.uncorrected.value,
        "standard_uncertainty_J_per_kg": result.best.standard_uncertainty,
        "interval_J_per_kg": list(result.best.interval),
        "corrected": result.corrected,
        "reference_J_per_kg": result.best.agreement.reference,
        "difference_percent": result.best.agreement.difference_percent,
        "normalised_error": result.best.agreement.normalised_error,
        "losses_W": group.result.measured.loss,
    }


def _finding_record(finding: Finding) -> dict[str, Any]:
    return {"row": finding.row, "column": finding.column, "code": finding.code, "message": finding.message}


def _group_record(group: GroupEvaluation) -> dict[str, Any]:
    check, school = group.attempt, group.school
    return {
        "group": group.group,
        **_value_record(group),
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
    propagation, reference = group.result.best.propagation, group.result.used.reference
    records = []
    for quantity, pushes in tables.pushes_of(group):
        symbol = quantity.symbol.removesuffix("_est")
        account = accounts.get(symbol)
        records.append(
            {
                "quantity": quantity_name(quantity.name),
                "symbol": symbol,
                "unit": quantity.unit,
                "estimate": quantity.distribution.mean,
                "standard_uncertainty": quantity.distribution.standard_uncertainty,
                "bias_percent": pushes,
                "standard_uncertainty_percent": 100.0 * abs(propagation.contributions[quantity.symbol]) / reference,
                "share": propagation.variance_shares[quantity.symbol],
                "kind": "random" if quantity.scatter else "systematic",
                "posterior_estimate": account.mean if account else None,
                "posterior_standard_uncertainty": account.standard_uncertainty if account else None,
                "posterior_interval": list(account.interval) if account else None,
                "alone": account.alone if account else None,
                "chance": account.chance if account else None,
                "evidence": quantity.source,
            }
        )
    return sorted(records, key=lambda record: -float(record["share"]))
