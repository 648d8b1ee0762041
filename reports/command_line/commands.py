"""What the commands do, apart from reading the command line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from reports.command_line.console import terminal
from reports.tables.files import deliver

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from design.bench import Bench
    from design.comparison.side_by_side import Comparison
    from reports.command_line.progress import Report
    from reports.rendering import Origin


@dataclass(frozen=True)
class Request:
    """What a command is asked for beside its own options."""

    file: Path
    out: Path
    seed: int
    trials: int | None
    coverage: float | None
    workers: int
    quiet: bool
    json: str = ""

    @property
    def bench(self) -> Bench:
        """The bench, with the coverage asked for."""
        from design.bench_files.reader import read_bench

        bench = read_bench(self.file)
        return bench if self.coverage is None else replace(bench, search=replace(bench.search, coverage=self.coverage))

    def answer(
        self, record: str, names: Iterable[str], find: Callable[[Report], Any],
        write: Callable[[Any, Origin], Mapping[str, bytes]], show: str,
    ) -> None:  # fmt: skip
        """
        Find something out, write it as files and show it on the terminal.

        Parameters
        ----------
        record : str
            Name of the JSON file.
        names : iterable of str
            Every file that a report may consist of.
        find : callable (progress)
            Finds it out.
        write : callable (found, origin)
            Makes the contents of the files.
        show : str
            Function of ``reports.command_line.terminal`` that shows it.

        Raises
        ------
        OutputError
            If the output folder cannot be written.
        """
        from reports.command_line import terminal as shown
        from reports.command_line.output_folder import check_folder, write_folder
        from reports.command_line.progress import progress_bar
        from reports.rendering import origin

        check_folder(self.out)
        with progress_bar(quiet=self.quiet) as progress:
            found = find(progress)
            progress("writing the report", 0, 1)
            files = write(found, origin())
            write_folder(self.out, files, names)
            progress("writing the report", 1, 1)
        deliver(files[record], self.json)
        if not self.quiet and not self.json:
            getattr(shown, show)(found, self.out / "report.html", terminal())


def run_budget(request: Request, order: int) -> None:
    """Work out the budget of a budget file by the law of propagation to an order."""
    from budget.budget_file import read_budget_file
    from budget.report import BudgetReport, analyse
    from reports.command_line.budget_output import FILES, budget_files

    file = read_budget_file(request.file)
    coverage = file.coverage if request.coverage is None else request.coverage

    def find(progress: Report) -> BudgetReport:
        progress("working out the budget", 0, 1)
        report = analyse(file.model, coverage, order, request.trials, request.seed, workers=request.workers)
        progress("working out the budget", 1, 1)
        return report

    request.answer(
        "budget.json", FILES, find, lambda found, origin: budget_files(found, file, request.seed, origin), "show_budget"
    )


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


def run_compare(request: Request) -> None:
    """Compare methods on the kit in hand."""
    from design.comparison.side_by_side import DEFAULT_TRIALS, compare_bench
    from reports.command_line.compare_output import FILES, compare_files

    bench, trials = request.bench, request.trials or DEFAULT_TRIALS

    def find(progress: Report) -> Comparison:
        return compare_bench(bench, seed=request.seed, trials=trials, workers=request.workers, progress=progress)

    request.answer("compare.json", FILES, find, compare_files, "show_comparison")
