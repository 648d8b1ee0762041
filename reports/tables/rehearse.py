"""Tables of a rehearsal, for the page and as CSV files."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from reports.tables.tables import Column, Table, listed, table
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from collections.abc import Sequence

    from design.rehearsal.campaign import Rehearsal

BINS = 40
"""Bars of the histogram of reported values."""
AFTERWARDS = 60.0
"""Time after the last reading that is still shown. [s]"""
TAIL = 0.002
"""Part of the values left out of the histogram's range at either end."""


def coverage_table(rehearsal: Rehearsal, say: Language = ENGLISH) -> Table:
    """Coverage asked and found, for the interval asked and for that of 68 %."""
    _ = say.text
    return listed(
        "coverage",
        _("rehearse.table_coverage"),
        (rehearsal.coverage, rehearsal.coverage_one),
        (
            Column("asked_percent", _("table.asked"), "percent", cell=lambda one: 100.0 * one.asked),
            Column("found_percent", _("table.found"), "percent", cell=lambda one: 100.0 * one.found),
            Column("low_percent", _("table.from"), "percent", cell=lambda one: 100.0 * one.interval[0]),
            Column("high_percent", _("table.to_95_confidence"), "percent", cell=lambda one: 100.0 * one.interval[1]),
        ),
        say,
    )


def differs_table(rehearsal: Rehearsal, say: Language = ENGLISH) -> Table:
    """What becomes of the interval where the world differs from what is stated, kind by kind."""
    _ = say.text
    return listed(
        "when_the_world_differs",
        _("rehearse.table_differs"),
        rehearsal.elsewhere,
        (
            Column("kind", _("table.what_differs"), cell=lambda one: say.text(f"rehearse_world.{one.world.key}")),
            Column("outside", _("table.it_lies"), cell=lambda one: _(_place_of(one.world.outside))),
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
        say,
    )


def _place_of(outside: bool) -> str:
    return "rehearse_world.outside" if outside else "rehearse_world.within"


def moments_table(rehearsal: Rehearsal, say: Language = ENGLISH) -> Table:
    """Bias, spread and quantiles of the virtual runs beside those of the budget."""
    _ = say.text
    virtual, budget = 100.0 * rehearsal.errors, 100.0 * rehearsal.budget_errors
    low, high = 50.0 * (1.0 - rehearsal.coverage.asked), 50.0 * (1.0 + rehearsal.coverage.asked)

    def row(name: str, values: np.ndarray, bias: float, spread: float) -> tuple[str | float, ...]:
        return (name, bias, spread, *(float(value) for value in np.percentile(values, [low, 50.0, high])))

    design = rehearsal.ranked
    return table(
        "errors",
        _("rehearse.table_errors"),
        (
            Column("what", _("table.what")),
            Column("bias_percent", _("table.mean"), "signed percent"),
            Column("spread_percent", _("table.standard_deviation"), "percent"),
            Column("low_percent", _("table.low_end"), "signed percent"),
            Column("median_percent", _("table.median"), "signed percent"),
            Column("high_percent", _("table.high_end"), "signed percent"),
        ),
        [
            row(_("rehearse.row_runs"), virtual, 100.0 * rehearsal.bias, 100.0 * rehearsal.spread),
            row(_("rehearse.row_budget"), budget, design.bias_percent, design.standard_uncertainty_percent),
        ],
        say,
    )


def histogram(rehearsal: Rehearsal) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges of the bars [%], share of virtual runs in each, and share that the budget expects in each."""
    virtual, budget = 100.0 * rehearsal.errors, 100.0 * rehearsal.budget_errors
    both = np.concatenate([virtual, budget])
    low, high = np.quantile(both, [TAIL, 1.0 - TAIL])
    edges = np.linspace(low, high, BINS + 1) if high > low else np.linspace(low - 0.5, low + 0.5, BINS + 1)
    found, _edges = np.histogram(virtual, edges)
    expected, _edges = np.histogram(budget, edges)
    return edges, found / virtual.size, expected / budget.size


def histogram_table(rehearsal: Rehearsal, say: Language = ENGLISH) -> Table:
    """Numbers behind the histogram."""
    _ = say.text
    edges, found, expected = histogram(rehearsal)
    return table(
        "reported",
        _("rehearse.table_reported"),
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
        say,
    )


def shown_points(rehearsal: Rehearsal) -> int:
    """Points of the first run's traces up to a minute after its last reading."""
    played = rehearsal.played
    end = np.nanmax(played.noted.time[0], initial=0.0) + AFTERWARDS
    return int(np.searchsorted(played.traces.time, end)) or played.traces.time.size


def traces_table(rehearsal: Rehearsal, every: int = 1, say: Language = ENGLISH) -> Table:
    """Traces of the first run; ``every`` leaves points out."""
    _ = say.text
    traces, shown = rehearsal.played.traces, shown_points(rehearsal)
    columns = (traces.indicated, traces.true, traces.temperature, traces.power, traces.counts)
    indicated, true, temperature, power, counts = (column[:shown:every, 0] for column in columns)
    return table(
        "traces",
        _("rehearse.table_traces"),
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
        say,
    )  # fmt: skip


def truth_table(rehearsal: Rehearsal, say: Language = ENGLISH) -> Table:
    """What was true of the first run."""
    _ = say.text
    from design.rehearsal.behaviour import TRUTHS

    truth = rehearsal.played.apparatus.truth
    return listed(
        "truth",
        _("rehearse.table_truth"),
        TRUTHS,
        (
            Column("quantity", _("table.quantity"), cell=lambda one: say.text(f"truth.{one.key}")),
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
        say,
    )


def ledger_table(rehearsal: Rehearsal, say: Language = ENGLISH) -> Table:
    """Books of the first run at its end."""
    _ = say.text
    from design.rehearsal.state import sensible_heat

    state = rehearsal.played.state
    rows = [
        (_("ledger.electrical"), state.electrical, "J"),
        (_("ledger.lead"), state.lead, "J"),
        (_("ledger.latent"), state.latent, "J"),
        (
            _("ledger.sensible"),
            sensible_heat(rehearsal.played.apparatus, state),
            "J",
        ),
        (_("ledger.lost"), state.lost, "J"),
        (_("ledger.returned"), state.returned, "J"),
        (_("ledger.water"), 1000.0 * state.water, "g"),
        (_("ledger.vapour"), 1000.0 * state.vapour, "g"),
        (_("ledger.droplets"), 1000.0 * state.droplets, "g"),
        (_("ledger.over_rim"), 1000.0 * state.over_rim, "g"),
        (_("ledger.dripped"), 1000.0 * state.dripped, "g"),
        (_("ledger.condensate"), 1000.0 * state.condensate, "g"),
    ]
    return table(
        "books",
        _("rehearse.table_books"),
        (
            Column("column", _("table.column")),
            Column("value", _("table.value"), "significant", "", 6),
            Column("unit", _("table.unit")),
        ),
        [(words, float(values[0]), unit) for words, values, unit in rows],
        say,
    )


def behaviour_table(say: Language = ENGLISH) -> Table:
    """What the virtual bench assumes beyond the budget."""
    _ = say.text
    from design.rehearsal.behaviour import BEHAVIOURS

    return listed(
        "behaviour",
        _("rehearse.table_behaviour"),
        BEHAVIOURS,
        (
            Column("quantity", _("table.quantity"), cell=lambda one: say.text(f"behaviour.{one.key}")),
            Column("value", _("table.value"), "significant", "", 3),
            Column("unit", _("table.unit")),
            Column("evidence", _("table.evidence"), cell=lambda one: say.text(f"behaviour_source.{one.key}")),
        ),
        say,
    )


def sheet_table(rows: Sequence[dict[str, str]], columns: Sequence[str], say: Language = ENGLISH) -> Table:
    """Rows of a readings sheet as a table of texts."""
    return table(
        "readings",
        say.text("rehearse.table_readings"),
        tuple(Column(column, column) for column in columns),
        [tuple(row.get(column, "") for column in columns) for row in rows],
        say,
    )


def rehearsal_tables(rehearsal: Rehearsal, say: Language = ENGLISH) -> tuple[Table, ...]:
    """Every table that becomes a CSV file of its own, but the readings sheet."""
    return (
        coverage_table(rehearsal, say),
        differs_table(rehearsal, say),
        moments_table(rehearsal, say),
        histogram_table(rehearsal, say),
        traces_table(rehearsal, say=say),
        truth_table(rehearsal, say),
        ledger_table(rehearsal, say),
        behaviour_table(say),
    )
