"""A plan as files: the page, the JSON with every number, and one CSV file a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.command_line.request import PAGE, attributes, json_bytes
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
    from collections.abc import Sequence

    from design.bench import Bench
    from design.search.plan import ErrorMap, Plan, RankedDesign
    from reports.rendering import Origin

JSON_FILE = "plan.json"
"""The file with every number of the page."""

CSV = (
    "walk", "sources", "biases", "budget", "ranking", "frontier", "rejected", "time_table", "shopping", "signs",
    "error_map",
)  # fmt: skip
FILES = (PAGE, *PIECE_FILES, WORKBOOK, JSON_FILE, *(f"{name}.csv" for name in (*CSV, *SEARCH_TABLES)))
"""Every file that a plan report may consist of."""


def plan_files(
    plan: Plan, bench: Bench, origin: Origin, *, say: Language = ENGLISH, pieces: Sequence[Piece] = PIECES
) -> dict[str, bytes]:
    """
    Write a plan as the contents of its files, with the printed pieces asked for.

    Raises
    ------
    ValueError
        If a number of the plan is not finite.
    """
    return {
        PAGE: plan_page(plan, bench, origin, pieces=pieces, say=say).encode("utf-8"),
        **piece_files(pieces, plan, bench, say, origin),
        WORKBOOK: plan_workbook(plan, origin.date, say),
        JSON_FILE: json_bytes({**plan_record(plan, origin.version), **made_of(plan, bench)}),
        **{f"{table.name}.csv": csv_bytes(table) for table in plan_tables(plan)},
        **{f"{name}.csv": csv_bytes(table) for name, table in search_tables(plan).items()},
    }


def plan_record(plan: Plan, version: str) -> dict[str, Any]:
    """Put a plan into plain dictionaries and lists; the keys up to ``cautions`` are public and stay."""
    return {
        "boiloff": version,
        "bench": plan.bench_name,
        **attributes(plan, "seed trials"),
        "reference": {
            "pressure_Pa": plan.pressure,
            "boiling_point_C": plan.boiling_point,
            "latent_heat_J_per_kg": plan.latent_heat,
        },
        **attributes(plan, "considered feasible"),
        "rejected": dict(by_number(plan.rejected)),
        "recommended": design_record(plan.recommended),
        "current": design_record(plan.current),
        "ranking": [design_record(design) for design in plan.ranking],
        "frontier": [design_record(design) for design in plan.frontier],
        "cautions": [caution(one) for one in plan.cautions],
        "walk": _walk_record(plan),
        **attributes(plan, "scenario coverage currency groups lesson_minutes objective margin_percent"),
        "cheapest": design_record(plan.cheapest),
        "error_map": _map_record(plan.error_map),
        "answers": answers_record(plan.answers),
        "searched_share": plan.searched_share,
    }


DESIGN = (
    "powers_W mass_kg fill_kg repeats price minutes expected_J_per_kg bias_percent standard_uncertainty_percent "
    "rms_error_percent interval_percent best_probability"
)
"""Numbers of a design that are public and stay."""
SOURCE = (
    "symbol bias_percent standard_uncertainty_percent share share_interval estimate standard_uncertainty unit "
    "distribution sensitivity_coefficient scatter evidence"
)


def design_record(design: RankedDesign | None) -> dict[str, Any] | None:
    """Put a design into a dictionary; the keys up to ``sources`` are public and stay."""
    if design is None:
        return None
    return {
        "items": dict(design.items),
        **attributes(design, "procedure correction"),
        "power_W": max(design.powers_W),
        **attributes(design, DESIGN),
        "sources": [
            {"quantity": quantity_name(source.quantity), **attributes(source, SOURCE)} for source in design.sources
        ],
        "buy": bought_record(design.buy),
        **attributes(design, "counts objective_percent"),
        "time_table": [
            {"stage": ENGLISH.name("stage", stage), "minutes": length} for stage, length in design.time_table
        ],
        **attributes(design, "loss_W carry_over_share"),
        "accepted": [accepted_name(one) for one in design.accepted],
        **attributes(design, "reading spare_kg numerical_error_percent within_margin_probability"),
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
