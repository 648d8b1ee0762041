"""What ``boiloff rehearse`` does, apart from reading the command line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from reports.json_output import deliver
from reports.terminal_parts import terminal

if TYPE_CHECKING:
    from pathlib import Path

    from design.bench import Bench
    from design.search.planning import Progress
    from design.search.screening import Branch


@dataclass(frozen=True)
class RehearseRequest:
    """What ``boiloff rehearse`` was asked for; ``place`` is that of the design in the plan's ranking."""

    bench_file: Path
    out: Path
    runs: int
    place: int
    current: bool
    seed: int
    trials: int | None
    coverage: float | None
    workers: int
    quiet: bool
    json: str = ""


def run_rehearse(request: RehearseRequest) -> None:
    """
    Read a bench, choose a design, play it, write the report and show what was found.

    Raises
    ------
    DesignError
        If the bench file is wrong, nothing is feasible, or the design asked for does not exist.
    OutputError
        If the output folder cannot be written.
    """
    from design.bench_files.reader import read_bench
    from design.rehearsal.campaign import rehearse
    from design.search.planning import DEFAULT_TRIALS
    from reports.output_folder import check_folder, write_folder
    from reports.progress import progress_bar
    from reports.rehearse_output import FILES, rehearse_files
    from reports.rendering import origin

    check_folder(request.out)
    bench = read_bench(request.bench_file)
    if request.coverage is not None:
        bench = replace(bench, search=replace(bench.search, coverage=request.coverage))
    trials = DEFAULT_TRIALS if request.trials is None else request.trials
    with progress_bar(quiet=request.quiet) as progress:
        branch = _branch(request, bench, trials, progress)
        found = rehearse(bench, branch, runs=request.runs, seed=request.seed, trials=trials, progress=progress)
        files = rehearse_files(found, bench.lesson.groups, origin())
        write_folder(request.out, files, FILES)
    deliver(files["rehearse.json"], request.json)
    if not request.quiet and not request.json:
        from reports.terminal_rehearse import show_rehearsal

        show_rehearsal(found, request.out / "report.html", terminal())


def _branch(request: RehearseRequest, bench: Bench, trials: int, progress: Progress) -> Branch:
    from design.errors import DesignError
    from design.rehearsal.rehearsed_design import planned_branch, todays_branch
    from design.search.planning import plan_bench

    if request.current:
        return todays_branch(bench)
    plan = plan_bench(bench, seed=request.seed, trials=trials, workers=request.workers, progress=progress)
    if plan.recommended is None:
        from reports.terminal import infeasible_message

        raise DesignError(infeasible_message(plan, str(request.bench_file)))
    return planned_branch(bench, plan, request.place)
