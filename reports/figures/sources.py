"""Sources of uncertainty ranked by their share of the variance, with the sign of their bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.canvas import Figure
from reports.figures.ranked import Bar, ranked_bars
from reports.languages import ENGLISH, Language
from reports.names import quantity_name
from reports.plan_tables import direction, share_table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.plan import Source

SHOWN = 8
"""Most sources drawn; the table beside the figure has them all."""
MARKS = {"too high": "▲", "too low": "▼"}


def sources(ranked: Sequence[Source], say: Language = ENGLISH) -> Figure:
    """Draw the sources with the largest shares, ranked."""
    shown = [source for source in ranked if source.share > 0][:SHOWN] or list(ranked[:1])
    alt = _message(shown, say)
    bars = [_bar(source, say) for source in shown]
    return Figure(
        svg=ranked_bars("shares", bars, alt, wide=True, say=say),
        narrow_svg=ranked_bars("shares-narrow", bars, alt, wide=False, say=say),
        alt=alt,
        caption=say.text(
            "Bar: share of the variance, with the 95 % interval of its computation as a thin line. Solid: the same in "
            "every run, so repeats do not help. Hatched: changes from run to run, averaged by repeats. ▲ the bias of "
            "the source makes the result too high, ▼ too low, ● neither."
        ),
        table=share_table(ranked),
    )


def _bar(source: Source, say: Language) -> Bar:
    mark = MARKS.get(direction(source.bias_percent))
    bias = say.signed_percent(source.bias_percent)
    note = say.text(f"{mark} bias {{bias}}", bias=bias) if mark else say.text("● no bias")
    return Bar(quantity_name(say, source.quantity), source.share, source.share_interval, source.scatter, note)


def _message(shown: Sequence[Source], say: Language) -> str:
    parts = [
        say.text(
            "{source} {share}, bias {bias}",
            source=quantity_name(say, source.quantity),
            share=say.percent_of_share(source.share),
            bias=say.signed_percent(source.bias_percent),
        )
        for source in shown[:5]
    ]
    return say.text("Bar chart of the sources ranked by their share of the variance: {parts}.", parts="; ".join(parts))
