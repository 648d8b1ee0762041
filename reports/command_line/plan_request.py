"""What ``boiloff plan`` was asked for, and what a search that was stopped leaves behind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

STORE = "search.sqlite"
"""File in which a stopped search keeps what it has finished."""
STOPPED = 130
"""Exit status of what the keyboard stopped (a convention of shells)."""


@dataclass(frozen=True)
class PlanRequest:
    """What ``boiloff plan`` was asked for."""

    bench_files: tuple[Path, ...]
    out: Path
    seed: int
    trials: int | None
    coverage: float | None
    workers: int
    quiet: bool
    only_owned: bool
    cluster: str = ""
    pages: str | None = None
    language: str = "en"
    json: str = ""

    @property
    def partial(self) -> Path:
        """Folder of what a stopped search leaves."""
        return self.out.with_name(f"{self.out.resolve().name}-partial")


def clear(folder: Path, names: Iterable[str]) -> None:
    """Take away what a stopped search left, and the folders where nothing else is in them."""
    names = tuple(names)
    if not folder.is_dir():
        return
    for name in (STORE, *names):
        (folder / name).unlink(missing_ok=True)
    for place in (*(folder / name for name in {name.split("/")[0] for name in names if "/" in name}), folder):
        if place.is_dir() and not any(place.iterdir()):
            place.rmdir()


def program_version() -> str:
    """Version of the program, which a stopped search must share."""
    return version("boiloff")
