"""What the commands are asked for, and how their answers are written and shown."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from rich.console import Console

    from design.bench import Bench
    from reports.command_line.console import Report
    from reports.rendering import Origin

STOPPED = 130
"""Exit status after an interrupt from the keyboard: 128 and the number of the signal, as shells have it."""
PAGE = "report.html"
"""The page of a report."""


@dataclass(frozen=True)
class Request:
    """What a command is asked for beside its own options."""

    out: Path
    seed: int
    trials: int | None
    coverage: float | None
    workers: int
    quiet: bool
    json: str = ""

    @property
    def is_shown(self) -> bool:
        """Whether the terminal shows the answer."""
        return not self.quiet and not self.json

    def read(self, file: Path) -> Bench:
        """Read a bench file; a coverage probability of the command line comes before the file's."""
        from design.bench_files.reader import read_bench

        bench = read_bench(file)
        return bench if self.coverage is None else replace(bench, search=replace(bench.search, coverage=self.coverage))

    def answer(
        self, names: Iterable[str], find: Callable[[Report], Any],
        write: Callable[[Any, Origin], Mapping[str, bytes]], show: Callable[[Any, Path, Console], None],
    ) -> None:  # fmt: skip
        """
        Find something out, write it as files, of which a report has these names at most, and show it.

        Raises
        ------
        OutputError
            If the output folder cannot be written.
        """
        from reports.command_line.console import progress_bar, stage, terminal
        from reports.command_line.output_folder import check_folder, write_folder
        from reports.rendering import origin
        from reports.tables.files import deliver

        check_folder(self.out)
        with progress_bar(quiet=self.quiet) as progress:
            found = find(progress)
            with stage(progress, "writing the report"):
                files = write(found, origin())
                write_folder(self.out, files, names)
        deliver(next(content for name, content in files.items() if name.endswith(".json")), self.json)
        if self.is_shown:
            show(found, self.out / PAGE, terminal())


@dataclass(frozen=True, kw_only=True)
class PlanRequest(Request):
    """What ``boiloff plan`` is asked for."""

    files: tuple[Path, ...]
    only_owned: bool
    cluster: str = ""
    pages: str | None = None
    language: str = "en"
    knowing: Path | None = None

    def read(self, file: Path) -> Bench:
        """Read a bench file; what a file of knowledge says comes before it."""
        from design.bench_files.knowledge import read_knowledge, with_knowledge

        bench = super().read(file)
        return bench if self.knowing is None else with_knowledge(bench, read_knowledge(self.knowing))

    @property
    def partial(self) -> Path:
        """Folder of what a stopped search leaves."""
        return self.out.with_name(f"{self.out.resolve().name}-partial")


@dataclass(frozen=True, kw_only=True)
class EvaluateRequest(Request):
    """What ``boiloff evaluate`` is asked for: files, own value [J/kg], the plan's design, 1 the best, and language."""

    bench_file: Path
    readings: Path
    attempt: float | None = None
    attempt_uncertainty: float | None = None
    plan: Path | None = None
    place: int | None = None
    language: str = "en"


def json_bytes(record: Any) -> bytes:
    """
    Write a record as JSON, UTF-8; numbers in full, nothing that JSON does not know.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return (json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")


def attributes(thing: object, names: str) -> dict[str, Any]:
    """
    Put attributes, named in a string, into a dictionary.

    Examples
    --------
    >>> attributes(1 + 2j, "real imag")
    {'real': 1.0, 'imag': 2.0}
    """
    return {name: getattr(thing, name) for name in names.split()}
