"""What money buys: price against rms error, one step for each purchase that makes it smaller."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from reports.figures.canvas import NARROW, SMALL_TEXT, Figure, axis_title, colours, drawing, figure, markup, side_title
from reports.tables.plan import frontier_table
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.search.plan import Plan, RankedDesign

Point = tuple[float, float]
OFF_THE_CHART = 2.5
"""Today's error is drawn to scale up to this multiple of the largest error of the ladder."""
DOT_ROOM = 0.19
"""Distance from which two numbered dots stand apart. [inch]"""
LABEL_ROOM = 0.3
"""Distance below which small dots share a label. [inch]"""
FLOOR = 0.2
"""Height below which a label has no room under its dot. [inch]"""


def frontier(plan: Plan, say: Language = ENGLISH) -> Figure:
    """Draw the ladder of prices and errors, with today's kit and the recommended design on it."""
    alt = _message(plan, say)
    return figure(
        "frontier",
        lambda own, width: _draw(own, plan, (alt, say), width),
        alt,
        say.text("frontier.numbered_dots_steps"),
        frontier_table(plan, say=say),
    )


def _message(plan: Plan, say: Language) -> str:
    steps = "; ".join(
        f"{say.money(ranked.design.price, plan.currency)}: {say.percent(ranked.rms_error_percent)}"
        for ranked in plan.frontier
    )
    told = say.text("frontier.step_chart_price", steps=steps or say.text("frontier.no_steps"))
    if plan.current is None:
        return told
    today = say.text("frontier.today_kit", error=say.percent(plan.current.rms_error_percent))
    return f"{told} {today}"


def _draw(name: str, plan: Plan, words: tuple[str, Language], width: float) -> str:
    alt, say = words
    wide = width > NARROW
    height = 3.1 if wide else 2.7
    points = [_point(design) for design in plan.frontier]
    chosen = None if plan.recommended is None else _point(plan.recommended)
    with drawing(name, width, height) as (canvas, axes):
        left = 0.075 if wide else 0.12
        axes.set_position((left, 0.42 / height, 0.965 - left, 1 - 0.85 / height))
        _limits(axes, plan, points, chosen)
        _ladder(axes, points)
        _today(axes, plan, say)
        _recommended(axes, plan, say)
        _dots(axes, points, (width * (0.965 - left), height - 0.85), chosen)
        _scales(axes, plan.currency, say)
        return markup(canvas, name, alt)


def _point(ranked: RankedDesign) -> Point:
    return ranked.design.price, ranked.rms_error_percent


def _limits(axes: Any, plan: Plan, points: Sequence[Point], chosen: Point | None) -> None:
    everything = [*points, *([chosen] if chosen else [])] or [(0.0, 1.0)]
    dearest = max(price for price, _ in everything) or 1.0
    highest = max(error for _, error in everything) or 1.0
    if plan.current is not None and plan.current.rms_error_percent <= OFF_THE_CHART * highest:
        highest = max(highest, plan.current.rms_error_percent)
    axes.set_xlim(-0.05 * dearest, 1.08 * dearest)
    axes.set_ylim(0, 1.15 * highest)


def _ladder(axes: Any, points: Sequence[Point]) -> None:
    if not points:
        return
    right = axes.get_xlim()[1]
    prices = [price for price, _ in points] + [right]
    errors = [error for _, error in points]
    axes.step(prices, [*errors, *errors[-1:]], where="post", color=colours()["blue"], linewidth=1.6)


def _dots(axes: Any, points: Sequence[Point], inches: tuple[float, float], chosen: Point | None) -> None:
    """Number every step: in its dot where there is room for one, beside a small dot where there is not."""
    tint = colours()
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    places = [
        (inches[0] * (price - left) / (right - left), inches[1] * (error - low) / (high - low))
        for price, error in points
    ]
    large = apart(places, points.index(chosen) if chosen in points else 0)
    for step in large:
        axes.plot(*points[step], marker="o", markersize=12.5, color=tint["blue"], zorder=4)
        axes.text(*points[step], str(step + 1), ha="center", va="center_baseline", fontsize=SMALL_TEXT, weight="bold",
                  color=tint["paper"], zorder=5, gid=f"step-{step + 1}")  # fmt: skip
    for group in close_together([step for step in range(len(points)) if step not in large], places):
        for step in group:
            axes.plot(*points[step], marker="o", markersize=4, color=tint["blue"], zorder=4)
        covering = [dot for dot in large if any(math.dist(places[dot], places[step]) <= DOT_ROOM for step in group)]
        _beside(axes, group, [points[step] for step in (*group, *covering)], places[group[-1]][1] < FLOOR)


def _beside(axes: Any, group: Sequence[int], near: Sequence[Point], floor: bool) -> None:
    """Write the numbers of small dots below and left of them, under the falling ladder; on the floor above all dots."""
    prices, errors = zip(*near, strict=True)
    rightwards = floor and max(prices) < 0.9 * axes.get_xlim()[1]
    axes.annotate(
        ", ".join(str(step + 1) for step in group),
        (max(prices) if rightwards else min(prices), max(errors)) if floor else (prices[0], errors[len(group) - 1]),
        xytext=(7 if rightwards else -7, 7) if floor else (-5, -8),
        textcoords="offset points",
        ha="left" if rightwards else "right",
        va="bottom" if floor else "top",
        fontsize=SMALL_TEXT,
        weight="bold",
        color=colours()["blue"],
        zorder=5,
        gid="-".join(("step", *(str(step + 1) for step in group))),
    )


def apart(places: Sequence[Point], first: int) -> list[int]:
    """Choose the points whose dots do not cover one another, one of them before all others. [inch]."""
    order = sorted(range(len(places)), key=lambda step: (step != first, step))
    taken: list[int] = []
    for step in order:
        if all(math.dist(places[step], places[other]) > DOT_ROOM for other in taken):
            taken.append(step)
    return sorted(taken)


def close_together(steps: Sequence[int], places: Sequence[Point]) -> list[list[int]]:
    """Group points that follow one another too closely for a label each. [inch]."""
    groups: list[list[int]] = []
    for step in steps:
        if groups and math.dist(places[step], places[groups[-1][0]]) < LABEL_ROOM:
            groups[-1].append(step)
        else:
            groups.append([step])
    return groups


def _today(axes: Any, plan: Plan, say: Language) -> None:
    if plan.current is None:
        return
    tint = colours()
    high = axes.get_ylim()[1]
    error = plan.current.rms_error_percent
    above = error > high
    place = high * 0.985 if above else error
    axes.plot(
        [plan.current.design.price],
        [place],
        marker="^" if above else "s",
        markersize=8,
        color=tint["ink"],
        clip_on=False,
        zorder=4,
    )
    told = say.text("frontier.today_kit_2", error=say.percent(error))
    label = f"{told} {say.text('frontier.off_chart')}" if above else told
    axes.annotate(label, (plan.current.design.price, place), xytext=(9, 0), textcoords="offset points", va="center")


def _recommended(axes: Any, plan: Plan, say: Language) -> None:
    if plan.recommended is None:
        return
    tint = colours()
    price, error = _point(plan.recommended)
    axes.plot(
        [price],
        [error],
        marker="o",
        markersize=19,
        markerfacecolor="none",
        markeredgecolor=tint["orange"],
        markeredgewidth=2.4,
        zorder=6,
    )
    label = f"{say.text('word.recommended')}: {say.money(price, plan.currency)}, {say.percent(error)}"
    if len(plan.frontier) < 2:  # above the only step stands today's kit
        axes.annotate(label, (price, error), xytext=(-8, -15), textcoords="offset points", va="top", weight="bold")
        return
    _, right = axes.get_xlim()
    written = axes.annotate(
        label, (price, error), xytext=(-8, 15), textcoords="offset points", va="bottom", weight="bold"
    )
    axes.figure.draw_without_rendering()
    extent = written.get_window_extent().transformed(axes.transData.inverted())
    if extent.x1 > right:  # the label moves left: above the ladder there, which falls to the right
        reach = right - extent.width
        height = max([error, *(y for (x, y), after in _pairs(plan) if after > reach and x < price)])
        written.set_position((0, 15))
        written.xy = (right, height)
        written.set_horizontalalignment("right")


def _pairs(plan: Plan) -> list[tuple[Point, float]]:
    """Steps of the ladder, each with the price at which it ends."""
    points = [_point(design) for design in plan.frontier]
    ends = [*(price for price, _ in points), float("inf")][1:]
    return list(zip(points, ends, strict=True))


def _scales(axes: Any, currency: str, say: Language) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    tint = colours()
    axes.spines["bottom"].set_visible(True)
    axes.xaxis.set_major_locator(MaxNLocator(6))
    axes.yaxis.set_major_locator(MaxNLocator(5))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(
            FuncFormatter(lambda value, _: say.number(rounding.grouped(f"{value:g}")) if value >= 0 else "")
        )
    axes.grid(axis="y", color=tint["hair"], linewidth=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(axis="y", length=0)
    axis_title(axes, say.text("frontier.price_currency", currency=currency))
    side_title(axes, say.text("frontier.rms_error"), 0.1)
