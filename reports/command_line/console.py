"""Parts of what commands print: a heading, facts, a table, the path of the report; colour only where it is wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from rich.console import Console

    from reports.tables.tables import Table

WIDE = 100
"""Columns of a terminal from which a table of sentences has room."""


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
    """
    Print columns of a table.

    Parameters
    ----------
    console : Console
        Where to.
    table : Table
        The table.
    keys : sequence of str
        Its columns to print.
    rows : int, optional
        Rows to print from its head; all if left out.
    """
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
