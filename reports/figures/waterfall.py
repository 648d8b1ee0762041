"""The walk from the true value to the expected reading, one step an effect."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports import rounding
from reports.figures.canvas import NARROW, SMALL_TEXT, WIDE, Figure, colours, drawing, markup, wrapped
from reports.plan_tables import step_table, walk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.plan import RankedDesign

SHOWN = 9
"""Most steps drawn one by one; the smaller ones are drawn together."""
NEGLIGIBLE = 0.005
"""Steps below this are not drawn one by one. [%]"""

Step = tuple[str, float]


def waterfall(design: RankedDesign, true_value: float) -> Figure:
    """
    Draw the walk from the true value to the expected reading.

    Parameters
    ----------
    design : RankedDesign
        Design whose sources make the steps.
    true_value : float
        Latent heat at room pressure. [J/kg]
    """
    steps = drawn_steps(walk(design))
    ends = (f"true value, {_kilo(true_value)}", f"expected reading, {_kilo(design.expected_J_per_kg)}")
    alt = _message(walk(design), design, true_value)
    return Figure(
        svg=_draw("walk", steps, ends, alt, WIDE),
        narrow_svg=_draw("walk-narrow", steps, ends, alt, NARROW),
        alt=alt,
        caption="Each bar is the bias of one effect in per cent of the true value, and starts where the one above it "
        "ended. ▸ and plain: pushes the result up; ◂ and hatched: pushes it down.",
        table=step_table(design, true_value),
    )


def drawn_steps(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Keep the larger steps and put the others together, so that the sum stays the same."""
    *effects, curvature = steps
    kept = [step for step in effects if abs(step[1]) >= NEGLIGIBLE][:SHOWN]
    left = [step for step in effects if step not in kept]
    shown = [*kept]
    together = sum(bias for _, bias in left)
    if abs(together) >= NEGLIGIBLE:
        word = "smaller effect" if len(left) == 1 else "smaller effects"
        shown.append((f"{len(left)} {word}", together))
        together = 0.0
    rest = curvature[1] + together
    if abs(rest) >= NEGLIGIBLE or not shown:
        return (*shown, (curvature[0], rest))
    name, bias = shown[-1]
    return (*shown[:-1], (name, bias + rest))


def _kilo(value: float) -> str:
    return f"{rounding.fixed(value / 1000, 0)}{rounding.THIN}kJ/kg"


def _message(steps: Sequence[Step], design: RankedDesign, true_value: float) -> str:
    largest = [f"{name} {rounding.signed_percent(bias)}" for name, bias in steps[:-1] if abs(bias) >= NEGLIGIBLE][:4]
    return (
        f"Waterfall chart. From the true value {_kilo(true_value)} to the expected reading "
        f"{_kilo(design.expected_J_per_kg)}, an error of {rounding.signed_percent(design.bias_percent)}. "
        f"Largest steps: {'; '.join(largest) or 'none'}."
    )


def _draw(name: str, steps: Sequence[Step], ends: tuple[str, str], alt: str, width: float) -> str:
    wide = width > NARROW
    row = 0.36 if wide else 0.52
    height = row * (len(steps) + 2) + 0.62
    with drawing(name, width, height) as (canvas, axes):
        left = 0.40 if wide else 0.02
        axes.set_position((left, 0.42 / height, 0.93 - left, 1 - 0.5 / height))
        reached = _bars(axes, steps, wide=wide)
        last = len(steps) + 1
        for position, (text, value) in enumerate(zip(ends, (0.0, reached), strict=True)):
            _end(axes, position * last, text, value, wide=wide)
        _scale(axes, last, wide=wide)
        return markup(canvas, name, alt, "wide-figure" if wide else "narrow-figure")


def _bars(axes: Any, steps: Sequence[Step], *, wide: bool) -> float:
    tint = colours()
    reached = 0.0
    spots = [0.0]
    for _, bias in steps:
        spots.append(spots[-1] + bias)
    span = max(spots) - min(spots) or 1.0
    axes.set_xlim(min(spots) - 0.17 * span, max(spots) + 0.19 * span)
    half = 0.3 if wide else 0.2
    offset = 0.0 if wide else 0.17
    for position, (text, bias) in enumerate(steps, start=1):
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
        axes.text(after, place, f"{sign}{rounding.signed_percent(bias)}", va="center", ha="left", color=tint["ink"])
        _label(axes, position, text, wide=wide)
    return reached


def _label(axes: Any, position: float, text: str, *, wide: bool, bold: bool = False) -> None:
    weight = "bold" if bold else "normal"
    transform = axes.get_yaxis_transform()
    if wide:
        axes.text(-0.02, position, wrapped(text, 38), transform=transform, va="center", ha="right", weight=weight)
    else:
        axes.text(
            0.0, position - 0.22, wrapped(text, 50, 1), transform=transform, va="center", ha="left", weight=weight
        )


def _end(axes: Any, position: float, text: str, value: float, *, wide: bool) -> None:
    tint = colours()
    place = position + (0.0 if wide else 0.17)
    axes.plot([value], [place], marker="D", markersize=6, color=tint["ink"])
    if position == 0:
        axes.plot([0, 0], [place, place + 1 - (0.3 if wide else 0.2)], color=tint["rule"], linewidth=0.7)
    head, _, number = text.partition(", ")
    _label(axes, position, head, wide=wide, bold=True)
    low, high = axes.get_xlim()
    axes.text(value + 0.022 * (high - low), place, number, va="center", ha="left", weight="bold")


def _scale(axes: Any, last: int, *, wide: bool) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.set_ylim(last + 0.6, -0.6)
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(True)
    axes.axvline(0, color=colours()["rule"], linewidth=0.8, linestyle=(0, (2, 2)), zorder=0)
    axes.xaxis.set_major_locator(MaxNLocator(7 if wide else 5))
    axes.xaxis.set_major_formatter(FuncFormatter(_tick))
    axes.text(1.0, -0.30 / (axes.get_position().height * axes.figure.get_figheight()), "error in % of the true value",
              transform=axes.transAxes, ha="right", va="top", fontsize=SMALL_TEXT, color=colours()["muted"])  # fmt: skip


def _tick(value: float, _position: int) -> str:
    return "0" if abs(value) < 1e-12 else f"{value:+g}".replace("-", rounding.MINUS)
