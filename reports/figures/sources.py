"""Sources of uncertainty ranked by their share of the variance, with the sign of their bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.figures.canvas import Figure, ShareBar, figure, share_rows
from reports.tables.plan import direction, share_table
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.search.plan import Source


SHOWN = 8
"""Most sources drawn; the table beside the figure has them all."""


def sources(ranked: Sequence[Source], say: Language = ENGLISH) -> Figure:
    """Draw the sources with the largest shares, ranked."""
    shown = [source for source in ranked if source.share > 0][:SHOWN] or list(ranked[:1])
    alt = _message(shown, say)
    bars, title = [_bar(source, say) for source in shown], say.text("sources.share_variance")
    return figure(
        "shares",
        lambda name, width: share_rows(name, width, bars, title, alt, say=say),
        alt,
        say.text("sources.bar_share_variance"),
        share_table(ranked, say=say),
    )


def _bar(source: Source, say: Language) -> ShareBar:
    way = direction(source.bias_percent)
    bias = say.signed_percent(source.bias_percent)
    note = say.text(f"what_if.{way}", bias=bias) if way != "neither_way" else say.text("what_if.no_bias")
    return ShareBar(quantity_name(source.quantity, say), source.share, source.share_interval, source.scatter, note)


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
