"""One virtual run over time: mass, temperature and power, with the readings marked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, colours, drawing, figure, markup
from reports.tables.rehearse import shown_points, traces_table
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.rehearsal.campaign import Rehearsal

PANELS = (("mass", "g"), ("temperature", "°C"), ("power", "W"))
"""Panels from top to bottom, and their units."""
TABLE_EVERY = 30
"""Seconds between the rows of the table beside the figure."""


def traces(rehearsal: Rehearsal, say: Language = ENGLISH) -> Figure:
    """Draw the first run of a rehearsal."""
    found, noted, shown = rehearsal.played.traces, rehearsal.played.noted, shown_points(rehearsal)
    readings = noted.time[0]
    start, end = 1000.0 * float(found.true[0, 0]), 1000.0 * float(found.true[shown - 1, 0])
    alt = say.text(
        "rehearse.traces_alt",
        start=say.in_unit(start, "g"),
        temperature=say.in_unit(float(found.temperature.max()) - 273.15, "°C", 4),
        end=say.in_unit(end, "g"),
        minutes=say.minutes(float(found.time[shown - 1]) / 60.0),
        number=str(readings.size),
        first=say.minutes(float(readings[0]) / 60.0),
    )
    return figure(
        "traces",
        lambda own, width: _draw(own, rehearsal, (alt, say), width),
        alt,
        say.text("rehearse.traces_caption"),
        traces_table(rehearsal, TABLE_EVERY, say),
    )


def _draw(name: str, rehearsal: Rehearsal, words: tuple[str, Language], width: float) -> str:
    alt, say = words
    wide = width > NARROW
    height = 4.6
    bottom, top, gap = 0.40, 0.06, 0.34
    panel = (height - bottom - top - gap * (len(PANELS) - 1)) / len(PANELS)
    with drawing(name, width, height) as (canvas, first):
        first.set_position((0.0, 0.0, 1.0, 1.0))
        first.set_axis_off()
        left = 0.085 if wide else 0.15
        for place, (quantity, unit) in enumerate(PANELS):
            low = bottom + (len(PANELS) - 1 - place) * (panel + gap)
            axes = canvas.add_axes((left, low / height, 0.97 - left, panel / height))
            _panel(axes, rehearsal, quantity, say, last=place == len(PANELS) - 1)
            axes.set_title(say.text(f"rehearse.{quantity}_in", unit=unit), loc="left", fontsize=SMALL_TEXT,
                           color=colours()["ink"], pad=4)  # fmt: skip
        return markup(canvas, name, alt)


def _panel(axes: Any, rehearsal: Rehearsal, quantity: str, say: Language, *, last: bool) -> None:
    from matplotlib.ticker import MaxNLocator

    tint = colours()
    axes.set_facecolor("none")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    found, shown = rehearsal.played.traces, shown_points(rehearsal)
    minutes = found.time[:shown] / 60.0
    if quantity == "mass":
        _masses(axes, rehearsal, minutes)
    elif quantity == "temperature":
        axes.plot(minutes, found.temperature[:shown, 0] - 273.15, color=tint["orange"])
    else:
        axes.plot(minutes, found.power[:shown, 0], color=tint["blue"], linewidth=1.0)
        axes.set_ylim(bottom=0.0)
    axes.set_xlim(0.0, float(minutes[-1]))
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    axes.tick_params(labelsize=SMALL_TEXT, labelbottom=last, length=2.5)
    if last:
        axes.text(1.0, -0.36, say.text("rehearse.minutes_axis"), transform=axes.transAxes, ha="right", va="top",
                  fontsize=SMALL_TEXT, color=tint["muted"])  # fmt: skip


def _masses(axes: Any, rehearsal: Rehearsal, minutes: np.ndarray) -> None:
    tint = colours()
    found, noted = rehearsal.played.traces, rehearsal.played.noted
    indicated = 1000.0 * found.indicated[: minutes.size, 0]
    axes.plot(minutes, indicated, color=tint["blue"], linewidth=1.0)
    axes.plot(minutes, 1000.0 * found.true[: minutes.size, 0], color=tint["ink"], linewidth=1.0, linestyle=(0, (4, 2)))
    times = noted.time[0] / 60.0
    shown = np.interp(times, minutes, indicated)
    axes.plot(times, shown, linestyle="none", marker="o", markersize=5, color=tint["paper"],
              markeredgecolor=tint["ink"])  # fmt: skip
