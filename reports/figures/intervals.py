"""Values as intervals beside the reference: school rule, readings alone, losses taken off, and the own value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.figures.canvas import NARROW, SMALL_TEXT, WIDE, Figure, axis_title, colours, drawing, markup, wrapped
from reports.tables.tables import Column, table
from reports.words import rounding

if TYPE_CHECKING:
    from collections.abc import Sequence

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
        One of `HATCHES`.
    uncertainty : float
        What the numbers are rounded by; 0 where they stand as they are. [kJ/kg]
    """

    label: str
    value: float
    low: float
    high: float
    kind: str
    uncertainty: float = 0.0


HATCHES = {"own": None, "school": "//////", "readings": "----", "corrected": None, "pooled": "xxxx"}
"""Hatching by kind, so that kinds differ without colour."""


def intervals(name: str, rows: Sequence[Interval], reference: float, caption: str) -> Figure:
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
    """
    alt = f"Reference {reference:.1f} kJ/kg. " + "; ".join(
        f"{row.label} {row.value:.0f} kJ/kg, from {row.low:.0f} to {row.high:.0f}" for row in rows
    )
    columns = (
        Column("what", "Value"),
        Column("value_kJ_per_kg", "L", "significant", "kJ/kg", 5),
        Column("low_kJ_per_kg", "From", "significant", "kJ/kg", 5),
        Column("high_kJ_per_kg", "To", "significant", "kJ/kg", 5),
    )
    numbers = table(name, "Values and intervals", columns, [(row.label, *_numbers(row)) for row in rows])
    return Figure(
        svg=_draw(name, rows, reference, alt, WIDE),
        narrow_svg=_draw(f"{name}-narrow", rows, reference, alt, NARROW),
        alt=alt,
        caption=caption,
        table=numbers,
    )


def _numbers(row: Interval) -> tuple[Cell, ...]:
    """Value and ends, to the place of the uncertainty."""
    numbers = (row.value, row.low, row.high)
    if row.uncertainty <= 0.0:
        return numbers
    return tuple(f"{rounding.round_together(one, row.uncertainty)[0]}{rounding.THIN}kJ/kg" for one in numbers)


def _draw(name: str, rows: Sequence[Interval], reference: float, alt: str, width: float) -> str:
    wide = width > NARROW
    height = (0.32 if wide else 0.48) * len(rows) + 0.62
    with drawing(name, width, height) as (canvas, axes):
        left = 0.30 if wide else 0.03
        axes.set_position((left, 0.42 / height, 0.96 - left, 1 - 0.62 / height))
        ends = [reference, *(end for row in rows for end in (row.low, row.high, row.value))]
        span = max(ends) - min(ends) or 1.0
        axes.set_xlim(min(ends) - 0.05 * span, max(ends) + 0.05 * span)
        axes.set_ylim(len(rows) - 0.4, -0.6)
        for position, row in enumerate(rows):
            _row(axes, position, row, wide=wide)
        _reference(axes, reference, wide=wide)
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _row(axes: Any, position: int, row: Interval, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    solid = row.kind == "corrected"
    axes.barh(
        place, row.high - row.low, left=row.low, height=0.46 if wide else 0.3, linewidth=1.1,
        facecolor=tint["blue"] if solid else tint["paper"],
        edgecolor=tint["orange"] if row.kind == "own" else tint["blue"], hatch=HATCHES[row.kind],
    )  # fmt: skip
    marker = "D" if row.kind == "own" else "o"
    axes.plot([row.value], [place], marker=marker, markersize=6, color=tint["paper"], markeredgecolor=tint["ink"])
    transform = axes.get_yaxis_transform()
    if wide:
        label = wrapped(row.label, 34)
        axes.text(-0.02, place, label, transform=transform, va="center", ha="right", fontsize=SMALL_TEXT)
    else:
        written = axes.text(
            0.0, position - 0.22, row.label, transform=transform, va="center", ha="left", fontsize=SMALL_TEXT
        )
        written.set_bbox({"facecolor": tint["paper"], "edgecolor": "none", "pad": 0.6})


def _reference(axes: Any, reference: float, *, wide: bool) -> None:
    from matplotlib.ticker import MaxNLocator

    tint = colours()
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.axvline(reference, color=tint["ink"], linewidth=1.2, linestyle=(0, (3, 2)), zorder=0)
    text = f"reference {rounding.grouped(f'{reference:.0f}')}"
    axes.text(
        reference, 1.01, text, transform=axes.get_xaxis_transform(), ha="center", va="bottom", fontsize=SMALL_TEXT
    )
    axes.xaxis.set_major_locator(MaxNLocator(7 if wide else 4))
    axis_title(axes, "kJ/kg")
