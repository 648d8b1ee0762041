"""The command that plans, taken up where an earlier search was stopped: page, pieces, JSON and a CSV file a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from design.errors import DesignError
from design.procedures.registry import procedure_named
from design.search import planning as search
from design.search.work import Store
from reports.command_line import console as parts
from reports.command_line.output_folder import STORE, check_folder, clear, write_folder
from reports.command_line.request import PAGE, STOPPED, attributes, json_bytes
from reports.pages.made_of import made_of
from reports.pages.plan_page import plan_page
from reports.pieces.registry import FILES as PIECE_FILES
from reports.pieces.registry import PIECES, Piece, chosen, piece_files
from reports.rendering import origin
from reports.tables.files import csv_bytes, deliver
from reports.tables.plan import FILE as WORKBOOK
from reports.tables.plan import by_number, plan_tables, plan_workbook, ranking_table
from reports.tables.search import TABLES as SEARCH_TABLES
from reports.tables.search import answers_record, bought_record, filling_record, search_tables
from reports.tables.walk import walk
from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import ENGLISH, Language, language
from reports.words.names import accepted_name, caution, limit_name, procedure_name, quantity_name, remedy, source_words
from reports.words.search import chances_explained, partial_sentence

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from rich.console import Console

    from design.bench import Bench
    from design.search.plan import ErrorMap, NearMiss, Plan, RankedDesign
    from reports.command_line.request import PlanRequest
    from reports.rendering import Origin

JSON_FILE = "plan.json"
"""The file with every number of the page."""

CSV = (
    "walk", "sources", "biases", "budget", "ranking", "frontier", "rejected", "time_table", "shopping", "signs",
    "error_map",
)  # fmt: skip
FILES = (PAGE, *PIECE_FILES, WORKBOOK, JSON_FILE, *(f"{name}.csv" for name in (*CSV, *SEARCH_TABLES)))
"""Every file that a plan report may consist of."""
SHOWN = 5
"""Rows of the ranking that are printed."""


def run_plan(request: PlanRequest) -> int:
    """
    Read benches, search, write the report and show the decision; return the exit status.

    That is 0, or 130 where the keyboard stopped the search and a partial report was written.

    Raises
    ------
    DesignError, OutputError
        If a bench file is wrong, nothing is feasible, or the output folder cannot be written.
    KeyboardInterrupt
        If the search is stopped before anything feasible was found.
    """
    check_folder(request.out)
    pieces, say = chosen(request.pages), language(request.language)  # a wrong word is refused before hours of search
    benches = [request.read(path) for path in request.files]
    with parts.progress_bar(quiet=request.quiet) as progress:
        if len(benches) > 1:
            from reports.command_line.many_benches import plan_many

            return plan_many(request, benches, progress)
        plan = search.plan_bench(
            benches[0],
            seed=request.seed,
            trials=search.DEFAULT_TRIALS if request.trials is None else request.trials,
            workers=request.workers,
            only_owned=request.only_owned,
            cluster=request.cluster,
            store=Store(request.partial / STORE),
            progress=progress,
        )
        if plan.recommended is None:
            raise DesignError(infeasible_message(plan, str(request.files[0])))
        stopped = plan.searched_share < 1.0
        folder = request.partial if stopped else request.out
        with parts.stage(progress, "writing the report"):
            files = plan_files(plan, benches[0], origin(), say=say, pieces=pieces)
            write_folder(folder, files, FILES)
            if not stopped:
                clear(request.partial, FILES)
    deliver(files[JSON_FILE], request.json)
    if request.is_shown:
        _show(plan, folder / PAGE, stopped=stopped)
    return STOPPED if stopped else 0


def _show(plan: Plan, page: Path, *, stopped: bool) -> None:
    """Show the decision, how much of an earlier search was reused, and what a stopped one leaves."""
    console = parts.terminal()
    show_plan(plan, page, console)
    if plan.reused_share > 0.0:
        share = rounding.percent_of_share(plan.reused_share)
        console.print(f"Went on from a search that was stopped: {share} of it was done already.")
    if stopped:
        console.print(f"{partial_sentence(plan)} The same command goes on from here.")


def show_plan(plan: Plan, page: Path, console: Console) -> None:
    """Print the decision and the best of the ranking, then where the report is."""
    ranked = plan.recommended
    if ranked is None:
        raise ValueError("a summary needs a recommended design (got a plan without one)")
    words = wording.kit_words(ranked.design)
    parts.heading(console, plan.bench_name)
    parts.facts(console, wording.summary(plan, ranked, words))
    if len(plan.ranking) > 1:
        columns = ("rank", "procedure", "price", "rms_error_percent", "within_margin_percent", "regret_percent")
        kit = ("kit",) if console.width >= parts.WIDE else ()
        parts.data_table(console, ranking_table(plan), (*columns, *kit), rows=SHOWN)
        console.print()
        parts.sentences(console, [chances_explained(plan)])
    considered, feasible = (rounding.grouped(str(number)) for number in (plan.considered, plan.feasible))
    console.print()
    parts.sentences(console, [f"{considered} combinations considered, {feasible} feasible."])
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
        lines += [f"    + {caution(miss.vessel)}"] if miss.vessel else []
    return "\n".join(lines)


def _described(miss: NearMiss) -> str:
    powers = " and ".join(f"{power:.0f} W" for power in miss.powers_W)
    runs = "1 run" if miss.repeats == 1 else f"{miss.repeats} runs"
    procedure = procedure_name(procedure_named(miss.procedure, len(miss.powers_W)))
    return f"{', '.join(miss.items)}; {procedure}, {powers}, {1000 * miss.mass_kg:.0f} g, {runs}"


def plan_files(
    plan: Plan, bench: Bench, origin: Origin, *, say: Language = ENGLISH, pieces: Sequence[Piece] = PIECES
) -> dict[str, bytes]:
    """Write a plan, with printed pieces, as the contents of its files; ValueError where a number is not finite."""
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


EXPECTED = (
    "expected_J_per_kg bias_percent standard_uncertainty_percent rms_error_percent interval_percent best_probability"
)
"""Numbers of what a design is expected to do that are public and stay."""
SOURCE = (
    "symbol bias_percent standard_uncertainty_percent share share_interval estimate standard_uncertainty unit "
    "distribution sensitivity_coefficient scatter"
)


def design_record(ranked: RankedDesign | None) -> dict[str, Any] | None:
    """Put a design into a dictionary; the keys up to ``sources`` are public and stay."""
    if ranked is None:
        return None
    design = ranked.design
    return {
        "items": dict(design.items),
        "procedure": design.procedure.identifier,
        "correction": design.correction,
        "power_W": max(design.powers),
        "powers_W": design.powers,
        "mass_kg": design.mass,
        "fill_kg": design.fill,
        **attributes(design, "repeats price minutes"),
        **attributes(ranked, EXPECTED),
        "sources": [
            {
                "quantity": quantity_name(source.quantity),
                **attributes(source, SOURCE),
                "evidence": source_words(source.evidence),
            }
            for source in ranked.sources
        ],
        "buy": bought_record(design.buy),
        "counts": design.counts,
        "objective_percent": ranked.objective_percent,
        "time_table": [
            {"stage": ENGLISH.name("stage", stage), "minutes": length} for stage, length in design.time_table
        ],
        "loss_W": design.loss,
        "carry_over_share": design.carry_over,
        "accepted": [accepted_name(one) for one in design.accepted],
        "reading": design.reading,
        "spare_kg": design.spare,
        "steady_s": design.steady,
        **attributes(ranked, "numerical_error_percent within_margin_probability regret_percent lesson_percent"),
        **filling_record(design),
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
