"""The command that plans: one bench or many, taken up where an earlier search was stopped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from design.errors import DesignError
from design.procedures.registry import procedure_named
from design.search import planning as search
from design.search.work import Store
from reports.command_line import console as parts
from reports.command_line.output_folder import STORE, check_folder, clear, write_folder
from reports.command_line.plan_files import FILES, JSON_FILE, plan_files
from reports.command_line.request import PAGE, STOPPED
from reports.pieces.registry import chosen
from reports.rendering import origin
from reports.tables.files import deliver
from reports.tables.plan import by_number, ranking_table
from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import language
from reports.words.names import limit_name, remedy
from reports.words.search import chances_explained, partial_sentence

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from design.search.plan import NearMiss, Plan
    from reports.command_line.request import PlanRequest

SHOWN = 5
"""Rows of the ranking that are printed."""


def run_plan(request: PlanRequest) -> int:
    """
    Read benches, search, write the report and show the decision.

    Returns
    -------
    int
        Exit status: 0, or 130 where the keyboard stopped the search and a partial report was written.

    Raises
    ------
    DesignError
        If a bench file is wrong, or nothing is feasible.
    OutputError
        If the output folder cannot be written.
    KeyboardInterrupt
        If the search is stopped before anything feasible was found.
    """
    check_folder(request.out)
    chosen(request.pages)  # a wrong word is refused before hours of search
    language(request.language)
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
            say, pieces = language(request.language), chosen(request.pages)
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
