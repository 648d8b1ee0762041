"""What commands print: how far they are, a heading, facts, a table, where the report is; colour only where wanted."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

    from rich.console import Console

    from reports.tables.tables import Table

    Report = Callable[..., None]

WIDE = 100
"""Columns of a terminal from which a table of sentences has room."""


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
        yield lambda *_, **__: None
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


@contextmanager
def stage(progress: Report, name: str) -> Iterator[None]:
    """Report a stage that is not counted as begun and, after the block, as done."""
    progress(name, 0, 1)
    yield
    progress(name, 1, 1)


def terminal() -> Console:
    """Console for results; rich leaves colour out for ``NO_COLOR``, a dumb terminal or a pipe."""
    from rich.console import Console

    return Console(highlight=False)


def heading(console: Console, text: str) -> None:
    """Print the name of what follows."""
    from rich.text import Text

    console.print(Text(text, style="bold blue"))


def sentences(console: Console, texts: Iterable[str]) -> None:
    """Print sentences, one below the other."""
    from rich.text import Text

    for text in texts:
        console.print(Text(text))


def facts(console: Console, rows: Iterable[tuple[str, str]]) -> None:
    """Print labels with what they say."""
    from rich.table import Table as Grid
    from rich.text import Text

    grid = Grid(show_header=False, box=None, padding=(0, 2, 0, 0))
    grid.add_column(style="bold", no_wrap=True)
    grid.add_column(overflow="fold")
    for label, value in rows:
        grid.add_row(label, Text(value))
    console.print(grid)


def data_table(console: Console, table: Table, keys: Sequence[str], *, rows: int | None = None) -> None:
    """Print columns of a table by their keys, with so many rows from its head, or all."""
    from rich import box
    from rich.table import Table as Grid
    from rich.text import Text

    shown = table.only(list(keys))
    grid = Grid(box=box.SIMPLE_HEAD, padding=(0, 1), header_style="bold", title_justify="left", show_edge=False)
    for column in shown.columns:
        number = column.is_number
        grid.add_column(column.headline, justify="right" if number else "left", no_wrap=number, overflow="fold")
    for row in shown.texts()[:rows]:
        grid.add_row(*(Text(cell) for cell in row))
    console.print()
    console.print(Text(table.caption, style="bold"))
    console.print(grid)


def report_path(console: Console, path: Path, word: str = "Report") -> None:
    """Print where the report is, on one line so that it can be copied."""
    from rich.text import Text

    console.print()
    console.print(Text.assemble(f"{word}: ", (str(path), "bold")), soft_wrap=True)
