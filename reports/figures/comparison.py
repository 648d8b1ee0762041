"""Methods as intervals about the true value, their rms errors over a quantity, and how often they win."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from design.comparison.changes import USUAL
from design.search.today import USUAL_CORRECTION
from reports.figures.canvas import NARROW, SMALL_TEXT, WIDE, Figure, axis_title, colours, drawing, markup
from reports.tables.compare import population_table, procedures_table, sweep_table
from reports.words import compare as wording_compare
from reports.words import rounding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.comparison.crossings import Sweep
    from design.comparison.population import Standing
    from design.comparison.side_by_side import Comparison, Method

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


def methods(comparison: Comparison) -> Figure:
    """Draw bias and interval of every procedure and correction, the least rms error first."""
    ranked = sorted(comparison.procedures, key=lambda method: method.rms_error_percent)
    coverage = rounding.percent_of_share(comparison.bench.search.coverage)
    alt = f"Expected error and its {coverage} interval, the smallest rms error first: " + "; ".join(
        f"{wording_compare.way(method.design)} {rounding.signed_percent(method.bias_percent)}, "
        f"{rounding.signed_percent(method.interval_percent[0])} to "
        f"{rounding.signed_percent(method.interval_percent[1])}"
        for method in ranked[:6]
    )
    return Figure(
        svg=_methods("methods", ranked, alt, WIDE),
        narrow_svg=_methods("methods-narrow", ranked, alt, NARROW),
        alt=alt,
        caption=f"Error in per cent of the true value. Dot: to expect. Bar: the {coverage} interval. Solid: nothing "
        "corrected. Hatched: corrected.",
        table=procedures_table(comparison),
    )


def _methods(name: str, ranked: Sequence[Method], alt: str, width: float) -> str:
    wide = width > NARROW
    row = 0.30 if wide else 0.46
    height = row * len(ranked) + 0.45
    with drawing(name, width, height) as (canvas, axes):
        left = 0.485 if wide else 0.02
        axes.set_position((left, 0.38 / height, 0.97 - left, 1 - 0.42 / height))
        ends = [0.0, *(end for method in ranked for end in method.interval_percent)]
        span = max(ends) - min(ends) or 1.0
        axes.set_xlim(min(ends) - 0.03 * span, max(ends) + 0.03 * span)
        for position, method in enumerate(ranked):
            _interval(axes, position, method, wide=wide)
        _about_true(axes, len(ranked), wide=wide)
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _interval(axes: Any, position: int, method: Method, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    low, high = method.interval_percent
    plain = method.design.correction == "none"
    axes.barh(
        place, high - low, left=low, height=0.5 if wide else 0.32, linewidth=1.0,
        facecolor=tint["blue"] if plain else tint["paper"], edgecolor=tint["blue"], hatch=None if plain else "//////",
    )  # fmt: skip
    axes.plot([method.bias_percent], [place], marker="o", markersize=5.5, color=tint["paper"],
              markeredgecolor=tint["ink"])  # fmt: skip
    transform, label = axes.get_yaxis_transform(), wording_compare.way(method.design)
    if wide:
        axes.text(-0.02, place, label, transform=transform, va="center", ha="right", fontsize=SMALL_TEXT)
    else:
        written = axes.text(0, position - 0.2, label, transform=transform, va="center", ha="left", fontsize=SMALL_TEXT)
        written.set_bbox({"facecolor": tint["paper"], "edgecolor": "none", "pad": 0.6})


def _about_true(axes: Any, rows: int, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_ylim(rows - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.axvline(0, color=colours()["ink"], linewidth=1.0, linestyle=(0, (3, 2)), zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(6 if wide else 5))
    axes.xaxis.set_major_formatter(FuncFormatter(_tick))


def _tick(value: float, _position: int) -> str:
    return "true" if abs(value) < 1e-12 else f"{value:+g}".replace("-", rounding.MINUS) + f"{rounding.THIN}%"


def crossing(sweep: Sweep) -> Figure:
    """Draw rms errors over a quantity, with crossing points."""
    name, (unit, _) = wording_compare.swept(sweep), wording_compare.QUANTITIES[sweep.quantity]
    found = "; ".join(wording_compare.overtakings(sweep)) or "no two methods cross"
    key = "; ".join(f"{letter} {wording_compare.curve(place)}" for place, letter in enumerate(wording_compare.LETTERS))
    alt = f"Rms error in per cent over {name} in {unit}: {found}"
    return Figure(
        svg=_curves(f"over-{sweep.quantity}", sweep, alt, WIDE),
        narrow_svg=_curves(f"over-{sweep.quantity}-narrow", sweep, alt, NARROW),
        alt=alt,
        caption=f"{key}. Rings: crossing points.",
        table=sweep_table(sweep),
    )


def _curves(name: str, sweep: Sweep, alt: str, width: float) -> str:
    wide = width > NARROW
    height = 3.0 if wide else 2.7
    title, (unit, factor) = wording_compare.swept(sweep), wording_compare.QUANTITIES[sweep.quantity]
    with drawing(name, width, height) as (canvas, axes):
        left, right = (0.08, 0.93) if wide else (0.13, 0.91)
        axes.set_position((left, 0.45 / height, right - left, 1 - 0.75 / height))
        axes.set_xscale("log")
        axes.set_yscale("log")
        values = sweep.values * factor
        axes.set_xlim(values[0], values[-1])
        for (colour, dashes), errors in zip(STYLES, sweep.rms_percent, strict=True):
            axes.plot(values, errors, color=colours()[colour], linestyle=dashes)
        _log_scales(axes, wide=wide)
        _letters(axes, sweep)
        for one in sweep.crossings:
            axes.plot([one.value * factor], [one.rms_percent], marker="o", markersize=8, markerfacecolor="none",
                      markeredgecolor=colours()["ink"], markeredgewidth=1.3, zorder=5)  # fmt: skip
        if values[0] <= sweep.here * factor <= values[-1]:
            axes.axvline(sweep.here * factor, color=colours()["muted"], linewidth=1.0, linestyle=(0, (2, 2)), zorder=0)
        axis_title(axes, f"{title} in {unit}")
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _log_scales(axes: Any, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter, NullLocator

    for axis, most in ((axes.xaxis, 12 if wide else 8), (axes.yaxis, 10)):
        axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0), numticks=most))
        axis.set_minor_locator(NullLocator())
        axis.set_major_formatter(FuncFormatter(lambda value, _: rounding.grouped(f"{value:g}")))
        axis.set_minor_formatter(NullFormatter())
    axes.spines["bottom"].set_visible(True)
    axes.grid(axis="y", color=colours()["hair"], linewidth=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(axis="y", length=0)
    height = axes.get_position().height * axes.figure.get_figheight()
    axes.text(0, 1 + 0.08 / height, "rms error in %", transform=axes.transAxes, ha="left", va="bottom",
              fontsize=SMALL_TEXT, color=colours()["muted"])  # fmt: skip


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


def population(comparison: Comparison) -> Figure | None:
    """Draw how often each procedure beats the usual way, with its interval; nothing where no kit could be drawn."""
    shown = [one for one in comparison.population.procedures if one.possible and not _is_usual(one)]
    if not shown:
        return None
    alt = (
        f"Share of {comparison.population.kits} plausible kits on which each method beats the usual way: "
        + "; ".join(
            f"{wording_compare.way(one.way)} {rounding.percent_of_share(one.wins / one.possible)}" for one in shown
        )
    )
    return Figure(
        svg=_shares("population", shown, alt, WIDE),
        narrow_svg=_shares("population-narrow", shown, alt, NARROW),
        alt=alt,
        caption="Bar: share of the kits that can do it on which the rms error is below that of the usual way. Thin "
        "line: exact binomial interval at 95 %. Dashed: as often better as worse.",
        table=population_table(comparison),
    )


def _is_usual(one: Standing) -> bool:
    return one.way.procedure == USUAL and one.way.correction == USUAL_CORRECTION


def _shares(name: str, shown: Sequence[Standing], alt: str, width: float) -> str:
    wide = width > NARROW
    row = 0.30 if wide else 0.5
    height = row * len(shown) + 0.5
    with drawing(name, width, height) as (canvas, axes):
        left = 0.485 if wide else 0.02
        axes.set_position((left, 0.42 / height, 0.96 - left, 1 - 0.46 / height))
        axes.set_xlim(0, 125)
        for position, one in enumerate(shown):
            _share(axes, position, one, wide=wide)
        axes.set_ylim(len(shown) - 0.4, -0.6)
        axes.set_yticks([])
        axes.set_xticks([0, 25, 50, 75, 100], ["0", "25", "50", "75", "100"])
        axes.spines["bottom"].set_visible(True)
        axes.spines["bottom"].set_bounds(0, 100)
        axes.axvline(50, color=colours()["ink"], linewidth=0.9, linestyle=(0, (3, 2)), zorder=3)
        axis_title(axes, "share of kits in %")
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _share(axes: Any, position: int, one: Standing, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.2)
    share = 100 * one.wins / one.possible
    axes.barh(place, share, height=0.5 if wide else 0.3, facecolor=tint["level-6"], edgecolor=tint["blue"],
              linewidth=1.0)  # fmt: skip
    ends = [100 * end for end in one.interval]
    axes.plot(ends, [place, place], color=tint["ink"], linewidth=1.1, zorder=4)
    axes.plot(ends, [place, place], color=tint["ink"], linestyle="none", marker="|", markersize=5, zorder=4)
    note = f"{one.wins} of {one.possible}"
    axes.text(103, place, note, va="center", ha="left", fontsize=SMALL_TEXT)
    transform, label = axes.get_yaxis_transform(), wording_compare.way(one.way)
    if wide:
        axes.text(-0.02, place, label, transform=transform, va="center", ha="right", fontsize=SMALL_TEXT)
    else:
        written = axes.text(0, position - 0.22, label, transform=transform, va="center", ha="left", fontsize=SMALL_TEXT)
        written.set_bbox({"facecolor": tint["paper"], "edgecolor": "none", "pad": 0.6})
