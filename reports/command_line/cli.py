"""The command line: read a file, call one function, write and show the result."""

from __future__ import annotations

import inspect
import math
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from reports.command_line.request import STOPPED, EvaluateRequest, PlanRequest, Request
from reports.words.languages import LANGUAGES

app = typer.Typer(
    name="boiloff",
    help="Plan and judge the school measurement of the specific latent heat of vaporisation of water.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _number(read: Callable[[str], float], holds: Callable[[float], bool], what: str) -> Callable[[Any], float]:
    """Make a reader of numbers of which something holds."""

    def number(text: Any) -> float:
        try:
            value = read(text)
        except ValueError:
            value = math.nan
        if not holds(value):
            raise typer.BadParameter(f"{text} is not {what}.")
        return value

    return number


def _whole(least: int, most: int) -> Callable[[Any], float]:
    return _number(int, lambda value: least <= value <= most, f"a whole number from {least} to {most}")


_coverage = _number(float, lambda value: 0 < value < 1, "a probability between 0 and 1, such as 0.95")


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"boiloff {version('boiloff')}")
        raise typer.Exit


def _shared(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder of the report.")],
    seed: Annotated[
        int, typer.Option("--seed", metavar="N", parser=_whole(0, 2**31 - 1), help="Seed of the sample.")
    ] = 0,
    trials: Annotated[
        int | None, typer.Option("--trials", metavar="N", parser=_whole(2, 2**24), help="Size of the sample.")
    ] = None,
    coverage: Annotated[
        float | None,
        typer.Option("--coverage", metavar="P", parser=_coverage, help="Coverage probability of intervals."),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers", metavar="N", parser=_whole(1, 1024), help="Processes to use; all processors if left out."
        ),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing but faults.")] = False,
    json: Annotated[
        str,
        typer.Option(
            "--json",
            metavar="-|FILE",
            help="Write the JSON there as well; - is standard output, with nothing else on it.",
            show_default=False,
        ),
    ] = "",
) -> Request:
    """Options that commands share."""
    return Request(out, seed, trials, coverage, workers or os.cpu_count() or 1, quiet, json)


def _command(folder: str) -> Callable[[Callable[..., int | None]], Callable[..., int | None]]:
    """Add a command whose ``request`` is read from the options that commands share; its usual folder is given."""

    def add(function: Callable[..., int | None]) -> Callable[..., int | None]:
        own = [
            each for each in inspect.signature(function, eval_str=True).parameters.values() if each.name != "request"
        ]
        shared = list(inspect.signature(_shared, eval_str=True).parameters.values())
        shared[0] = shared[0].replace(default=Path(folder))
        parameters = [each.replace(kind=inspect.Parameter.KEYWORD_ONLY) for each in (*own, *shared)]

        def run(**given: Any) -> int | None:
            request = _shared(**{each.name: given.pop(each.name) for each in shared})
            return function(**given, request=request)

        run.__name__, run.__doc__ = function.__name__, function.__doc__
        run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
        run.__annotations__ = {each.name: each.annotation for each in parameters}
        app.command()(run)
        return function

    return add


PageLanguage = Annotated[str, typer.Option("--language", metavar="|".join(LANGUAGES), help="Language of the pages.")]
BenchFile = Annotated[Path, typer.Argument(metavar="BENCH.toml", help="Bench file.")]


@app.callback()
def boiloff(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and leave.")
    ] = False,
) -> None:
    """Plan and judge the school measurement of the specific latent heat of vaporisation of water."""


@_command("boiloff-report")
def plan(
    benches: Annotated[list[Path], typer.Argument(metavar="BENCH.toml...", help="Bench file, or several.")],
    *,
    only_owned: Annotated[bool, typer.Option("--only-owned", help="Use only what is in the cupboard.")] = False,
    cluster: Annotated[
        str, typer.Option("--cluster", metavar="ADDRESS", help="Dask scheduler to work on.", show_default=False)
    ] = "",
    pages: Annotated[
        str | None, typer.Option("--pages", metavar="NAME,...", help="Printed pieces to write; all if left out.")
    ] = None,
    knowing: Annotated[
        Path | None,
        typer.Option("--knowing", metavar="FILE", help="Knowledge that evaluate --learn wrote.", show_default=False),
    ] = None,
    language: Annotated[
        str, typer.Option("--language", metavar="|".join(LANGUAGES), help="Language of the pages.")
    ] = LANGUAGES[0],
    request: Request,
) -> int:
    """Rank kit, procedure, mass and power; write the report. Several benches get a summary as well."""
    from reports.command_line.plan import run_plan

    asked: dict[str, Any] = {"only_owned": only_owned, "cluster": cluster, "pages": pages, "language": language}
    asked["knowing"] = knowing
    return run_plan(PlanRequest(**vars(request), files=tuple(benches), **asked))


@_command("boiloff-budget")
def budget(
    file: Annotated[Path, typer.Argument(metavar="FILE.toml", help="Budget file.")],
    *,
    order: Annotated[
        int, typer.Option("--order", metavar="1|2", parser=_whole(1, 2), help="Order of the law of propagation.")
    ] = 1,
    request: Request,
) -> None:
    """Work out the uncertainty budget of any measurement equation."""
    from reports.command_line.budget import run_budget

    run_budget(request, file, order)


@app.command()
def check(file: Annotated[Path, typer.Argument(metavar="FILE", help="Bench file or budget file.")]) -> None:
    """Read and validate a file, and compute nothing."""
    from reports.command_line.own_files import run_check

    typer.echo(run_check(file))


@app.command()
def start(folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to write to.")]) -> None:
    """Write a commented bench file, shelves, readings sheets and budget files to start from."""
    from reports.command_line.own_files import start as write_starter

    names = write_starter(folder)
    typer.echo("\n".join(f"{folder / name}" for name in names))
    typer.echo(f"Fill in your own kit, then: boiloff plan {folder / 'bench.toml'}")


@_command("boiloff-comparison")
def compare(bench: BenchFile, *, language: PageLanguage = "en", request: Request) -> None:
    """Compare procedures and improvements on the kit in hand."""
    from reports.command_line.compare import run_compare

    run_compare(request, bench, language)


@_command("boiloff-evaluation")
def evaluate(  # noqa: PLR0913 - an option a parameter
    bench: BenchFile,
    readings: Annotated[Path, typer.Argument(metavar="READINGS", help="Readings, CSV or XLSX.")],
    *,
    attempt: Annotated[
        float | None, typer.Option("--attempt", metavar="VALUE", min=1e-9, help="Own result in J/kg.")
    ] = None,
    attempt_uncertainty: Annotated[
        float | None, typer.Option("--attempt-uncertainty", metavar="U", min=0.0, help="Own uncertainty in J/kg.")
    ] = None,
    rules: Annotated[str, typer.Option("--rules", metavar="NAME", help="School rules: a preset or a TOML file.")] = (
        "add-limits"
    ),
    correction: Annotated[
        str | None, typer.Option("--correction", metavar="NAME", help="none, calculated or cooling-run.")
    ] = None,
    teacher: Annotated[bool, typer.Option("--teacher", help="Write the teacher's copy, with the account.")] = False,
    learn: Annotated[bool, typer.Option("--learn", help="Write what the readings teach as a knowledge table.")] = False,
    plan: Annotated[
        Path | None,
        typer.Option(
            "--plan", metavar="plan.json", help="Plan by whose design the readings were taken; today's way if left out."
        ),
    ] = None,
    design: Annotated[
        int | None,
        typer.Option(
            "--design",
            metavar="N",
            parser=_whole(1, 1000),
            help="Place in that plan's ranking; the recommended design if left out.",
        ),
    ] = None,
    language: PageLanguage = "en",
    request: Request,
) -> None:
    """Turn readings into a result with its budget, and into evidence for an evaluation."""
    from design.evaluation.evaluate import EvaluationRequest
    from reports.command_line.evaluate import run_evaluate

    asked = EvaluationRequest(rules=rules, correction=correction, learn=learn, teacher=teacher)
    files: dict[str, Any] = {
        "bench_file": bench,
        "readings": readings,
        "plan": plan,
        "place": design,
        "language": language,
    }
    own: dict[str, Any] = {"attempt": attempt, "attempt_uncertainty": attempt_uncertainty}
    run_evaluate(EvaluateRequest(**vars(request), **files, **own), asked)


@_command("boiloff-rehearsal")
def rehearse(
    bench: BenchFile,
    *,
    runs: Annotated[
        int, typer.Option("--runs", metavar="N", parser=_whole(10, 10**6), help="Number of virtual runs.")
    ] = 2000,
    design: Annotated[
        int,
        typer.Option("--design", metavar="N", parser=_whole(1, 1000), help="Place in the plan's ranking, 1 the best."),
    ] = 1,
    current: Annotated[bool, typer.Option("--current", help="Rehearse what is done today.")] = False,
    language: PageLanguage = "en",
    request: Request,
) -> None:
    """Play a design on a virtual bench: traces, sample readings, and how often its interval is right."""
    from reports.command_line.rehearse import run_rehearse

    run_rehearse(request, bench, runs, 0 if current else design, language)


def main(arguments: Sequence[str] | None = None) -> int:
    """
    Run the command line with arguments, those of the process if left out, and return its exit status.

    0 done; 2 the command line or a file is wrong, or nothing is feasible; 1 the program failed; 130 stopped by the
    keyboard.
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
    from budget.errors import BudgetError
    from design.errors import DesignError
    from reports.errors import OutputError

    if isinstance(error, BudgetError | DesignError | OutputError):
        typer.echo(f"boiloff: {error}", err=True)
        return 2
    import traceback

    typer.echo(f"boiloff failed, this is a fault in the program: {type(error).__name__}: {error}", err=True)
    traceback.print_exception(error)
    return 1


if __name__ == "__main__":
    sys.exit(main())
