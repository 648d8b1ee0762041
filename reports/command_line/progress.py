"""Show how far a computation has come: the stage, and the time left."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Report = Callable[..., None]


def silent(stage: str, done: int, total: int, note: str = "") -> None:
    """Show nothing."""


@contextmanager
def progress_bar(*, quiet: bool) -> Iterator[Report]:
    """
    Show a bar on the terminal while the block runs; nothing when quiet or when nobody watches.

    Yields
    ------
    callable
        ``report(stage, done, total, note)``; the note says how far it is and how good the best is.
    """
    if quiet or not sys.stderr.isatty():
        yield silent
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

    tasks: dict[str, TaskID] = {}
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        TextColumn("left"),
        TextColumn("{task.fields[note]}"),
        console=Console(stderr=True),
    ) as bar:

        def report(stage: str, done: int, total: int, note: str = "") -> None:
            if stage not in tasks:
                tasks[stage] = bar.add_task(stage, total=total, note=note)
            bar.update(tasks[stage], completed=done, total=total, note=note)

        yield report
