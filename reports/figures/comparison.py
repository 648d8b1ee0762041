"""Methods as intervals about the true value, their rms errors over a quantity, and how often they win."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from design.procedures.registry import USUAL
from design.search.today import USUAL_CORRECTION
from reports.figures.canvas import (
    NARROW,
    About,
    Figure,
    IntervalRow,
    ShareBar,
    axis_title,
    colours,
    drawing,
    figure,
    interval_rows,
    markup,
    share_rows,
    side_title,
)
from reports.tables.compare import population_table, procedures_table, sweep_table
from reports.words import compare as wording_compare
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.comparison.population import Standing
    from design.comparison.side_by_side import Comparison, Sweep

STYLES: tuple[tuple[str, Any], ...] = (
    ("ink", "solid"),
    ("blue", "solid"),
    ("blue", (0, (5, 2))),
    ("orange", "solid"),
    ("orange", (0, (5, 2))),
)
"""Colour and dashes of the curves A to E."""
LEAST_GAP = 0.062
"""Least distance of two letters at the end of their curves, as part of the height."""


def methods(comparison: Comparison, say: Language = ENGLISH) -> Figure:
    """Draw bias and interval of every procedure and correction, the least rms error first."""
    ranked = sorted(comparison.procedures, key=lambda method: method.rms_error_percent)
    coverage = say.percent_of_share(comparison.bench.search.coverage)
    told = [
        say.text(
            "compare.method_error",
            way=wording_compare.way(method.design, say),
            error=say.signed_percent(method.bias_percent),
            low=say.signed_percent(method.interval_percent[0]),
            high=say.signed_percent(method.interval_percent[1]),
        )
        for method in ranked[:6]
    ]
    alt = say.text("compare.methods_alt", coverage=coverage, methods="; ".join(told))
    rows = [
        IntervalRow(
            wording_compare.way(method.design, say), method.bias_percent, *method.interval_percent,
            "hatched" if method.design.corrected else "solid",
        )
        for method in ranked
    ]  # fmt: skip
    about = About(0.0, say.text("compare.true_tick"), "%", 0.40, say=say)
    return figure(
        "methods",
        lambda name, width: interval_rows(name, width, rows, about, alt),
        alt,
        say.text("compare.methods_caption", coverage=coverage),
        procedures_table(comparison, say),
    )


def crossing(sweep: Sweep, say: Language = ENGLISH) -> Figure:
    """Draw rms errors over a quantity, with crossing points."""
    name, (unit, _) = wording_compare.swept(sweep, say), wording_compare.QUANTITIES[sweep.quantity]
    found = "; ".join(wording_compare.overtakings(sweep, say)) or say.text("compare.no_crossing")
    letters = enumerate(wording_compare.LETTERS)
    key = "; ".join(f"{letter} {wording_compare.curve(place, say)}" for place, letter in letters)
    alt = say.text("compare.crossing_alt", quantity=name, unit=unit, found=found)
    return figure(
        f"over-{sweep.quantity}",
        lambda own, width: _curves(own, sweep, (alt, say), width),
        alt,
        say.text("compare.crossing_caption", key=key),
        sweep_table(sweep, say),
    )


def _curves(name: str, sweep: Sweep, words: tuple[str, Language], width: float) -> str:
    alt, say = words
    wide = width > NARROW
    height = 3.0 if wide else 2.7
    title, (unit, factor) = wording_compare.swept(sweep, say), wording_compare.QUANTITIES[sweep.quantity]
    with drawing(name, width, height) as (canvas, axes):
        left, right = (0.08, 0.93) if wide else (0.13, 0.91)
        axes.set_position((left, 0.45 / height, right - left, 1 - 0.75 / height))
        axes.set_xscale("log")
        axes.set_yscale("log")
        values = sweep.values * factor
        axes.set_xlim(values[0], values[-1])
        for (colour, dashes), errors in zip(STYLES, sweep.rms_percent, strict=True):
            axes.plot(values, errors, color=colours()[colour], linestyle=dashes)
        _log_scales(axes, say, wide=wide)
        _letters(axes, sweep)
        for one in sweep.crossings:
            axes.plot([one.value * factor], [one.rms_percent], marker="o", markersize=8, markerfacecolor="none",
                      markeredgecolor=colours()["ink"], markeredgewidth=1.3, zorder=5)  # fmt: skip
        if values[0] <= sweep.here * factor <= values[-1]:
            axes.axvline(sweep.here * factor, color=colours()["muted"], linewidth=1.0, linestyle=(0, (2, 2)), zorder=0)
        axis_title(axes, say.text("compare.axis", quantity=title, unit=unit))
        return markup(canvas, name, alt)


def _log_scales(axes: Any, say: Language, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter, NullLocator

    for axis, most in ((axes.xaxis, 12 if wide else 8), (axes.yaxis, 10)):
        axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0), numticks=most))
        axis.set_minor_locator(NullLocator())
        axis.set_major_formatter(FuncFormatter(lambda value, _: say.number(rounding.grouped(f"{value:g}"))))
        axis.set_minor_formatter(NullFormatter())
    axes.spines["bottom"].set_visible(True)
    axes.grid(axis="y", color=colours()["hair"], linewidth=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(axis="y", length=0)
    side_title(axes, say.text("compare.rms_axis"), 0.08)


def _letters(axes: Any, sweep: Sweep) -> None:
    """Write the letter of each curve at its right end, moved apart where they would cover one another."""
    to_axes = axes.transData + axes.transAxes.inverted()
    right = axes.get_xlim()[1]
    places = [float(to_axes.transform((right, errors[-1]))[1]) for errors in sweep.rms_percent]
    order = sorted(range(len(places)), key=lambda place: places[place])
    apart, last = [], -1.0
    for place in order:
        last = max(places[place], last + LEAST_GAP)
        apart.append(last)
    shift = sum(at - places[place] for at, place in zip(apart, order, strict=True)) / len(order)
    for at, place in zip(apart, order, strict=True):
        axes.text(1.012, at - shift, wording_compare.LETTERS[place], transform=axes.transAxes, ha="left", va="center",
                  weight="bold", color=colours()[STYLES[place][0]])  # fmt: skip


def population(comparison: Comparison, say: Language = ENGLISH) -> Figure | None:
    """Draw how often each procedure beats the usual way, with its interval; nothing where no kit could be drawn."""
    shown = [one for one in comparison.population.procedures if one.possible and not _is_usual(one)]
    if not shown:
        return None
    told = [f"{wording_compare.way(one.way, say)} {say.percent_of_share(one.wins / one.possible)}" for one in shown]
    alt = say.text("compare.population_alt", kits=comparison.population.kits, methods="; ".join(told))
    rows = [
        ShareBar(
            wording_compare.way(one.way, say),
            one.wins / one.possible,
            one.interval,
            note=say.text("compare.wins_of", wins=one.wins, possible=one.possible),
        )
        for one in shown
    ]
    title = say.text("compare.share_axis")
    return figure(
        "population",
        lambda name, width: share_rows(name, width, rows, title, alt, halves=True, say=say),
        alt,
        say.text("compare.population_caption"),
        population_table(comparison, say),
    )


def _is_usual(one: Standing) -> bool:
    return one.way.procedure == USUAL and one.way.correction == USUAL_CORRECTION
