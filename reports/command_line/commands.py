"""What the commands do, apart from reading the command line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from reports.command_line.console import terminal
from reports.tables.files import deliver

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class BudgetRequest:
    """What ``boiloff budget`` was asked for."""

    file: Path
    out: Path
    seed: int
    trials: int | None
    coverage: float | None
    order: int
    workers: int
    quiet: bool
    json: str = ""


def run_budget(request: BudgetRequest) -> None:
    """
    Read a budget file, work the budget out, write and show it.

    Raises
    ------
    BudgetError
        If the file is wrong or the budget cannot be worked out as stated.
    OutputError
        If the output folder cannot be written.
    """
    from budget.budget_file import read_budget_file
    from budget.report import analyse
    from reports.command_line.budget_output import FILES, budget_files
    from reports.command_line.output_folder import check_folder, write_folder
    from reports.command_line.progress import progress_bar
    from reports.rendering import origin

    check_folder(request.out)
    file = read_budget_file(request.file)
    coverage = file.coverage if request.coverage is None else request.coverage
    with progress_bar(quiet=request.quiet) as progress:
        progress("working out the budget", 0, 2)
        report = analyse(file.model, coverage, request.order, request.trials, request.seed, workers=request.workers)
        progress("working out the budget", 1, 2)
        files = budget_files(report, file, request.seed, origin())
        write_folder(request.out, files, FILES)
        progress("working out the budget", 2, 2)
    deliver(files["budget.json"], request.json)
    if not request.quiet and not request.json:
        from reports.command_line.terminal import show_budget

        show_budget(report, request.out / "report.html", terminal())


def run_check(file: Path) -> str:
    """Read a bench file or a budget file, and say that it can be used."""
    from budget.budget_file import read_budget_file
    from design.bench_files.reader import read_bench
    from design.kit import FITTING_ROLES

    if _is_budget(file):
        model = read_budget_file(file).model
        return f"{file}: a budget file that can be used ({model.name or model.symbol}; inputs: {len(model.inputs)})."
    bench = read_bench(file)
    shelves = ((role, items) for role, items in bench.shelves.items() if items or role not in FITTING_ROLES)
    words = {"meter": "energy meters", "mass_set": "mass sets"}
    counted = ", ".join(f"{words.get(role, f'{role}s')}: {len(items)}" for role, items in shelves)
    return f"{file}: a bench file that can be used ({bench.name}; {counted})."


def _is_budget(file: Path) -> bool:
    """Tell whether a file states a measurand; a file that cannot be read is left to the reader of benches."""
    import tomllib

    try:
        return "measurand" in tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        return False


@dataclass(frozen=True)
class CompareRequest:
    """What ``boiloff compare`` was asked for."""

    bench_file: Path
    out: Path
    seed: int
    trials: int | None
    coverage: float | None
    workers: int
    quiet: bool
    json: str = ""


def run_compare(request: CompareRequest) -> None:
    """
    Read a bench, compare methods on the kit in hand, write the report and show what it found.

    Raises
    ------
    DesignError
        If the bench file is wrong, or there is no kit to compare methods on.
    OutputError
        If the output folder cannot be written.
    """
    from design.bench_files.reader import read_bench
    from design.comparison.side_by_side import DEFAULT_TRIALS, compare_bench
    from reports.command_line.compare_output import FILES, compare_files
    from reports.command_line.output_folder import check_folder, write_folder
    from reports.command_line.progress import progress_bar
    from reports.rendering import origin

    check_folder(request.out)
    bench = read_bench(request.bench_file)
    if request.coverage is not None:
        bench = replace(bench, search=replace(bench.search, coverage=request.coverage))
    trials = DEFAULT_TRIALS if request.trials is None else request.trials
    with progress_bar(quiet=request.quiet) as progress:
        found = compare_bench(bench, seed=request.seed, trials=trials, workers=request.workers, progress=progress)
        progress("writing the report", 0, 1)
        files = compare_files(found, origin())
        write_folder(request.out, files, FILES)
        progress("writing the report", 1, 1)
    deliver(files["compare.json"], request.json)
    if not request.quiet and not request.json:
        from reports.command_line.terminal import show_comparison

        show_comparison(found, request.out / "report.html", terminal())
