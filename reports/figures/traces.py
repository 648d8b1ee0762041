"""One virtual run over time: mass, temperature and power, with the readings marked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, colours, drawing, figure, markup
from reports.tables.rehearse import shown_points, traces_table
from reports.words import rounding

if TYPE_CHECKING:
    from design.rehearsal.campaign import Rehearsal

PANELS = (("mass", "g"), ("temperature", "°C"), ("power", "W"))
"""Panels from top to bottom, and their units."""
TABLE_EVERY = 30
"""Seconds between the rows of the table beside the figure."""


def traces(rehearsal: Rehearsal) -> Figure:
    """Draw the first run of a rehearsal."""
    found, noted, shown = rehearsal.played.traces, rehearsal.played.noted, shown_points(rehearsal)
    readings = noted.time[0]
    start, end = 1000.0 * float(found.true[0, 0]), 1000.0 * float(found.true[shown - 1, 0])
    alt = (
        f"One virtual run: {rounding.in_unit(start, 'g')} of water are heated to "
        f"{rounding.in_unit(float(found.temperature.max()) - 273.15, '°C', 4)} and boil down to "
        f"{rounding.in_unit(end, 'g')} in {rounding.minutes(float(found.time[shown - 1]) / 60.0)}; "
        f"{readings.size} readings, the first at {rounding.minutes(float(readings[0]) / 60.0)}"
    )
    return figure(
        "traces",
        lambda own, width: _draw(own, rehearsal, alt, width),
        alt,
        "Time in minutes. Full line: as the balance shows it. Dashed: water in the vessel. Dots: readings. "
        "A balance sees the level only while something held from outside dips in, so the two differ.",
        traces_table(rehearsal, TABLE_EVERY),
    )


def _draw(name: str, rehearsal: Rehearsal, alt: str, width: float) -> str:
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
            _panel(axes, rehearsal, quantity, unit, last=place == len(PANELS) - 1)
        return markup(canvas, name, alt)


def _panel(axes: Any, rehearsal: Rehearsal, quantity: str, unit: str, *, last: bool) -> None:
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
    axes.set_title(f"{quantity} in {unit}", loc="left", fontsize=SMALL_TEXT, color=tint["ink"], pad=4)
    if last:
        axes.text(1.0, -0.36, "minutes", transform=axes.transAxes, ha="right", va="top", fontsize=SMALL_TEXT,
                  color=tint["muted"])  # fmt: skip


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
