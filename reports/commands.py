"""What the commands do, apart from reading the command line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from design.bench import Bench


@dataclass(frozen=True)
class PlanRequest:
    """What ``boiloff plan`` was asked for."""

    bench_file: Path
    out: Path
    seed: int
    trials: int | None
    coverage: float | None
    workers: int
    quiet: bool
    only_owned: bool


def run_plan(request: PlanRequest) -> None:
    """
    Read a bench, search, write the report and show the decision.

    Raises
    ------
    DesignError
        If the bench file is wrong, or nothing is feasible.
    OutputError
        If the output folder cannot be written.
    """
    from design import search
    from reports.output_folder import check_folder, write_folder
    from reports.pages.render import origin
    from reports.plan_output import FILES, plan_files
    from reports.progress import progress_bar

    check_folder(request.out)
    bench = _read(request)
    trials = search.DEFAULT_TRIALS if request.trials is None else request.trials
    with progress_bar(quiet=request.quiet) as progress:
        found = search.plan_bench(
            bench,
            seed=request.seed,
            trials=trials,
            workers=request.workers,
            only_owned=request.only_owned,
            progress=progress,
        )
        if found.recommended is not None:
            progress("writing the report", 0, 1)
            write_folder(request.out, plan_files(found, bench, origin()), FILES)
            progress("writing the report", 1, 1)
    if found.recommended is None:
        from design.errors import DesignError
        from reports.terminal import infeasible_message

        raise DesignError(infeasible_message(found, str(request.bench_file)))
    if not request.quiet:
        from rich.console import Console

        from reports.terminal import show_plan

        show_plan(found, bench, request.out / "report.html", Console(highlight=False))


def run_check(file: Path) -> str:
    """Read a bench file or a budget file, and say that it can be used."""
    from design.bench_file import read_bench

    bench = read_bench(file)
    shelves = {
        "balances": bench.balances,
        "energy meters": bench.meters,
        "heaters": bench.heaters,
        "vessels": bench.vessels,
        "mass sets": bench.mass_sets,
    }
    counted = ", ".join(f"{word}: {len(items)}" for word, items in shelves.items())
    return f"{file}: a bench file that can be used ({bench.name}; {counted})."


def _read(request: PlanRequest) -> Bench:
    from design.bench_file import read_bench

    bench = read_bench(request.bench_file)
    if request.coverage is None:
        return bench
    return replace(bench, search=replace(bench.search, coverage=request.coverage))
