"""The command line: read a file, call one function, write and show the result."""

from __future__ import annotations

import math
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


app = typer.Typer(
    name="boiloff",
    help="Plan and judge the school measurement of the specific latent heat of vaporisation of water.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _coverage(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 < value < 1:
        raise typer.BadParameter(f"{text} is not a probability between 0 and 1, such as 0.95.")
    return value


def _whole(least: int, most: int) -> Callable[[str | int], int]:
    """Make a reader of whole numbers within limits."""

    def whole_number(text: str | int) -> int:
        try:
            value = int(text)
        except ValueError:
            value = least - 1
        if not least <= value <= most:
            raise typer.BadParameter(f"{text} is not a whole number from {least} to {most}.")
        return value

    return whole_number


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"boiloff {version('boiloff')}")
        raise typer.Exit


STOPPED = 130
"""Exit status after an interrupt from the keyboard: 128 and the number of the signal, as shells have it."""

BenchFile = Annotated[Path, typer.Argument(metavar="BENCH.toml", help="Bench file.", show_default=False)]
Out = Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder of the report.")]
Seed = Annotated[int, typer.Option("--seed", metavar="N", parser=_whole(0, 2**31 - 1), help="Seed of the sample.")]
Trials = Annotated[
    int | None,
    typer.Option("--trials", metavar="N", parser=_whole(2, 2**24), help="Size of the sample.", show_default=False),
]
Coverage = Annotated[
    float | None,
    typer.Option(
        "--coverage", metavar="P", parser=_coverage, help="Coverage probability of intervals.", show_default=False
    ),
]
Workers = Annotated[
    int | None,
    typer.Option(
        "--workers",
        metavar="N",
        parser=_whole(1, 1024),
        help="Processes to use; all processors if left out.",
        show_default=False,
    ),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but faults.")]
Json = Annotated[
    str,
    typer.Option(
        "--json",
        metavar="-|FILE",
        help="Write the JSON there as well; - is standard output, with nothing else on it.",
        show_default=False,
    ),
]
OnlyOwned = Annotated[bool, typer.Option("--only-owned", help="Use only what is in the cupboard.")]


@app.callback()
def boiloff(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and leave.")
    ] = False,
) -> None:
    """Plan and judge the school measurement of the specific latent heat of vaporisation of water."""


@app.command()
def plan(  # noqa: PLR0913, PLR0917 - an option a parameter
    benches: Annotated[
        list[Path], typer.Argument(metavar="BENCH.toml...", help="Bench file, or several.", show_default=False)
    ],
    out: Out = Path("boiloff-report"),
    seed: Seed = 0,
    trials: Trials = None,
    coverage: Coverage = None,
    workers: Workers = None,
    quiet: Quiet = False,
    only_owned: OnlyOwned = False,
    cluster: Annotated[
        str, typer.Option("--cluster", metavar="ADDRESS", help="Dask scheduler to work on.", show_default=False)
    ] = "",
    pages: Annotated[
        str | None,
        typer.Option(
            "--pages", metavar="NAME,...", help="Printed pieces to write; all if left out.", show_default=False
        ),
    ] = None,
    language: Annotated[str, typer.Option("--language", metavar="en|de|fr|es", help="Language of the pages.")] = "en",
    json: Json = "",
) -> int:
    """Rank kit, procedure, mass and power; write the report. Several benches get a summary as well."""
    from reports.command_line.plan_command import run_plan
    from reports.command_line.plan_request import PlanRequest

    processes = workers or os.cpu_count() or 1
    request = PlanRequest(
        tuple(benches), out, seed, trials, coverage, processes, quiet, only_owned, cluster, pages, language, json
    )
    return run_plan(request)


@app.command()
def budget(  # noqa: PLR0913, PLR0917 - an option a parameter
    file: Annotated[Path, typer.Argument(metavar="FILE.toml", help="Budget file.", show_default=False)],
    out: Out = Path("boiloff-budget"),
    seed: Seed = 0,
    trials: Trials = None,
    coverage: Coverage = None,
    order: Annotated[
        int, typer.Option("--order", metavar="1|2", parser=_whole(1, 2), help="Order of the law of propagation.")
    ] = 1,
    workers: Workers = None,
    quiet: Quiet = False,
    json: Json = "",
) -> None:
    """Work out the uncertainty budget of any measurement equation."""
    from reports.command_line.commands import Request, run_budget

    run_budget(Request(file, out, seed, trials, coverage, workers or os.cpu_count() or 1, quiet, json), order)


@app.command()
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Bench file or budget file.", show_default=False)],
) -> None:
    """Read and validate a file, and compute nothing."""
    from reports.command_line.commands import run_check

    typer.echo(run_check(file))


@app.command()
def start(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to write to.", show_default=False)],
) -> None:
    """Write a commented bench file and shelves to start from."""
    from reports.command_line.starter import start as write_starter

    names = write_starter(folder)
    typer.echo("\n".join(f"{folder / name}" for name in names))
    typer.echo(f"Fill in your own kit, then: boiloff plan {folder / 'bench.toml'}")


@app.command()
def compare(
    bench: BenchFile,
    out: Out = Path("boiloff-comparison"),
    seed: Seed = 0,
    trials: Trials = None,
    coverage: Coverage = None,
    workers: Workers = None,
    quiet: Quiet = False,
    json: Json = "",
) -> None:
    """Compare procedures and improvements on the kit in hand."""
    from reports.command_line.commands import Request, run_compare

    run_compare(Request(bench, out, seed, trials, coverage, workers or os.cpu_count() or 1, quiet, json))


@app.command()
def evaluate(  # noqa: PLR0913, PLR0917 - an option a parameter
    bench: BenchFile,
    readings: Annotated[Path, typer.Argument(metavar="READINGS", help="Readings, CSV or XLSX.", show_default=False)],
    out: Out = Path("boiloff-evaluation"),
    attempt: Annotated[
        float | None,
        typer.Option("--attempt", metavar="VALUE", min=1e-9, help="Own result in J/kg.", show_default=False),
    ] = None,
    attempt_uncertainty: Annotated[
        float | None,
        typer.Option(
            "--attempt-uncertainty", metavar="U", min=0.0, help="Own uncertainty in J/kg.", show_default=False
        ),
    ] = None,
    rules: Annotated[str, typer.Option("--rules", metavar="NAME", help="School rules: a preset or a TOML file.")] = (
        "add-limits"
    ),
    correction: Annotated[
        str | None,
        typer.Option("--correction", metavar="NAME", help="none, calculated or cooling-run.", show_default=False),
    ] = None,
    teacher: Annotated[bool, typer.Option("--teacher", help="Write the teacher's copy, with the account.")] = False,
    learn: Annotated[bool, typer.Option("--learn", help="Write what the readings teach as a knowledge table.")] = False,
    seed: Seed = 0,
    trials: Trials = None,
    coverage: Coverage = None,
    workers: Workers = None,  # noqa: ARG001 - common to all commands; one process is enough here
    quiet: Quiet = False,
    json: Json = "",
) -> None:
    """Turn readings into a result with its budget, and into evidence for an evaluation."""
    from design.evaluation.evaluate import Request as Asked
    from reports.command_line.commands import Request
    from reports.command_line.evaluate_command import run_evaluate

    asked = Asked(rules=rules, correction=correction, learn=learn, teacher=teacher)
    request = Request(bench, out, seed, trials, coverage, 1, quiet, json)
    run_evaluate(request, readings, asked, attempt, attempt_uncertainty)


@app.command()
def rehearse(  # noqa: PLR0913, PLR0917 - an option a parameter
    bench: BenchFile,
    out: Out = Path("boiloff-rehearsal"),
    runs: Annotated[
        int, typer.Option("--runs", metavar="N", parser=_whole(10, 10**6), help="Number of virtual runs.")
    ] = 2000,
    design: Annotated[
        int,
        typer.Option("--design", metavar="N", parser=_whole(1, 1000), help="Place in the plan's ranking, 1 the best."),
    ] = 1,
    current: Annotated[bool, typer.Option("--current", help="Rehearse what is done today.")] = False,
    seed: Seed = 0,
    trials: Trials = None,
    coverage: Coverage = None,
    workers: Workers = None,
    quiet: Quiet = False,
    json: Json = "",
) -> None:
    """Play a design on a virtual bench: traces, sample readings, and how often its interval is right."""
    from reports.command_line.commands import Request
    from reports.command_line.rehearse_command import run_rehearse

    request = Request(bench, out, seed, trials, coverage, workers or os.cpu_count() or 1, quiet, json)
    run_rehearse(request, runs, 0 if current else design)


def main(arguments: Sequence[str] | None = None) -> int:
    """
    Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Arguments; those of the process if left out.

    Returns
    -------
    int
        Exit status: 0 done; 2 the command line or a file is wrong, or nothing is feasible; 1 the program failed;
        130 stopped by the keyboard.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        result = app(None if arguments is None else list(arguments), standalone_mode=False)
    except (KeyboardInterrupt, typer.Abort):
        result = STOPPED
    except Exception as error:  # noqa: BLE001 - the one place where every fault ends
        return _report(error)
    if result == STOPPED:
        typer.echo("boiloff: stopped; nothing was written.", err=True)
    return result if isinstance(result, int) else 0


def _report(error: Exception) -> int:
    """Print what went wrong: one message for what the reader can mend, a traceback for what only we can."""
    if hasattr(error, "format_message") and hasattr(error, "exit_code"):
        typer.echo(f"boiloff: {error.format_message()}\nTry: boiloff --help", err=True)
        return int(error.exit_code)
    if _is_readers(error):
        typer.echo(f"boiloff: {error}", err=True)
        return 2
    import traceback

    typer.echo(f"boiloff failed, this is a fault in the program: {type(error).__name__}: {error}", err=True)
    traceback.print_exception(error)
    return 1


def _is_readers(error: Exception) -> bool:
    """Tell whether the reader can mend it: a fault of a file, of the budget, of the bench or of the output folder."""
    from budget.errors import BudgetError
    from design.errors import DesignError
    from reports.errors import OutputError

    return isinstance(error, BudgetError | DesignError | OutputError)


if __name__ == "__main__":
    sys.exit(main())
