"""Tables of a rehearsal, for the page and as CSV files."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from reports.tables.tables import Column, Table, listed, table
from reports.words.languages import ENGLISH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.rehearsal.campaign import Rehearsal

_ = ENGLISH.text

BINS = 40
"""Bars of the histogram of reported values."""
AFTERWARDS = 60.0
"""Time after the last reading that is still shown. [s]"""
TAIL = 0.002
"""Part of the values left out of the histogram's range at either end."""


def coverage_table(rehearsal: Rehearsal) -> Table:
    """Coverage asked and found, for the interval asked and for that of 68 %."""
    return listed(
        "coverage",
        "Share of virtual runs whose interval holds the true value",
        (rehearsal.coverage, rehearsal.coverage_one),
        (
            Column("asked_percent", _("table.asked"), "percent", cell=lambda one: 100.0 * one.asked),
            Column("found_percent", _("table.found"), "percent", cell=lambda one: 100.0 * one.found),
            Column("low_percent", _("table.from"), "percent", cell=lambda one: 100.0 * one.interval[0]),
            Column("high_percent", _("table.to_95_confidence"), "percent", cell=lambda one: 100.0 * one.interval[1]),
        ),
    )


def differs_table(rehearsal: Rehearsal) -> Table:
    """What becomes of the interval where the world differs from what is stated, kind by kind."""
    say = ENGLISH.text
    return listed(
        "when_the_world_differs",
        "The same interval where the world differs from what is stated",
        rehearsal.elsewhere,
        (
            Column("kind", _("table.what_differs"), cell=lambda one: say(f"rehearse_world.{one.world.key}")),
            Column("outside", _("table.it_lies"), cell=lambda one: say(_place_of(one.world.outside))),
            Column("found_percent", _("table.found"), "percent", cell=lambda one: 100.0 * one.coverage.found),
            Column("low_percent", _("table.from"), "percent", cell=lambda one: 100.0 * one.coverage.interval[0]),
            Column(
                "high_percent",
                _("table.to_95_confidence"),
                "percent",
                cell=lambda one: 100.0 * one.coverage.interval[1],
            ),
            Column("bias_percent", _("table.mean_error"), "signed percent", cell=lambda one: 100.0 * one.bias),
            Column("over_rim_percent", _("table.water_over_the_rim"), "percent", cell=lambda one: 100.0 * one.over_rim),
        ),
    )


def _place_of(outside: bool) -> str:
    return "rehearse_world.outside" if outside else "rehearse_world.within"


def moments_table(rehearsal: Rehearsal) -> Table:
    """Bias, spread and quantiles of the virtual runs beside those of the budget."""
    virtual, budget = 100.0 * rehearsal.errors, 100.0 * rehearsal.budget_errors
    low, high = 50.0 * (1.0 - rehearsal.coverage.asked), 50.0 * (1.0 + rehearsal.coverage.asked)

    def row(name: str, values: np.ndarray, bias: float, spread: float) -> tuple[str | float, ...]:
        return (name, bias, spread, *(float(value) for value in np.percentile(values, [low, 50.0, high])))

    design = rehearsal.ranked
    return table(
        "errors",
        "Error of the reported value, in per cent of the true value",
        (
            Column("what", _("table.what")),
            Column("bias_percent", _("table.mean"), "signed percent"),
            Column("spread_percent", _("table.standard_deviation"), "percent"),
            Column("low_percent", _("table.low_end"), "signed percent"),
            Column("median_percent", _("table.median"), "signed percent"),
            Column("high_percent", _("table.high_end"), "signed percent"),
        ),
        [
            row("virtual runs", virtual, 100.0 * rehearsal.bias, 100.0 * rehearsal.spread),
            row("budget", budget, design.bias_percent, design.standard_uncertainty_percent),
        ],
    )


def histogram(rehearsal: Rehearsal) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges of the bars [%], share of virtual runs in each, and share that the budget expects in each."""
    virtual, budget = 100.0 * rehearsal.errors, 100.0 * rehearsal.budget_errors
    both = np.concatenate([virtual, budget])
    low, high = np.quantile(both, [TAIL, 1.0 - TAIL])
    edges = np.linspace(low, high, BINS + 1) if high > low else np.linspace(low - 0.5, low + 0.5, BINS + 1)
    found, _ = np.histogram(virtual, edges)
    expected, _ = np.histogram(budget, edges)
    return edges, found / virtual.size, expected / budget.size


def histogram_table(rehearsal: Rehearsal) -> Table:
    """Numbers behind the histogram."""
    edges, found, expected = histogram(rehearsal)
    return table(
        "reported",
        "Share of reported values by their error",
        (
            Column("from_percent", _("table.from"), "signed percent"),
            Column("to_percent", _("table.to"), "signed percent"),
            Column("runs_percent", _("table.virtual_runs"), "percent"),
            Column("budget_percent", _("table.budget"), "percent"),
        ),
        [
            (float(low), float(high), 100.0 * float(one), 100.0 * float(other))
            for low, high, one, other in zip(edges[:-1], edges[1:], found, expected, strict=True)
        ],
    )


def shown_points(rehearsal: Rehearsal) -> int:
    """Points of the first run's traces up to a minute after its last reading."""
    played = rehearsal.played
    end = np.nanmax(played.noted.time[0], initial=0.0) + AFTERWARDS
    return int(np.searchsorted(played.traces.time, end)) or played.traces.time.size


def traces_table(rehearsal: Rehearsal, every: int = 1) -> Table:
    """Traces of the first run; ``every`` leaves points out."""
    traces, shown = rehearsal.played.traces, shown_points(rehearsal)
    columns = (traces.indicated, traces.true, traces.temperature, traces.power, traces.counts)
    indicated, true, temperature, power, counts = (column[:shown:every, 0] for column in columns)
    return table(
        "traces",
        "One virtual run over time",
        (
            Column("time_s", _("table.time"), "significant", "s", 4),
            Column("indicated_g", _("table.mass_indicated"), "significant", "g", 5),
            Column("true_g", _("table.water_in_the_vessel"), "significant", "g", 5),
            Column("temperature_C", _("table.temperature"), "significant", "°C", 4),
            Column("power_W", _("table.power_metered"), "significant", "W", 4),
            Column("counts", _("table.counts"), "significant", "", 4),
        ),
        [
            (float(a), 1000.0 * float(b), 1000.0 * float(c), float(d) - 273.15, float(e), float(f))
            for a, b, c, d, e, f in zip(
                traces.time[:shown:every], indicated, true, temperature, power, counts, strict=True
            )
        ],
    )  # fmt: skip


def truth_table(rehearsal: Rehearsal) -> Table:
    """What was true of the first run."""
    from design.rehearsal.behaviour import TRUTHS

    truth = rehearsal.played.apparatus.truth
    return listed(
        "truth",
        "What was true of the first virtual run",
        TRUTHS,
        (
            Column("quantity", _("table.quantity"), cell=lambda one: ENGLISH.text(f"truth.{one.key}")),
            Column(
                "value",
                _("table.value"),
                "significant",
                "",
                3,
                cell=lambda one: (100.0 if one.unit == "%" else 1.0) * float(truth[one.key].flat[0]),
            ),
            Column("unit", _("table.unit")),
        ),
    )


def ledger_table(rehearsal: Rehearsal) -> Table:
    """Books of the first run at its end."""
    from design.rehearsal.state import sensible_heat

    state = rehearsal.played.state
    rows = [
        ("energy through the meter", state.electrical, "J"),
        ("heat in the flex", state.lead, "J"),
        ("latent heat carried off", state.latent, "J"),
        (
            "sensible heat in the bench and in the water that left",
            sensible_heat(rehearsal.played.apparatus, state),
            "J",
        ),
        ("lost through wall, surface and base", state.lost, "J"),
        ("given off by hardware that steam condensed on", state.returned, "J"),
        ("water in the vessel", 1000.0 * state.water, "g"),
        ("gone as vapour", 1000.0 * state.vapour, "g"),
        ("gone as droplets", 1000.0 * state.droplets, "g"),
        ("gone over the rim", 1000.0 * state.over_rim, "g"),
        ("dripped beside the pan", 1000.0 * state.dripped, "g"),
        ("on the hardware", 1000.0 * state.condensate, "g"),
    ]
    return table(
        "books",
        "Energy and mass of the first virtual run at its end",
        (
            Column("column", _("table.column")),
            Column("value", _("table.value"), "significant", "", 6),
            Column("unit", _("table.unit")),
        ),
        [(words, float(values[0]), unit) for words, values, unit in rows],
    )


def behaviour_table() -> Table:
    """What the virtual bench assumes beyond the budget."""
    from design.rehearsal.behaviour import BEHAVIOURS

    return listed(
        "behaviour",
        "Behaviour of the virtual bench",
        BEHAVIOURS,
        (
            Column("quantity", _("table.quantity")),
            Column("value", _("table.value"), "significant", "", 3),
            Column("unit", _("table.unit")),
            Column("evidence", _("table.evidence"), cell=lambda one: one.source),
        ),
    )


def sheet_table(rows: Sequence[dict[str, str]], columns: Sequence[str]) -> Table:
    """Rows of a readings sheet as a table of texts."""
    return table(
        "readings",
        "Readings sheet",
        tuple(Column(column, column) for column in columns),
        [tuple(row.get(column, "") for column in columns) for row in rows],
    )


def rehearsal_tables(rehearsal: Rehearsal) -> tuple[Table, ...]:
    """Every table that becomes a CSV file of its own, but the readings sheet."""
    return (
        coverage_table(rehearsal),
        differs_table(rehearsal),
        moments_table(rehearsal),
        histogram_table(rehearsal),
        traces_table(rehearsal),
        truth_table(rehearsal),
        ledger_table(rehearsal),
        behaviour_table(),
    )
