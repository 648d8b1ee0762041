"""The tables of a plan: what stands in the page, in CSV files and beside the figures."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from reports.tables.files import xlsx_bytes
from reports.tables.search import search_tables
from reports.tables.tables import Cell, Column, Table, table
from reports.tables.walk import effect_steps, walk
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.languages import ENGLISH, N_, Language
from reports.words.sentences import OBJECTIVES, SIGNS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from design.search.plan import ErrorMap, Plan, RankedDesign, Source
    from reports.tables.tables import Table
    from reports.tables.walk import Step


def step_table(steps: Sequence[Step], true_value: float, name: str = "walk") -> Table:
    """Table of the walk from the true to the expected value, with the running total."""
    rows: list[tuple[Cell, ...]] = [(N_("true value"), "", None, 0.0, true_value / 1000)]
    reached = 0.0
    for step in steps:
        reached += step.percent
        rows.append((step.name, step.symbol, step.percent, reached, true_value * (1 + reached / 100) / 1000))
    return table(
        name,
        "The walk from the true to the expected value, step by step",
        (
            Column("effect", "Effect"),
            Column("symbol", "Symbol", "symbol"),
            Column("step_percent", "Step", "signed percent"),
            Column("reached_percent", "Error so far", "signed percent"),
            Column("reached_kJ_per_kg", "Value so far", "significant", "kJ/kg", 5),
        ),
        rows,
    )


def budget_table(design: RankedDesign, name: str = "budget") -> Table:
    """Uncertainty budget: one row an input quantity, in the columns of EA-4/02 and with share and evidence."""
    return table(
        name,
        "Uncertainty budget, one row an input quantity, ranked by share",
        (
            Column("quantity", "Quantity"),
            Column("symbol", "Symbol", "symbol"),
            Column("estimate", "Estimate", "significant", "", 4),
            Column("standard_uncertainty", "Standard uncertainty", "significant", "", 2),
            Column("unit", "Unit"),
            Column("distribution", "Distribution"),
            Column("sensitivity_coefficient_J_per_kg", "Sensitivity coefficient (J/kg per unit)", "significant"),
            Column("contribution_percent", "Contribution", "percent"),
            Column("bias_percent", "Bias", "signed percent"),
            Column("share_percent", "Share", "percent"),
            Column("averaged_by_repeats", "Averaged by repeats"),
            Column("evidence", "Evidence"),
        ),
        [
            (
                source.quantity,
                source.symbol,
                source.estimate,
                source.standard_uncertainty,
                source.unit,
                source.distribution,
                source.sensitivity_coefficient,
                source.standard_uncertainty_percent,
                source.bias_percent,
                source.share * 100,
                N_("yes") if source.scatter else N_("no"),
                source.evidence,
            )
            for source in design.sources
        ],
    )


def share_table(sources: Sequence[Source], name: str = "sources") -> Table:
    """Sources ranked by share, with the interval of the share, size and sign of the bias."""
    return table(
        name,
        "Sources ranked by their share of the variance",
        (
            Column("quantity", "Source"),
            Column("share_percent", "Share", "percent"),
            Column("share_low_percent", "Share, from", "percent"),
            Column("share_high_percent", "Share, to", "percent"),
            Column("standard_uncertainty_percent", "Contribution to u", "percent"),
            Column("bias_percent", "Bias", "signed percent"),
            Column("pushes", "Pushes the result"),
        ),
        [
            (
                source.quantity,
                source.share * 100,
                max(source.share_interval[0], 0.0) * 100,
                source.share_interval[1] * 100,
                source.standard_uncertainty_percent,
                source.bias_percent,
                direction(source.bias_percent),
            )
            for source in sources
        ],
    )


def bias_table(steps: Iterable[Step], sources: Iterable[Source], name: str = "biases") -> Table:
    """Effects in the order of what they do to the readings, with what is left of each after the correction."""
    left = {source.symbol: source for source in sources}
    rows: list[tuple[Cell, ...]] = []
    for step in sorted(steps, key=lambda step: (-abs(step.percent), step.symbol)):
        source = left.get(step.symbol)
        after = (source.bias_percent, source.share * 100) if source else (0.0, None)
        rows.append((step.name, step.percent, direction(step.percent), *after))
    return table(
        name,
        "Effects in the order of the size of their bias",
        (
            Column("quantity", "Effect"),
            Column("readings_bias_percent", "Bias of the readings", "signed percent"),
            Column("pushes", "Pushes the readings"),
            Column("bias_percent", "Left after correction", "signed percent"),
            Column("share_percent", "Share of the variance", "percent"),
        ),
        rows,
    )


def direction(bias_percent: float) -> str:
    """Say which way a bias pushes the result; below 0.005 % neither."""
    if abs(bias_percent) < wording.NO_BIAS:
        return N_("neither way")
    return "too high" if bias_percent > 0 else "too low"


def ranking_table(plan: Plan, name: str = "ranking") -> Table:
    """Ranking: the best setting of each kit, procedure and correction."""
    return table(
        name,
        "Ranking: the best setting of each kit, procedure and correction",
        (
            Column("rank", "Rank", "whole"),
            *_design_columns(plan),
            Column("within_margin_percent", "Nearly best", "percent"),
            Column("best", "Best", "percent"),
        ),
        [
            (rank, *_design_cells(design), design.within_margin_probability * 100, design.best_probability * 100)
            for rank, design in enumerate(plan.ranking, start=1)
        ],
    )


def frontier_table(plan: Plan, name: str = "frontier") -> Table:
    """Frontier: the smallest error for the money, cheapest first, and what each step buys."""
    return table(
        name,
        "What each step of the ladder buys",
        (
            Column("step", "Step", "whole"),
            Column("price", "Price", "money", plan.currency),
            Column("rms_error_percent", "rms error", "percent"),
            Column("buy", "To buy"),
            Column("procedure", "Procedure"),
            Column("minutes", "Time", "minutes"),
        ),
        [
            (
                step,
                design.price,
                design.rms_error_percent,
                wording_items.bought_names(design) or N_("nothing"),
                wording.method(design),
                design.minutes,
            )
            for step, design in enumerate(plan.frontier, start=1)
        ],
    )


def rejected_table(plan: Plan, name: str = "rejected") -> Table:
    """Numbers of combinations rejected, the commonest reason first."""
    ordered = sorted(plan.rejected.items(), key=lambda pair: (-pair[1], pair[0]))
    return table(
        name,
        "Combinations rejected, by the first limit each breaks",
        (Column("reason", "Limit"), Column("combinations", "Combinations", "whole")),
        ordered,
    )


def time_table(design: RankedDesign, name: str = "time_table") -> Table:
    """Stages of the lesson with their minutes."""
    rows: list[tuple[Cell, ...]] = [(stage, length) for stage, length in design.time_table]
    return table(
        name,
        "Time table of the lesson",
        (Column("stage", "Stage"), Column("minutes", "Time", "minutes")),
        [*rows, (N_("together"), design.minutes)],
    )


def shopping_table(plan: Plan, design: RankedDesign, name: str = "shopping") -> Table:
    """What has to be bought for all groups."""
    return table(
        name,
        "To buy",
        (
            Column("role", "What for"),
            Column("item", "Item"),
            Column("number", "Number", "whole"),
            Column("price", "Price", "money", plan.currency),
        ),
        [(wording_items.role(part), item, number, price) for part, item, number, price in design.buy],
    )


def sign_table(name: str = "signs") -> Table:
    """Which way each effect pushes the uncorrected value."""
    return table(
        name,
        "Direction of each effect on the uncorrected value",
        (Column("effect", "Effect"), Column("makes_L", "Makes L"), Column("because", "Because")),
        SIGNS,
    )


def map_table(error_map: ErrorMap, objective: str, name: str = "error_map") -> Table:
    """The error map as rows of mass, power, error and the limit that is broken."""
    rows = [
        (
            float(step) * 1000,
            float(power),
            None if error_map.limit[i, j] else float(error_map.objective_percent[i, j]),
            str(error_map.limit[i, j]) or "none",
        )
        for i, step in enumerate(error_map.masses_kg)
        for j, power in enumerate(error_map.powers_W)
    ]
    return table(
        name,
        "Error of the recommended kit over mass and power",
        (
            Column("mass_g", "Mass step", "significant", "g"),
            Column("power_W", "Power", "significant", "W", 4),
            Column("objective_percent", OBJECTIVES.get(objective, objective), "percent"),
            Column("limit", "Limit broken"),
        ),
        rows,
    )


def plan_tables(plan: Plan) -> tuple[Table, ...]:
    """List every table that goes into a file of its own."""
    if plan.recommended is None:
        return ()
    design = plan.recommended
    found = [
        step_table(walk(design, plan.model), plan.latent_heat),
        share_table(design.sources),
        bias_table(effect_steps(design, plan.model), design.sources),
        budget_table(design),
        ranking_table(plan),
        frontier_table(plan),
        rejected_table(plan),
        time_table(design),
        shopping_table(plan, design),
        sign_table(),
    ]
    if plan.error_map is not None:
        found.append(map_table(plan.error_map, plan.objective))
    return tuple(found)


def _design_columns(plan: Plan) -> tuple[Column, ...]:
    return (
        Column("kit", "Kit"),
        Column("procedure", "Procedure"),
        Column("power_W", "Power", "significant", "W", 4),
        Column("mass_g", "Mass", "significant", "g"),
        Column("repeats", "Runs", "whole"),
        Column("price", "Price", "money", plan.currency),
        Column("minutes", "Time", "minutes"),
        Column("bias_percent", "Bias", "signed percent"),
        Column("standard_uncertainty_percent", "Standard uncertainty", "percent"),
        Column("rms_error_percent", "rms error", "percent"),
    )


def _design_cells(design: RankedDesign) -> tuple[Cell, ...]:
    return (
        "; ".join(design.items.values()),
        wording.method(design),
        max(design.powers_W),
        design.mass_kg * 1000,
        design.repeats,
        design.price,
        design.minutes,
        design.bias_percent,
        design.standard_uncertainty_percent,
        design.rms_error_percent,
    )


FILE = "plan.xlsx"
"""Name of the workbook."""
SOFT_HYPHEN = "\u00ad"
"""Where a page may break a long heading; a spreadsheet would show it."""


def plan_workbook(plan: Plan, date: str, say: Language = ENGLISH) -> bytes:
    """
    Write every table of a plan into a workbook.

    Parameters
    ----------
    plan : Plan
        The plan.
    date : str
        Date of the workbook, ISO 8601.
    say : Language
        Language of headings.
    """
    tables = (*plan_tables(plan), *search_tables(plan).values())
    named = {table.name: with_units(table, say) for table in tables}
    return xlsx_bytes(tuple(named.values()), date)


def with_units(table: Table, say: Language = ENGLISH) -> Table:
    """Translate the headings of a table and put the unit behind each, after a solidus."""
    return replace(table, columns=tuple(_with_unit(column, say) for column in table.columns))


def _with_unit(column: Column, say: Language) -> Column:
    heading = say.text(column.heading).replace(SOFT_HYPHEN, "")
    return replace(column, heading=f"{heading} / {column.unit_behind}" if column.unit_behind else heading)
