"""Sources of uncertainty ranked by their share of the variance, with the sign of their bias."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.figures.canvas import NARROW, WIDE, Figure, axis_title, colours, drawing, markup, wrapped
from reports.tables.plan import direction, share_table
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.search.plan import Source


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
            _draw(axes, position, bar, say, wide=wide)
        _scale(axes, len(bars), reach, say)
        axis_title(axes, say.text("sources.share_variance"))
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _end(bar: Bar) -> float:
    return max(bar.share, bar.interval[1] if bar.interval else 0.0)


def _draw(axes: Any, position: int, bar: Bar, say: Language, *, wide: bool) -> None:
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
    written = say.percent_of_share(bar.share) + (f"\u2003{bar.note}" if bar.note else "")
    axes.text(100 * _end(bar) + axes.get_xlim()[1] * 0.02, place, written, va="center", ha="left")
    transform = axes.get_yaxis_transform()
    if wide:
        axes.text(-0.02, place, wrapped(bar.label, 38), transform=transform, va="center", ha="right")
    else:
        axes.text(0.0, position - 0.2, wrapped(bar.label, 50, 1), transform=transform, va="center", ha="left")


def _scale(axes: Any, rows: int, reach: float, say: Language) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    ticks = [tick for tick in MaxNLocator(5).tick_values(0, reach) if 0 <= tick <= reach * 1.05]
    axes.set_xticks(ticks, [say.number(f"{tick:g}") for tick in ticks])


SHOWN = 8
"""Most sources drawn; the table beside the figure has them all."""


def sources(ranked: Sequence[Source], say: Language = ENGLISH) -> Figure:
    """Draw the sources with the largest shares, ranked."""
    shown = [source for source in ranked if source.share > 0][:SHOWN] or list(ranked[:1])
    alt = _message(shown, say)
    bars = [_bar(source, say) for source in shown]
    return Figure(
        svg=ranked_bars("shares", bars, alt, wide=True, say=say),
        narrow_svg=ranked_bars("shares-narrow", bars, alt, wide=False, say=say),
        alt=alt,
        caption=say.text("sources.bar_share_variance"),
        table=share_table(ranked, say=say),
    )


def _bar(source: Source, say: Language) -> Bar:
    way = direction(source.bias_percent)
    bias = say.signed_percent(source.bias_percent)
    note = say.text(f"what_if.{way}", bias=bias) if way != "neither_way" else say.text("what_if.no_bias")
    return Bar(quantity_name(source.quantity, say), source.share, source.share_interval, source.scatter, note)


def _message(shown: Sequence[Source], say: Language) -> str:
    parts = [
        say.text(
            "sources.source_share_bias",
            source=quantity_name(source.quantity, say),
            share=say.percent_of_share(source.share),
            bias=say.signed_percent(source.bias_percent),
        )
        for source in shown[:5]
    ]
    return say.text("sources.bar_chart_sources", parts="; ".join(parts))
