"""Values as intervals beside the reference: school rule, readings alone, losses taken off, and the own value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.figures.canvas import About, Figure, IntervalRow, Look, figure, interval_rows
from reports.tables.tables import Column, table
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.tables.tables import Cell


@dataclass(frozen=True)
class Interval:
    """
    A value and its interval, how it is called, and how it is drawn.

    Parameters
    ----------
    label : str
        What it is called.
    value, low, high : float
        Value and ends. [kJ/kg]
    kind : str
        One of `LOOKS`.
    uncertainty : float
        What the numbers are rounded by; 0 where they stand as they are. [kJ/kg]
    """

    label: str
    value: float
    low: float
    high: float
    kind: str
    uncertainty: float = 0.0


LOOKS: Mapping[str, Look] = {
    "own": "own",
    "school": "hatched",
    "readings": "lined",
    "corrected": "solid",
    "pooled": "crossed",
}
"""Look by kind."""


def intervals(name: str, rows: Sequence[Interval], reference: float, caption: str, say: Language = ENGLISH) -> Figure:
    """
    Draw intervals beside the reference.

    Parameters
    ----------
    name : str
        Of the drawing.
    rows : sequence of Interval
        From top to bottom. [kJ/kg]
    reference : float
        Latent heat at room pressure. [kJ/kg]
    caption : str
        How to read it.
    say : Language
        Language of its words.
    """
    word = say.text("graph.reference", value=say.fixed(reference, 0))
    alt = f"{word}. " + "; ".join(_said(row, say) for row in rows)
    columns = (
        Column("what", say.text("evaluate.interval_value")),
        Column("value_kJ_per_kg", "L", "significant", "kJ/kg", 5),
        Column("low_kJ_per_kg", say.text("evaluate.interval_from"), "significant", "kJ/kg", 5),
        Column("high_kJ_per_kg", say.text("evaluate.interval_to"), "significant", "kJ/kg", 5),
    )
    numbers = table(
        name,
        say.text("evaluate.values_and_intervals"),
        columns,
        [(row.label, *_numbers(row, say)) for row in rows],
        say,
    )
    drawn = [IntervalRow(row.label, row.value, row.low, row.high, LOOKS[row.kind]) for row in rows]
    about = About(reference, word.removesuffix(" kJ/kg"), "kJ/kg", 0.30, say)
    return figure(name, lambda own, width: interval_rows(own, width, drawn, about, alt), alt, caption, numbers)


def _said(row: Interval, say: Language) -> str:
    value, low, high = (say.fixed(one, 0) for one in (row.value, row.low, row.high))
    return say.text("evaluate.from_to", label=row.label, value=value, low=low, high=high)


def _numbers(row: Interval, say: Language) -> tuple[Cell, ...]:
    """Value and ends, to the place of the uncertainty."""
    numbers = (row.value, row.low, row.high)
    if row.uncertainty <= 0.0:
        return numbers
    return tuple(
        f"{say.number(rounding.round_together(one, row.uncertainty)[0])}{rounding.THIN}kJ/kg" for one in numbers
    )
