"""What ``boiloff evaluate`` does, apart from reading the command line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from reports.command_line.console import heading, report_path, sentences, terminal
from reports.tables.files import deliver

if TYPE_CHECKING:
    from pathlib import Path

    from design.evaluation.evaluate import Evaluation


@dataclass(frozen=True)
class EvaluateRequest:
    """What ``boiloff evaluate`` was asked for."""

    bench_file: Path
    readings_file: Path
    out: Path
    attempt: float | None
    attempt_uncertainty: float | None
    rules: str
    correction: str | None
    teacher: bool
    learn: bool
    coverage: float | None
    seed: int
    quiet: bool
    json: str = ""
    trials: int | None = None


def run_evaluate(request: EvaluateRequest) -> None:
    """
    Read bench and readings, evaluate, write the report and show what was found.

    Raises
    ------
    DesignError
        If a file is wrong, or no group can be evaluated.
    OutputError
        If the output folder cannot be written.
    """
    from design.bench_files.reader import read_bench
    from design.errors import DesignError
    from design.evaluation.attempts import Attempt
    from design.evaluation.evaluate import Request, evaluate
    from design.sheets.readings_file import read_readings
    from reports.command_line.evaluate_output import FILES, evaluate_files
    from reports.command_line.output_folder import check_folder, write_folder
    from reports.rendering import origin

    if request.attempt is None and request.attempt_uncertainty is not None:
        raise DesignError("--attempt-uncertainty: must come with --attempt VALUE (got no value)")
    check_folder(request.out)
    bench = read_bench(request.bench_file)
    sheet = read_readings(request.readings_file)
    attempt = None if request.attempt is None else Attempt(request.attempt, request.attempt_uncertainty)
    coverage = bench.search.coverage if request.coverage is None else request.coverage
    asked = Request(request.rules, request.correction, attempt, request.learn, coverage, request.seed)
    if request.trials is not None:
        asked = replace(asked, trials=request.trials)
    evaluation = evaluate(bench, sheet, asked)
    files = evaluate_files(evaluation, origin(), teacher=request.teacher)
    write_folder(request.out, files, FILES)
    deliver(files["evaluate.json"], request.json)
    if not request.quiet and not request.json:
        console = terminal()
        heading(console, evaluation.bench.name)
        sentences(console, summary(evaluation, teacher=request.teacher))
        report_path(console, request.out / "report.html")


def summary(evaluation: Evaluation, *, teacher: bool) -> list[str]:
    """Say on the terminal what was found; a computed value only where the own one is there, or to the teacher."""
    from reports.words.evaluate import AGREES, per_kilogram
    from reports.words.languages import ENGLISH

    lines = [f"{finding.code}: {finding.message}" for finding in evaluation.findings]
    for group in evaluation.groups:
        result, check = group.result, group.attempt
        if check is not None:
            step = "the same" if check.same else f"step that differs: {check.step or 'not found'}"
            lines.append(f"Group {group.group}: own value {check.difference_percent:+.2f} % from E/m; {step}")
        if teacher or check is not None:
            verdict, plain = AGREES[result.best.agreement.agrees], result.uncorrected
            lines.append(
                f"Group {group.group}: E/m {per_kilogram(plain.value, plain.standard_uncertainty)}, "
                f"corrected {per_kilogram(result.best.value, result.best.standard_uncertainty)}; "
                f"{verdict} with the reference (E_n {result.best.agreement.normalised_error:.2f})"
            )
        else:
            lines.append(f"Group {group.group}: {ENGLISH.text('evaluate.attempt_withheld')}")
    return lines
