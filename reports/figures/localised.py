"""Tables, facts and tables of sentences in the language of a page; in English they stay as they are."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from reports.figures.canvas import Figure
    from reports.tables.tables import Cell, Column, Table

WORDS = frozenset(
    {
        "effect", "quantity", "pushes", "procedure", "reason", "stage", "role", "makes_L", "because",
        "averaged_by_repeats", "limit", "buy", "used", "setting", "informs", "trial", "kit",
    }
)  # fmt: skip
"""Columns whose text is ours; names, symbols, units and evidence stand as they are."""


def sentences_in(sentences: Mapping[str, str], say: Language) -> dict[str, str]:
    """Translate a table of sentences."""
    return {key: say.text(sentence) for key, sentence in sentences.items()}


def facts_in(facts: Iterable[tuple[str, str]], say: Language) -> tuple[tuple[str, str], ...]:
    """Translate the labels of facts."""
    return tuple((say.text(label), value) for label, value in facts)


def table_in(table: Table, say: Language) -> Table:
    """
    Translate caption, headings and our own words of a table, and write its numbers as the language does.

    Parameters
    ----------
    table : Table
        Any table; in English it is returned as it is.
    say : Language
        Language of the page.
    """
    if say == ENGLISH:
        return table
    return replace(
        table,
        caption=say.text(table.caption),
        columns=tuple(replace(column, heading=phrase(column.heading, say)) for column in table.columns),
        rows=tuple(
            tuple(_cell(cell, column, say) for cell, column in zip(row, table.columns, strict=True))
            for row in table.rows
        ),
    )


def figure_in(figure: Figure, say: Language) -> Figure:
    """Write the numbers of a figure as the language does, in the drawing and in its table; its words are its own."""
    if say == ENGLISH:
        return figure

    def written(drawing: str) -> str:
        return re.sub(r">[^<>]+</text>", lambda found: say.number(found[0]), drawing)

    return replace(
        figure,
        svg=written(figure.svg),
        narrow_svg=written(figure.narrow_svg),
        table=table_in(figure.table, say),
    )


def tables_in(tables: Mapping[str, Table], say: Language) -> dict[str, Table]:
    """Translate tables by their names."""
    return {name: table_in(table, say) for name, table in tables.items()}


def phrase(text: str, say: Language) -> str:
    """Translate a word, a name, or several of them that commas, semicolons or “and” hold together."""
    found = quantity_name(say, text)
    if found != text:
        return found
    labelled = re.fullmatch(r"(correction): (.*)", text)
    if labelled:
        return f"{say.text('correction')}: {say.text(labelled[2])}"
    for mark in ("; ", ", "):
        if mark in text:
            return mark.join(phrase(part, say) for part in text.split(mark))
    times = re.fullmatch(r"(\d+) times", text)
    return say.text("{number} times", number=times[1]) if times else text


def _cell(cell: Cell, column: Column, say: Language) -> Cell:
    if isinstance(cell, str):
        return phrase(cell, say) if column.key in WORDS else cell
    return cell if cell is None else say.number(column.text(cell))
