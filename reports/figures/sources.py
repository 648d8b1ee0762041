"""Sources of uncertainty ranked by their share of the variance, with the sign of their bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports import rounding
from reports.figures.canvas import Figure
from reports.figures.ranked import Bar, ranked_bars
from reports.plan_tables import direction, share_table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.plan import Source

SHOWN = 8
"""Most sources drawn; the table beside the figure has them all."""
MARKS = {"too high": "▲", "too low": "▼"}


def sources(ranked: Sequence[Source]) -> Figure:
    """Draw the sources with the largest shares, ranked."""
    shown = [source for source in ranked if source.share > 0][:SHOWN] or list(ranked[:1])
    alt = _message(shown)
    bars = [_bar(source) for source in shown]
    return Figure(
        svg=ranked_bars("shares", bars, alt, wide=True),
        narrow_svg=ranked_bars("shares-narrow", bars, alt, wide=False),
        alt=alt,
        caption="Bar: share of the variance, with the 95 % interval of its computation as a thin line. Solid: the same "
        "in every run, so repeats do not help. Hatched: changes from run to run, averaged by repeats. ▲ the bias of "
        "the source makes the result too high, ▼ too low, ● neither.",
        table=share_table(ranked),
    )


def _bar(source: Source) -> Bar:
    mark = MARKS.get(direction(source.bias_percent))
    note = f"{mark} bias {rounding.signed_percent(source.bias_percent)}" if mark else "● no bias"
    return Bar(source.quantity, source.share, source.share_interval, source.scatter, note)


def _message(shown: Sequence[Source]) -> str:
    parts = [
        f"{source.quantity} {rounding.percent_of_share(source.share)}, "
        f"bias {rounding.signed_percent(source.bias_percent)}"
        for source in shown[:5]
    ]
    return f"Bar chart of the sources ranked by their share of the variance: {'; '.join(parts)}."
