"""The command that plans: one bench or many, taken up where an earlier search was stopped."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from reports.command_line.console import terminal
from reports.command_line.plan_request import STOPPED, STORE, PlanRequest, clear
from reports.tables.files import deliver

if TYPE_CHECKING:
    from design.bench import Bench
    from design.search.plan import Plan
    from reports.command_line.progress import Report


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
    from design.search import planning as search
    from design.search.work import Store
    from reports.command_line.output_folder import check_folder
    from reports.command_line.progress import progress_bar
    from reports.pieces.registry import chosen
    from reports.words.languages import language

    check_folder(request.out)
    chosen(request.pages)  # a wrong word is refused before hours of search
    language(request.language)
    benches = [read(path, request.coverage) for path in request.bench_files]
    with progress_bar(quiet=request.quiet) as progress:
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
        written = b"" if plan.recommended is None else _write(request, plan, benches[0], progress)
    if written:
        deliver(written, request.json)
    _tell(request, plan)
    return 0 if plan.searched_share >= 1.0 else STOPPED


def read(path: Path, coverage: float | None) -> Bench:
    """Read a bench file; a coverage probability of the command line comes before the file's."""
    from design.bench_files.reader import read_bench

    bench = read_bench(path)
    if coverage is None:
        return bench
    return replace(bench, search=replace(bench.search, coverage=coverage))


def _write(request: PlanRequest, plan: Plan, bench: Bench, progress: Report) -> bytes:
    """Write the report, a partial one beside the folder asked for, and return its JSON."""
    from reports.command_line.output_folder import write_folder
    from reports.command_line.plan_output import FILES, JSON_FILE, plan_files
    from reports.pieces.registry import chosen
    from reports.rendering import origin
    from reports.words.languages import language

    progress("writing the report", 0, 1)
    files = plan_files(plan, bench, origin(), say=language(request.language), pieces=chosen(request.pages))
    if plan.searched_share < 1.0:
        write_folder(request.partial, files, FILES)
    else:
        write_folder(request.out, files, FILES)
        clear(request.partial, FILES)
    progress("writing the report", 1, 1)
    return files[JSON_FILE]


def _tell(request: PlanRequest, plan: Plan) -> None:
    """Show the decision, how much of an earlier search was reused, and what a stopped one leaves."""
    if plan.recommended is None:
        from design.errors import DesignError
        from reports.command_line.terminal import infeasible_message

        raise DesignError(infeasible_message(plan, str(request.bench_files[0])))
    if request.quiet or request.json:
        return
    from reports.command_line.terminal import show_plan
    from reports.words import rounding
    from reports.words.search import partial_sentence

    console = terminal()
    stopped = plan.searched_share < 1.0
    show_plan(plan, (request.partial if stopped else request.out) / "report.html", console)
    if plan.reused_share > 0.0:
        share = rounding.percent_of_share(plan.reused_share)
        console.print(f"Went on from a search that was stopped: {share} of it was done already.")
    if stopped:
        console.print(f"{partial_sentence(plan)} The same command goes on from here.")
