"""Rows one below the other: intervals about a value, and shares of a whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from reports.figures.canvas import NARROW, SMALL_TEXT, axis_title, colours, drawing, markup, row_label, signed_tick
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

Look = Literal["solid", "hatched", "lined", "crossed", "faint", "own"]
HATCHES = {"solid": None, "own": None, "hatched": "//////", "faint": "//////", "lined": "----", "crossed": "xxxx"}
"""Hatching by look, so that looks differ without colour."""


@dataclass(frozen=True)
class Row:
    """A value with its interval, what it is called, and how it looks."""

    label: str
    value: float
    low: float
    high: float
    look: Look


@dataclass(frozen=True)
class Share:
    """
    A part of a whole.

    Parameters
    ----------
    label, note : str
        What it is, and what stands behind its bar; the share in per cent where the note is left out.
    share : float
        Length. [1]
    interval : tuple of float or None
        Interval of the share, drawn as a thin line. [1]
    hatched : bool
        Hatched instead of solid.
    """

    label: str
    share: float
    interval: tuple[float, float] | None = None
    hatched: bool = False
    note: str = ""

    @property
    def end(self) -> float:
        """Right end of what is drawn. [1]"""
        return max(self.share, self.interval[1] if self.interval else 0.0)


@dataclass(frozen=True)
class About:
    """What rows stand about: a value, its word, the unit of the axis, and the part of the width for the labels."""

    value: float
    word: str
    unit: str
    labels: float
    say: Language = ENGLISH


def interval_rows(name: str, width: float, rows: Sequence[Row], about: About, alt: str) -> str:
    """Draw intervals about a value, as markup for a page."""
    wide = width > NARROW
    above, below = (0.2, 0.42) if about.value else (0.04, 0.36)
    height = (0.32 if wide else 0.48) * len(rows) + above + below
    with drawing(name, width, height) as (canvas, axes):
        left = about.labels if wide else 0.03
        axes.set_position((left, below / height, 0.96 - left, 1 - (above + below) / height))
        ends = [about.value, *(end for row in rows for end in (row.low, row.high, row.value))]
        span = max(ends) - min(ends) or 1.0
        axes.set_xlim(min(ends) - 0.05 * span, max(ends) + 0.05 * span)
        for position, row in enumerate(rows):
            _interval(axes, position, row, wide=wide)
        _about(axes, len(rows), about, wide=wide)
        return markup(canvas, name, alt)


def _interval(axes: Any, position: int, row: Row, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    edge = {"own": tint["orange"], "faint": tint["muted"]}.get(row.look, tint["blue"])
    axes.barh(
        place, row.high - row.low, left=row.low, height=0.46 if wide else 0.3, linewidth=1.1,
        facecolor=tint["blue"] if row.look == "solid" else tint["paper"], edgecolor=edge, hatch=HATCHES[row.look],
    )  # fmt: skip
    marker = "D" if row.look == "own" else "o"
    axes.plot([row.value], [place], marker=marker, markersize=6, color=tint["paper"], markeredgecolor=tint["ink"])
    row_label(axes, position, row.label, fontsize=SMALL_TEXT)


def _about(axes: Any, rows: int, about: About, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.axvline(about.value, color=colours()["ink"], linewidth=1.1, linestyle=(0, (3, 2)), zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(7 if wide else 4))
    if about.value == 0.0:
        axes.xaxis.set_major_formatter(
            FuncFormatter(lambda value, _: signed_tick(value, about.say, zero=about.word, unit=about.unit))
        )
        return
    axes.text(about.value, 1.01, about.word, transform=axes.get_xaxis_transform(), ha="center", va="bottom",
              fontsize=SMALL_TEXT)  # fmt: skip
    axis_title(axes, about.unit)


def share_rows(
    name: str, width: float, rows: Sequence[Share], title: str, alt: str, *, halves: bool = False,
    say: Language = ENGLISH,
) -> str:  # fmt: skip
    """Draw shares of a whole, as markup for a page; with ``halves`` a line at one half, on an axis up to the whole."""
    wide = width > NARROW
    height = (0.42 if wide else 0.62) * len(rows) + 0.55
    with drawing(name, width, height) as (canvas, axes):
        left = 0.40 if wide else 0.02
        axes.set_position((left, 0.45 / height, 0.98 - left, 1 - 0.5 / height))
        reach = 100.0 if halves else 100 * max([row.end for row in rows] + [0.01])
        longest = max((len(row.note) for row in rows), default=0)
        room = (0.5 + 0.075 * longest) / (width * (0.98 - left))  # part of the width that the longest note takes
        axes.set_xlim(0, reach / max(1 - room, 0.3))
        for position, row in enumerate(rows):
            _share(axes, position, row, say, wide=wide)
        _scale(axes, len(rows), reach, say)
        if halves:
            axes.axvline(50, color=colours()["ink"], linewidth=0.9, linestyle=(0, (3, 2)), zorder=3)
        axis_title(axes, title)
        return markup(canvas, name, alt)


def _share(axes: Any, position: int, row: Share, say: Language, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    axes.barh(
        place, 100 * max(row.share, 0.0), height=0.52 if wide else 0.34, linewidth=1.1, edgecolor=tint["blue"],
        facecolor=tint["paper"] if row.hatched else tint["blue"], hatch="//////" if row.hatched else None,
    )  # fmt: skip
    if row.interval:
        ends = [100 * max(end, 0.0) for end in row.interval]
        axes.plot(ends, [place, place], color=tint["ink"], linewidth=0.9)
        axes.plot(ends, [place, place], color=tint["ink"], linestyle="none", marker="|", markersize=5)
    written = say.percent_of_share(row.share) + (f"\u2003{row.note}" if row.note else "")
    axes.text(100 * row.end + axes.get_xlim()[1] * 0.02, place, written, va="center", ha="left")
    row_label(axes, position, row.label)


def _scale(axes: Any, rows: int, reach: float, say: Language) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    ticks = [tick for tick in MaxNLocator(5).tick_values(0, reach) if 0 <= tick <= reach * 1.05]
    axes.set_xticks(ticks, [say.number(f"{tick:g}") for tick in ticks])
