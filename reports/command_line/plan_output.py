"""A plan as files: the page, the JSON with every number, and one CSV file a table."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from reports.pages.made_of import made_of
from reports.pages.plan_page import plan_page
from reports.pieces.registry import FILES as PIECE_FILES
from reports.pieces.registry import PIECES, Piece, piece_files
from reports.tables.files import csv_bytes
from reports.tables.plan import FILE as WORKBOOK
from reports.tables.plan import by_number, plan_tables, plan_workbook
from reports.tables.search import TABLES as SEARCH_TABLES
from reports.tables.search import answers_record, bought_record, search_tables
from reports.tables.walk import walk
from reports.words.languages import ENGLISH, Language
from reports.words.names import accepted_name, caution, limit_name, quantity_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from design.bench import Bench
    from design.search.plan import ErrorMap, Plan, RankedDesign, Source
    from reports.rendering import Origin

JSON_FILE = "plan.json"
"""The file with every number of the page."""

FILES = (
    "report.html",
    *PIECE_FILES,
    WORKBOOK,
    JSON_FILE,
    "walk.csv",
    "sources.csv",
    "biases.csv",
    "budget.csv",
    "ranking.csv",
    "frontier.csv",
    "rejected.csv",
    "time_table.csv",
    "shopping.csv",
    "signs.csv",
    "error_map.csv",
    *(f"{name}.csv" for name in SEARCH_TABLES),
)
"""Every file that a plan report may consist of."""


def plan_files(
    plan: Plan, bench: Bench, origin: Origin, *, say: Language = ENGLISH, pieces: Sequence[Piece] = PIECES
) -> dict[str, bytes]:
    """
    Write a plan as the contents of its files.

    Parameters
    ----------
    plan, bench, origin
        What is reported.
    say : Language
        Language of the pieces and of the page.
    pieces : sequence of Piece
        Printed pieces to write beside the page.

    Raises
    ------
    ValueError
        If a number of the plan is not finite.
    """
    return {
        "report.html": plan_page(plan, bench, origin, pieces=pieces, say=say).encode("utf-8"),
        **piece_files(pieces, plan, bench, say, origin),
        WORKBOOK: plan_workbook(plan, origin.date, say),
        JSON_FILE: written({**plan_record(plan, origin.version), **made_of(plan, bench)}).encode("utf-8"),
        **{f"{table.name}.csv": csv_bytes(table) for table in plan_tables(plan)},
        **{f"{name}.csv": csv_bytes(table) for name, table in search_tables(plan).items()},
    }


def plan_json(plan: Plan, version: str) -> str:
    """
    Write a plan as JSON; numbers in full, nothing that JSON does not know.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return written(plan_record(plan, version))


def written(record: Mapping[str, Any]) -> str:
    """
    Write a record as JSON.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def plan_record(plan: Plan, version: str) -> dict[str, Any]:
    """Put a plan into plain dictionaries and lists; the keys up to ``cautions`` are public and stay."""
    return {
        "boiloff": version,
        "bench": plan.bench_name,
        "seed": plan.seed,
        "trials": plan.trials,
        "reference": {
            "pressure_Pa": plan.pressure,
            "boiling_point_C": plan.boiling_point,
            "latent_heat_J_per_kg": plan.latent_heat,
        },
        "considered": plan.considered,
        "feasible": plan.feasible,
        "rejected": dict(by_number(plan.rejected)),
        "recommended": design_record(plan.recommended),
        "current": design_record(plan.current),
        "ranking": [design_record(design) for design in plan.ranking],
        "frontier": [design_record(design) for design in plan.frontier],
        "cautions": [caution(one) for one in plan.cautions],
        "walk": _walk_record(plan),
        "scenario": plan.scenario,
        "coverage": plan.coverage,
        "currency": plan.currency,
        "groups": plan.groups,
        "lesson_minutes": plan.lesson_minutes,
        "objective": plan.objective,
        "margin_percent": plan.margin_percent,
        "cheapest": design_record(plan.cheapest),
        "error_map": _map_record(plan.error_map),
        "answers": answers_record(plan.answers),
        "searched_share": plan.searched_share,
    }


def design_record(design: RankedDesign | None) -> dict[str, Any] | None:
    """Put a design into a dictionary; the keys up to ``sources`` are public and stay."""
    if design is None:
        return None
    return {
        "items": dict(design.items),
        "procedure": design.procedure,
        "correction": design.correction,
        "power_W": max(design.powers_W),
        "powers_W": list(design.powers_W),
        "mass_kg": design.mass_kg,
        "fill_kg": design.fill_kg,
        "repeats": design.repeats,
        "price": design.price,
        "minutes": design.minutes,
        "expected_J_per_kg": design.expected_J_per_kg,
        "bias_percent": design.bias_percent,
        "standard_uncertainty_percent": design.standard_uncertainty_percent,
        "rms_error_percent": design.rms_error_percent,
        "interval_percent": list(design.interval_percent),
        "best_probability": design.best_probability,
        "sources": [_source_record(source) for source in design.sources],
        "buy": bought_record(design.buy),
        "counts": design.counts,
        "objective_percent": design.objective_percent,
        "time_table": [
            {"stage": ENGLISH.name("stage", stage), "minutes": length} for stage, length in design.time_table
        ],
        "loss_W": design.loss_W,
        "carry_over_share": design.carry_over_share,
        "accepted": [accepted_name(one) for one in design.accepted],
        "reading": design.reading,
        "spare_kg": design.spare_kg,
        "numerical_error_percent": design.numerical_error_percent,
        "within_margin_probability": design.within_margin_probability,
    }


def _source_record(source: Source) -> dict[str, Any]:
    return {
        "quantity": quantity_name(source.quantity),
        "symbol": source.symbol,
        "bias_percent": source.bias_percent,
        "standard_uncertainty_percent": source.standard_uncertainty_percent,
        "share": source.share,
        "share_interval": list(source.share_interval),
        "estimate": source.estimate,
        "standard_uncertainty": source.standard_uncertainty,
        "unit": source.unit,
        "distribution": source.distribution,
        "sensitivity_coefficient": source.sensitivity_coefficient,
        "scatter": source.scatter,
        "evidence": source.evidence,
    }


def _walk_record(plan: Plan) -> list[dict[str, Any]]:
    """Put the walk of the recommended design into dictionaries."""
    if plan.recommended is None:
        return []
    return [
        {"quantity": step.name, "symbol": step.symbol, "bias_percent": step.percent}
        for step in walk(plan.recommended, plan.model)
    ]


def _map_record(grid: ErrorMap | None) -> dict[str, Any] | None:
    """Put the map into lists; an error outside the limits is null."""
    if grid is None:
        return None
    return {
        "powers_W": [float(power) for power in grid.powers_W],
        "masses_kg": [float(mass) for mass in grid.masses_kg],
        "objective_percent": [
            [None if limit else float(error) for error, limit in zip(errors, limits, strict=True)]
            for errors, limits in zip(grid.objective_percent, grid.limit, strict=True)
        ],
        "limit": [[limit_name(str(limit)) if limit else "" for limit in limits] for limits in grid.limit],
    }
