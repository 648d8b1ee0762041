"""The output distribution of a measurement model with its coverage intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.figures.canvas import NARROW, Figure, axis_title, colours, drawing, figure, markup, row_label
from reports.tables.tables import Column, Table, table
from reports.words import rounding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from budget.report import BudgetReport

BINS = 72
"""Number of bins of the histogram."""
TAIL = 0.0005
"""Probability left out at either end of the drawing."""
BULK = 0.01
"""Probability at either end of the bulk; tails are drawn no farther out than the bulk is wide."""

Interval = tuple[str, tuple[float, float]]


def distribution(report: BudgetReport) -> Figure:
    """Draw the density of the simulated outcomes, and below it the intervals of simulation and propagation."""
    simulation = report.simulation
    intervals: list[Interval] = [
        ("simulation, symmetric", simulation.interval_symmetric),
        ("simulation, shortest", simulation.interval_shortest),
        ("propagation, estimate ± U", report.propagation.interval),
    ]
    unit = report.model.unit
    alt = _message(report, intervals)
    return figure(
        "distribution",
        lambda own, width: _draw(own, report, intervals, alt, width),
        alt,
        "Outcomes of the simulation. Bars below: intervals that hold "
        f"{rounding.percent_of_share(report.coverage)}; dot: {'median' if simulation.reason else 'mean'}, or estimate.",
        _table(intervals, rounding.spelled(unit)),
    )


def density(values: NDArray[Any], probabilities: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:
    """
    Histogram of a distribution that is given by its distribution function.

    Parameters
    ----------
    values, probabilities : ndarray, shape (n,)
        Outcomes in rising order, and the probability of an outcome up to each.

    Returns
    -------
    tuple of ndarray, shapes (BINS + 1,) and (BINS,)
        Edges of the bins, and the probability in each.
    """
    import numpy as np

    low, near, far, high = np.interp([TAIL, BULK, 1 - BULK, 1 - TAIL], probabilities, values)
    low, high = max(low, 2 * near - far), min(high, 2 * far - near)
    if high <= low:
        spread = abs(low) * 1e-3 or 1.0
        low, high = low - spread, high + spread
    edges = np.linspace(low, high, BINS + 1)
    inside: NDArray[Any] = np.diff(np.interp(edges, values, probabilities, left=0.0, right=1.0))
    return edges, inside


def _message(report: BudgetReport, intervals: Sequence[Interval]) -> str:
    simulation = report.simulation
    spread, unit = simulation.spread, rounding.spelled(report.model.unit)
    words = "; ".join(
        f"{name} {rounding.round_together(low, spread)[0]} to {rounding.round_together(high, spread)[0]}"
        for name, (low, high) in intervals
    )
    centre = simulation.median if simulation.reason else simulation.estimate
    value = f"{'median' if simulation.reason else 'mean'} {rounding.round_together(centre, spread)[0]}"
    return (
        f"Histogram of the output distribution of {report.model.symbol}: {value}{rounding.behind(unit)}. Intervals of "
        f"{rounding.percent_of_share(report.coverage)}{' in ' + unit if unit else ''}: {words}."
    )


def _table(intervals: Sequence[Interval], unit: str) -> Table:
    return table(
        "intervals",
        "Coverage intervals",
        (
            Column("interval", "Interval"),
            Column("low", "From", "significant", unit, 5),
            Column("high", "To", "significant", unit, 5),
        ),
        [(name, *ends) for name, ends in intervals],
    )


def _draw(name: str, report: BudgetReport, intervals: Sequence[Interval], alt: str, width: float) -> str:
    wide = width > NARROW
    row = 0.26 if wide else 0.4
    below = row * len(intervals) + 0.1
    plot, scale = (2.0 if wide else 1.6), 0.42
    height = plot + below + scale
    left = 0.30 if wide else 0.03
    with drawing(name, width, height) as (canvas, axes):
        axes.set_position((left, (below + scale) / height, 0.96 - left, plot / height - 0.01))
        edges, inside = density(report.simulation.values, report.simulation.probabilities)
        _histogram(axes, edges, inside)
        lower = canvas.add_axes((left, scale / height, 0.96 - left, below / height), sharex=axes)
        ends = [end for _, interval in intervals for end in interval]
        reach = (min(edges[0], *ends), max(edges[-1], *ends))
        margin = 0.02 * (reach[1] - reach[0])
        axes.set_xlim(reach[0] - margin, reach[1] + margin)
        _intervals(lower, report, intervals, wide=wide)
        return markup(canvas, name, alt)


def _histogram(axes: Any, edges: NDArray[Any], inside: NDArray[Any]) -> None:
    tint = colours()
    axes.stairs(inside, edges, fill=True, facecolor=tint["level-3"], edgecolor="none")
    axes.stairs(inside, edges, color=tint["blue"], linewidth=1.4)
    axes.set_ylim(0, max(float(inside.max()) * 1.06, 1e-300))
    axes.set_yticks([])
    axes.tick_params(axis="x", length=0, labelbottom=False)


def _intervals(axes: Any, report: BudgetReport, intervals: Sequence[Interval], *, wide: bool) -> None:
    tint = colours()
    axes.set_facecolor("none")
    for side in axes.spines.values():
        side.set_visible(False)
    axes.spines["bottom"].set_visible(True)
    for position, (name, (low, high)) in enumerate(intervals):
        place = position + (0.0 if wide else 0.2)
        simulated = position < 2
        outcome = report.simulation.median if report.simulation.reason else report.simulation.estimate
        estimate = outcome if simulated else report.propagation.estimate
        axes.plot([low, high], [place, place], color=tint["blue"] if simulated else tint["orange"], linewidth=2.2,
                  linestyle="-" if simulated else (0, (4, 1.5)))  # fmt: skip
        axes.plot([low, high], [place, place], color=tint["ink"], linestyle="none", marker="|", markersize=8)
        axes.plot([estimate], [place], color=tint["ink"], marker="o", markersize=4.5)
        row_label(axes, position, name)
    axes.set_ylim(len(intervals) - 0.35, -0.65)
    axes.set_yticks([])
    _ticks(axes, report, wide=wide)


def _ticks(axes: Any, report: BudgetReport, *, wide: bool) -> None:
    from matplotlib.ticker import MaxNLocator

    low, high = axes.get_xlim()
    ticks = [float(tick) for tick in MaxNLocator(6 if wide else 4).tick_values(low, high) if low <= tick <= high]
    step = ticks[1] - ticks[0] if len(ticks) > 1 else max(abs(ticks[0]), 1.0) if ticks else 1.0
    axes.set_xticks(ticks, [rounding.round_together(tick, step, digits=2)[0] for tick in ticks])
    unit = rounding.spelled(report.model.unit)
    title = f"{report.model.symbol}{' in ' + unit if unit else ''}"
    axis_title(axes, title)
