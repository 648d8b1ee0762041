"""Tables without markup: typed columns, raw cells, and the text a reader sees in each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Literal

from reports.words import rounding
from reports.words.languages import ENGLISH, Language

Cell = str | float | int | None
Kind = Literal["text", "significant", "percent", "signed percent", "money", "minutes", "whole", "symbol"]
KIND_UNITS: Mapping[str, str] = MappingProxyType({"percent": "%", "signed percent": "%", "minutes": "min"})
"""Units of the kinds of column that carry none of their own."""
PLAIN = (1e-5, 1e7)
"""Range of uncertainties in which numbers are written without a power of ten, as `rounding.significant` does."""


@dataclass(frozen=True)
class Column:
    """
    One column.

    Parameters
    ----------
    key : str
        Name of the column in a CSV file, with its unit.
    heading : str
        What the reader sees.
    kind : str
        How a cell is written.
    unit : str
        Unit or currency written behind each number; empty for none.
    digits : int
        Significant digits where the kind is ``"significant"``.
    bare : bool
        Whether the unit stands once in the heading and not behind each number.
    cell : callable (item) -> Cell
        What an item has in it; its attribute of the column's name if left out.
    """

    key: str
    heading: str
    kind: Kind = "text"
    unit: str = ""
    digits: int = 3
    bare: bool = False
    cell: Callable[[Any], Cell] | None = field(default=None, compare=False)

    def of(self, item: Any) -> Cell:
        """Raw cell of an item."""
        found: Cell = self.cell(item) if self.cell else getattr(item, self.key)
        return found

    @property
    def unit_behind(self) -> str:
        """What stands behind each number: the unit, or the sign that the kind brings along."""
        return self.unit or KIND_UNITS.get(self.kind, "")

    @property
    def headline(self) -> str:
        """What the reader sees above the column: the heading, and the unit where the cells are bare."""
        return f"{self.heading} ({rounding.spelled(self.unit_behind)})" if self.bare else self.heading

    @property
    def is_number(self) -> bool:
        """Whether cells stand right-aligned."""
        return self.kind not in {"text", "symbol"}

    def text(self, cell: Cell) -> str:
        """Write one cell as the reader sees it; nothing is a dash."""
        if cell is None or cell == "":
            return "–"
        if isinstance(cell, str):
            return cell
        text = _WRITERS[self.kind](float(cell), self)
        return text.removesuffix(rounding.THIN + rounding.spelled(self.unit_behind)) if self.bare else text


_WRITERS: dict[Kind, Callable[[float, Column], str]] = {
    "text": lambda value, column: rounding.in_unit(value, column.unit, column.digits),
    "symbol": lambda value, column: rounding.in_unit(value, column.unit, column.digits),
    "significant": lambda value, column: rounding.in_unit(value, column.unit, column.digits),
    "percent": lambda value, _column: rounding.percent(value),
    "signed percent": lambda value, _column: rounding.signed_percent(value),
    "money": lambda value, column: rounding.money(value, column.unit),
    "minutes": lambda value, _column: rounding.minutes(value),
    "whole": lambda value, _column: rounding.fixed(value, 0),
}


@dataclass(frozen=True)
class Table:
    """
    A table.

    Parameters
    ----------
    name, caption : str
        Name of its file, and what the reader sees above it.
    columns : tuple of Column
        Columns.
    rows : tuple of tuple
        Raw cells.
    say : Language
        Language of its words, in which its numbers are written.

    Raises
    ------
    ValueError
        If a row has another number of cells than there are columns.
    """

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    say: Language = ENGLISH

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.name}: {len(row)} cells in a row of {len(self.columns)} columns")

    def only(self, keys: Sequence[str]) -> Table:
        """Keep some columns, in the order of the table."""
        places = [place for place, column in enumerate(self.columns) if column.key in keys]
        return replace(
            self,
            columns=tuple(self.columns[place] for place in places),
            rows=tuple(tuple(row[place] for place in places) for row in self.rows),
        )

    def bare(self) -> Table:
        """Put the units of all numbers into the headings, which makes the columns narrow."""
        columns = tuple(
            replace(column, bare=True) if column.is_number and column.unit_behind else column for column in self.columns
        )
        return replace(self, columns=columns)

    def rounded_by(self, estimate: str, uncertainty: str) -> Table:
        """
        Round each estimate together with its standard uncertainty, to two digits of it (JCGM 100, 7.2.6).

        Exact numbers stay as their column writes them, and so do those that want a power of ten.

        Parameters
        ----------
        estimate, uncertainty : str
            Keys of the two columns.
        """
        keys = [column.key for column in self.columns]
        places = keys.index(estimate), keys.index(uncertainty)
        return replace(self, rows=tuple(_rounded(row, *places, self.say) for row in self.rows))

    def texts(self) -> tuple[tuple[str, ...], ...]:
        """Cells as the reader sees them."""
        return tuple(
            tuple(self._text(column, cell) for column, cell in zip(self.columns, row, strict=True)) for row in self.rows
        )

    def _text(self, column: Column, cell: Cell) -> str:
        text = column.text(cell)
        return text if cell is None or isinstance(cell, str) else self.say.number(text)


def _rounded(row: tuple[Cell, ...], estimate: int, uncertainty: int, say: Language) -> tuple[Cell, ...]:
    value, spread = row[estimate], row[uncertainty]
    if isinstance(value, str) or isinstance(spread, str) or value is None or spread is None:
        return row
    if not PLAIN[0] <= spread < PLAIN[1]:
        return row
    written = map(say.number, rounding.round_together(value, spread))
    texts = dict(zip((estimate, uncertainty), written, strict=True))
    return tuple(texts.get(place, cell) for place, cell in enumerate(row))


def table(
    name: str, caption: str, columns: Sequence[Column], rows: Sequence[Sequence[Cell]], say: Language = ENGLISH
) -> Table:
    """Make a table of any sequences."""
    return Table(name, caption, tuple(columns), tuple(tuple(row) for row in rows), say)


def listed(
    name: str,
    caption: str,
    items: Iterable[Any],
    columns: Sequence[Column],
    say: Language = ENGLISH,
) -> Table:
    """Make a table with a row an item, by what each column takes from it."""
    return table(name, caption, columns, [tuple(column.of(item) for column in columns) for item in items], say)
