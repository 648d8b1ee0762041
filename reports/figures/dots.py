"""Values as dots with bars on one scale: the runs of a group, or the groups of a class with what they pool to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, axis_title, colours, drawing, figure, markup, row_label
from reports.tables.tables import Column, table
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

Mark = Literal["one", "far", "pooled", "robust"]
MARKERS: dict[Mark, str] = {"one": "o", "far": "X", "pooled": "s", "robust": "D"}


@dataclass(frozen=True)
class Dot:
    """
    A value with its bar.

    Parameters
    ----------
    label : str
        What it is called.
    value, half : float
        Value, and half the length of its bar. [J/kg]
    mark : str
        One of `MARKERS`.
    note : str
        What stands at the right end of its row.
    """

    label: str
    value: float
    half: float
    mark: Mark = "one"
    note: str = ""


@dataclass(frozen=True)
class DotWords:
    """How to read a figure of dots, the heads of its table, and the reference where there is one. [J/kg]"""

    caption: str
    headings: tuple[str, str, str]
    reference: float | None = None


def dots(name: str, rows: Sequence[Dot], shown: DotWords, say: Language = ENGLISH) -> Figure:
    """
    Draw values with their bars, from top to bottom.

    Parameters
    ----------
    name : str
        Of the drawing, its own on the page.
    rows : sequence of Dot
        What is drawn.
    shown : DotWords
        Words, and the reference.
    say : Language
        Language of its words.
    """
    parts = [say.text("graph.dot", label=row.label, value=_text(row, say), note=row.note).strip(" ,") for row in rows]
    about = shown.caption.partition(". ")[0]
    alt = f"{about}: {'; '.join([*_reference(shown, say), *parts])}"
    what, value, note = shown.headings
    columns = (Column("what", what), Column("value", value), Column("note", note))
    kept = columns if any(row.note for row in rows) else columns[:2]
    cells = [(row.label, _text(row, say), row.note)[: len(kept)] for row in rows]
    numbers = table(name, about, kept, cells, say)
    return figure(name, lambda own, width: _draw((own, width), rows, shown, (alt, say)), alt, shown.caption, numbers)


def _reference(shown: DotWords, say: Language) -> list[str]:
    if shown.reference is None:
        return []
    return [say.text("graph.reference", value=say.number(rounding.grouped(f"{shown.reference / 1e3:.0f}")))]


def _text(row: Dot, say: Language) -> str:
    return say.with_uncertainty(row.value / 1e3, row.half / 1e3, "kJ/kg")


def _draw(drawn: tuple[str, float], rows: Sequence[Dot], shown: DotWords, words: tuple[str, Language]) -> str:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    (name, width), (alt, say) = drawn, words
    wide, tint = width > NARROW, colours()
    above = 0.2 if shown.reference is not None else 0.06
    height = (0.27 if wide else 0.46) * len(rows) + above + 0.42
    noted = any(row.note for row in rows)
    with drawing(name, width, height) as (canvas, axes):
        left, right = (0.26 if wide else 0.03), (0.86 if noted and wide else 0.97)
        axes.set_position((left, 0.42 / height, right - left, 1 - (above + 0.42) / height))
        ends = [end for row in rows for end in (row.value - row.half, row.value + row.half)]
        ends = [end / 1e3 for end in (*ends, *([shown.reference] if shown.reference is not None else []))]
        room = 0.06 * (max(ends) - min(ends) or 1.0)
        axes.set_xlim(min(ends) - room, max(ends) + room)
        for place, row in enumerate(rows):
            _row(axes, place, row, wide=wide)
        axes.set_ylim(len(rows) - 0.4, -0.6)
        axes.set_yticks([])
        axes.spines["bottom"].set_visible(True)
        if shown.reference is not None:
            axes.axvline(shown.reference / 1e3, color=tint["ink"], linewidth=1.1, linestyle=(0, (3, 2)), zorder=0)
            axes.text(shown.reference / 1e3, 1.01, _reference(shown, say)[0], transform=axes.get_xaxis_transform(),
                      ha="center", va="bottom", fontsize=SMALL_TEXT)  # fmt: skip
        axes.xaxis.set_major_locator(MaxNLocator(7 if wide else 4))
        axes.xaxis.set_major_formatter(
            FuncFormatter(lambda value, _: say.number(rounding.grouped(f"{value:.10g}").replace("-", "\u2212")))
        )
        axis_title(axes, "kJ/kg")
        return markup(canvas, name, alt)


def _row(axes: Any, place: int, row: Dot, *, wide: bool) -> None:
    tint = colours()
    at = place + (0.0 if wide else 0.2)
    several = row.mark in {"pooled", "robust"}
    axes.errorbar(
        [row.value / 1e3], [at], xerr=row.half / 1e3, fmt=MARKERS[row.mark], markersize=6 if several else 5,
        color=tint["paper"] if row.mark == "far" else tint["orange"] if several else tint["blue"],
        markeredgecolor=tint["ink"], markeredgewidth=0.8, ecolor=tint["ink"], elinewidth=1.0, capsize=3,
    )  # fmt: skip
    row_label(axes, place, row.label if wide or not row.note else f"{row.label} · {row.note}", fontsize=SMALL_TEXT)
    if wide and row.note:
        axes.text(1.02, at, row.note, transform=axes.get_yaxis_transform(), va="center", ha="left",
                  fontsize=SMALL_TEXT)  # fmt: skip
