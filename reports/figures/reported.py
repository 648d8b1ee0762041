"""Errors of what virtual runs reported, as bars, against what the budget expects, as a line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, axis_title, colours, drawing, figure, markup, signed_tick
from reports.tables.rehearse import histogram, histogram_table
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.rehearsal.campaign import Rehearsal


def reported(rehearsal: Rehearsal, say: Language = ENGLISH) -> Figure:
    """Draw the histogram of reported values."""
    low, high = (100.0 * float(end) for end in np.quantile(rehearsal.errors, [0.025, 0.975]))
    alt = say.text(
        "rehearse.reported_alt",
        runs=str(rehearsal.reported.size),
        bias=say.signed_percent(100.0 * rehearsal.bias),
        spread=say.percent(100.0 * rehearsal.spread),
        low=say.signed_percent(low),
        high=say.signed_percent(high),
        budget_bias=say.signed_percent(rehearsal.ranked.bias_percent),
        budget_spread=say.percent(rehearsal.ranked.standard_uncertainty_percent),
    )
    coverage = say.percent_of_share(rehearsal.coverage.asked)
    return figure(
        "reported",
        lambda own, width: _draw(own, rehearsal, (alt, say), width),
        alt,
        say.text("rehearse.reported_caption", coverage=coverage),
        histogram_table(rehearsal, say),
    )


def _draw(name: str, rehearsal: Rehearsal, words: tuple[str, Language], width: float) -> str:
    alt, say = words
    wide, height, tint = width > NARROW, 2.7, colours()
    edges, found, expected = histogram(rehearsal)
    with drawing(name, width, height) as (canvas, axes):
        axes.set_position((0.03, 0.42 / height, 0.94, 1 - 0.5 / height))
        axes.bar(edges[:-1], found, width=np.diff(edges), align="edge", facecolor=tint["blue"], edgecolor=tint["paper"],
                 linewidth=0.5)  # fmt: skip
        axes.stairs(expected, edges, color=tint["ink"], linewidth=1.5)
        top = 1.12 * float(max(found.max(), expected.max()))
        low, high = rehearsal.ranked.interval_percent
        axes.barh(-0.045 * top, high - low, left=low, height=0.035 * top, facecolor=tint["orange"],
                  edgecolor=tint["ink"], linewidth=0.6)  # fmt: skip
        axes.axvline(0, color=tint["ink"], linewidth=1.0, linestyle=(0, (3, 2)))
        axes.set_ylim(-0.08 * top, top)
        axes.set_xlim(min(edges[0], low, 0.0), max(edges[-1], high, 0.0))
        axes.margins(x=0.02)
        _scale(axes, say, wide=wide)
        axis_title(axes, say.text("rehearse.reported_axis"))
        return markup(canvas, name, alt)


def _scale(axes: Any, say: Language, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.xaxis.set_major_locator(MaxNLocator(8 if wide else 5))
    true = say.text("rehearse.true_tick")
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: signed_tick(value, say, zero=true, unit="%")))
    axes.tick_params(labelsize=SMALL_TEXT)
