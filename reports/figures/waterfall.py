"""The walk from the true value to the expected reading, one step an effect."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.figures.canvas import (
    NARROW,
    Figure,
    axis_title,
    colours,
    drawing,
    figure,
    markup,
    row_label,
    signed_tick,
)
from reports.tables.plan import step_table
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reports.tables.walk import Step

SHOWN = 9
"""Most steps drawn one by one; the smaller ones are drawn together."""
NEGLIGIBLE = 0.005
"""Steps below this are not drawn one by one. [%]"""

Bar = tuple[str, float]


def waterfall(name: str, steps: Sequence[Step], true_value: float, say: Language = ENGLISH) -> Figure:
    """
    Draw the walk from the true value to the expected result.

    Parameters
    ----------
    name : str
        Name of the figure, its own on the page.
    steps : sequence of Step
        Steps as `reports.tables.walk.walk` gives them: effects, and a last one that closes the sum.
    true_value : float
        Latent heat at room pressure. [J/kg]
    say : Language
        Language of the page.
    """
    _ = say.text
    bias = sum(step.percent for step in steps)
    bars = drawn_bars(steps, say)
    ends = (
        (_("word.true_value"), _kilo(true_value, say)),
        (_("waterfall.expected_result"), _kilo(true_value * (1 + bias / 100), say)),
    )
    alt = _message(steps, ends, bias, say)
    return figure(
        name,
        lambda own, width: _draw(own, (bars, ends, alt), width, say),
        alt,
        _("waterfall.each_bar_one_step"),
        step_table(steps, true_value, name, say),
    )


def drawn_bars(steps: Sequence[Step], say: Language = ENGLISH) -> tuple[Bar, ...]:
    """Keep the larger steps and put the smaller ones together, so that the sum stays the same."""
    *effects, closing = steps
    kept = [step for step in effects if abs(step.percent) >= NEGLIGIBLE][:SHOWN]
    left = [step for step in effects if step not in kept]
    bars = [(step.name, step.percent) for step in kept]
    together = sum(step.percent for step in left)
    if abs(together) >= NEGLIGIBLE:
        bars.append((say.several("waterfall.smaller_effect", len(left)), together))
        together = 0.0
    rest = closing.percent + together
    if abs(rest) >= NEGLIGIBLE or not bars:
        return (*bars, (closing.name, rest))
    name, last = bars[-1]
    return (*bars[:-1], (name, last + rest))


def worth_drawing(steps: Sequence[Step]) -> bool:
    """Tell whether any step can be seen."""
    return any(abs(step.percent) >= NEGLIGIBLE for step in steps)


def _kilo(value: float, say: Language) -> str:
    return f"{say.fixed(value / 1000, 0)}{rounding.THIN}kJ/kg"


def _message(steps: Sequence[Step], ends: tuple[tuple[str, str], tuple[str, str]], bias: float, say: Language) -> str:
    shown = [step for step in steps if abs(step.percent) >= NEGLIGIBLE]
    largest = sorted(shown, key=lambda step: -abs(step.percent))[:5]
    words = "; ".join(f"{step.name} {say.signed_percent(step.percent)}" for step in largest)
    return say.text(
        "waterfall.waterfall_chart_true",
        true=ends[0][1],
        expected=ends[1][1],
        bias=say.signed_percent(bias),
        steps=words or say.text("word.none"),
    )


def _draw(name: str, drawn: tuple[Sequence[Bar], Sequence[tuple[str, str]], str], width: float, say: Language) -> str:
    bars, ends, alt = drawn
    wide = width > NARROW
    row = 0.36 if wide else 0.52
    height = row * (len(bars) + 2) + 0.62
    with drawing(name, width, height) as (canvas, axes):
        left = 0.40 if wide else 0.02
        axes.set_position((left, 0.42 / height, 0.93 - left, 1 - 0.5 / height))
        reached = _bars(axes, bars, say, wide=wide)
        last = len(bars) + 1
        for position, (end, value) in enumerate(zip(ends, (0.0, reached), strict=True)):
            _end(axes, position * last, end, value, wide=wide)
        _scale(axes, last, say, wide=wide)
        axis_title(axes, say.text("waterfall.error_true_value"))
        return markup(canvas, name, alt)


def _bars(axes: Any, bars: Sequence[Bar], say: Language, *, wide: bool) -> float:
    tint = colours()
    reached = 0.0
    spots = [0.0]
    for _, bias in bars:
        spots.append(spots[-1] + bias)
    span = max(spots) - min(spots) or 1.0
    label = 0.8 / (axes.get_position().width * axes.figure.get_figwidth())  # room for one on the right
    whole = span / (1 - label - 0.04)
    axes.set_xlim(min(spots) - 0.04 * whole, max(spots) + label * whole)
    half = 0.3 if wide else 0.2
    offset = 0.0 if wide else 0.17
    for position, (text, bias) in enumerate(bars, start=1):
        colour = tint["orange"] if bias > 0 else tint["blue"] if bias < 0 else tint["rule"]
        start, reached = reached, reached + bias
        place = position + offset
        axes.barh(
            place,
            bias,
            left=start,
            height=2 * half,
            facecolor=colour if bias > 0 else tint["paper"],
            edgecolor=colour,
            hatch=None if bias > 0 else "//////",
            linewidth=1.1,
        )
        axes.plot([reached, reached], [place + half, place + 1 - half], color=tint["rule"], linewidth=0.7)
        sign = "▸ " if bias > 0 else "◂ " if bias < 0 else ""
        after = max(start, reached) + 0.015 * span
        axes.text(after, place, f"{sign}{say.signed_percent(bias)}", va="center", ha="left", color=tint["ink"])
        row_label(axes, position, text)
    return reached


def _end(axes: Any, position: float, end: tuple[str, str], value: float, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.17)
    axes.plot([value], [place], marker="D", markersize=6, color=tint["ink"])
    if position == 0:
        axes.plot([0, 0], [place, place + 1 - (0.3 if wide else 0.2)], color=tint["rule"], linewidth=0.7)
    head, number = end
    row_label(axes, position, head, weight="bold")
    low, high = axes.get_xlim()
    right = value > low + 0.7 * (high - low)
    shift = 0.025 * (low - high if right else high - low)
    axes.text(value + shift, place, number, va="center", ha="right" if right else "left", weight="bold")


def _scale(axes: Any, last: int, say: Language, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_ylim(last + 0.6, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.axvline(0, color=colours()["rule"], linewidth=0.8, linestyle=(0, (2, 2)), zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(7 if wide else 5))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: signed_tick(value, say)))
