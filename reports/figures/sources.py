"""Sources of uncertainty ranked by their share of the variance, with the sign of their bias."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports import rounding
from reports.figures.canvas import NARROW, WIDE, Figure, axis_title, colours, drawing, markup, wrapped
from reports.plan_tables import direction, share_table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.plan import Source

SHOWN = 8
"""Most sources drawn; the table beside the figure has them all."""


def sources(ranked: Sequence[Source]) -> Figure:
    """Draw the sources with the largest shares, ranked."""
    shown = [source for source in ranked if source.share > 0][:SHOWN] or list(ranked[:1])
    alt = _message(shown)
    return Figure(
        svg=_draw("shares", shown, alt, WIDE),
        narrow_svg=_draw("shares-narrow", shown, alt, NARROW),
        alt=alt,
        caption="Bar: share of the variance, with the 95 % interval of its computation as a thin line. Solid: the same "
        "in every run, so repeats do not help. Hatched: changes from run to run, averaged by repeats. ▲ the bias of "
        "the source makes the result too high, ▼ too low, ● neither.",
        table=share_table(ranked),
    )


def _message(shown: Sequence[Source]) -> str:
    parts = [
        f"{source.quantity} {rounding.percent_of_share(source.share)}, "
        f"bias {rounding.signed_percent(source.bias_percent)}"
        for source in shown[:5]
    ]
    return f"Bar chart of the sources ranked by their share of the variance: {'; '.join(parts)}."


def _draw(name: str, shown: Sequence[Source], alt: str, width: float) -> str:
    wide = width > NARROW
    row = 0.42 if wide else 0.62
    height = row * len(shown) + 0.55
    with drawing(name, width, height) as (canvas, axes):
        left = 0.40 if wide else 0.02
        axes.set_position((left, 0.45 / height, 0.98 - left, 1 - 0.5 / height))
        reach = max([source.share_interval[1] for source in shown] + [source.share for source in shown])
        axes.set_xlim(0, max(reach, 0.01) * 100 * (1.42 if wide else 1.6))
        for position, source in enumerate(shown):
            _bar(axes, position, source, wide=wide)
        _scale(axes, len(shown), max(reach, 0.01) * 100)
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _bar(axes: Any, position: int, source: Source, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    share = source.share * 100
    axes.barh(
        place,
        share,
        height=0.52 if wide else 0.34,
        facecolor=tint["paper"] if source.scatter else tint["blue"],
        edgecolor=tint["blue"],
        hatch="//////" if source.scatter else None,
        linewidth=1.1,
    )
    low, high = (max(end, 0.0) * 100 for end in source.share_interval)
    axes.plot([low, high], [place, place], color=tint["ink"], linewidth=0.9)
    axes.plot([low, high], [place, place], color=tint["ink"], linestyle="none", marker="|", markersize=5)
    mark = {"too high": "▲", "too low": "▼"}.get(direction(source.bias_percent), "●")
    bias = f"{mark} bias {rounding.signed_percent(source.bias_percent)}" if mark != "●" else "● no bias"
    end = max(share, high) + axes.get_xlim()[1] * 0.02
    axes.text(end, place, f"{rounding.percent_of_share(source.share)}\u2003{bias}", va="center", ha="left")
    transform = axes.get_yaxis_transform()
    if wide:
        axes.text(-0.02, place, wrapped(source.quantity, 38), transform=transform, va="center", ha="right")
    else:
        axes.text(0.0, position - 0.2, wrapped(source.quantity, 50, 1), transform=transform, va="center", ha="left")


def _scale(axes: Any, rows: int, reach: float) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    ticks = [tick for tick in MaxNLocator(5).tick_values(0, reach) if 0 <= tick <= reach * 1.05]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    axis_title(axes, "share of the variance in %")
