"""Bars of shares, ranked, each with a note behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports import rounding
from reports.canvas import NARROW, WIDE, axis_title, colours, drawing, markup, wrapped
from reports.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True)
class Bar:
    """
    One bar.

    Parameters
    ----------
    label, note : str
        What it is, and what stands behind it.
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


def ranked_bars(name: str, bars: Sequence[Bar], alt: str, *, wide: bool, say: Language = ENGLISH) -> str:
    """Draw bars one below the other, as markup for a page."""
    width = WIDE if wide else NARROW
    row = 0.42 if wide else 0.62
    height = row * len(bars) + 0.55
    with drawing(name, width, height) as (canvas, axes):
        left = 0.40 if wide else 0.02
        axes.set_position((left, 0.45 / height, 0.98 - left, 1 - 0.5 / height))
        reach = 100 * max([_end(bar) for bar in bars] + [0.01])
        longest = max((len(bar.note) for bar in bars), default=0)
        room = (0.5 + 0.075 * longest) / (width * (0.98 - left))  # part of the width that the longest note takes
        axes.set_xlim(0, reach / max(1 - room, 0.3))
        for position, bar in enumerate(bars):
            _draw(axes, position, bar, wide=wide)
        _scale(axes, len(bars), reach)
        axis_title(axes, say.text("share of the variance in %"))
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _end(bar: Bar) -> float:
    return max(bar.share, bar.interval[1] if bar.interval else 0.0)


def _draw(axes: Any, position: int, bar: Bar, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    axes.barh(
        place,
        100 * max(bar.share, 0.0),
        height=0.52 if wide else 0.34,
        facecolor=tint["paper"] if bar.hatched else tint["blue"],
        edgecolor=tint["blue"],
        hatch="//////" if bar.hatched else None,
        linewidth=1.1,
    )
    if bar.interval:
        ends = [100 * max(end, 0.0) for end in bar.interval]
        axes.plot(ends, [place, place], color=tint["ink"], linewidth=0.9)
        axes.plot(ends, [place, place], color=tint["ink"], linestyle="none", marker="|", markersize=5)
    written = rounding.percent_of_share(bar.share) + (f"\u2003{bar.note}" if bar.note else "")
    axes.text(100 * _end(bar) + axes.get_xlim()[1] * 0.02, place, written, va="center", ha="left")
    transform = axes.get_yaxis_transform()
    if wide:
        axes.text(-0.02, place, wrapped(bar.label, 38), transform=transform, va="center", ha="right")
    else:
        axes.text(0.0, position - 0.2, wrapped(bar.label, 50, 1), transform=transform, va="center", ha="left")


def _scale(axes: Any, rows: int, reach: float) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    ticks = [tick for tick in MaxNLocator(5).tick_values(0, reach) if 0 <= tick <= reach * 1.05]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
