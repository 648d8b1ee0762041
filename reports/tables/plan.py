"""The tables of a plan: what stands in the page, in CSV files and beside the figures."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from reports.tables.files import xlsx_bytes
from reports.tables.search import search_tables
from reports.tables.tables import Cell, Column, Table, listed, table
from reports.tables.walk import effect_steps, walk
from reports.words import items as wording_items
from reports.words import plan as wording
from reports.words.languages import ENGLISH, Language
from reports.words.names import distribution_words, limit_name, quantity_name, source_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from design.chosen import Design
    from design.search.plan import ErrorMap, Plan, RankedDesign, Source
    from reports.tables.tables import Table
    from reports.tables.walk import Step


def step_table(steps: Sequence[Step], true_value: float, name: str = "walk", say: Language = ENGLISH) -> Table:
    """Table of the walk from the true to the expected value, with the running total."""
    _ = say.text
    rows: list[tuple[Cell, ...]] = [(_("word.true_value"), "", None, 0.0, true_value / 1000)]
    reached = 0.0
    for step in steps:
        reached += step.percent
        rows.append((step.name, step.symbol, step.percent, reached, true_value * (1 + reached / 100) / 1000))
    return table(
        name,
        _("table.walk_true_expected"),
        (
            Column("effect", _("word.effect")),
            Column("symbol", _("table.symbol"), "symbol"),
            Column("step_percent", _("table.step"), "signed percent"),
            Column("reached_percent", _("table.error_so_far"), "signed percent"),
            Column("reached_kJ_per_kg", _("table.value_so_far"), "significant", "kJ/kg", 5),
        ),
        rows,
        say,
    )


def budget_table(design: RankedDesign, name: str = "budget", say: Language = ENGLISH) -> Table:
    """Uncertainty budget: one row an input quantity, in the columns of EA-4/02 and with share and evidence."""
    _ = say.text
    return listed(
        name,
        _("table.uncertainty_budget_one_row"),
        design.sources,
        (
            Column("quantity", _("table.quantity"), cell=lambda one: quantity_name(one.quantity, say)),
            Column("symbol", _("table.symbol"), "symbol"),
            Column("estimate", _("table.estimate"), "significant", "", 4),
            Column("standard_uncertainty", _("table.standard_uncertainty"), "significant", "", 2),
            Column("unit", _("table.unit")),
            Column("distribution", _("table.distribution"), cell=lambda one: distribution_words(one.distribution, say)),
            Column(
                "sensitivity_coefficient_J_per_kg",
                _("table.sensitivity_coefficient_j"),
                "significant",
                cell=lambda one: one.sensitivity_coefficient,
            ),
            Column(
                "contribution_percent",
                _("table.contribution"),
                "percent",
                cell=lambda one: one.standard_uncertainty_percent,
            ),
            Column("bias_percent", _("word.bias"), "signed percent"),
            Column("share_percent", _("table.share"), "percent", cell=lambda one: one.share * 100),
            Column(
                "averaged_by_repeats",
                _("table.averaged_repeats"),
                cell=lambda one: _("word.yes") if one.scatter else _("word.no"),
            ),
            Column("evidence", _("table.evidence"), cell=lambda one: source_words(one.evidence, say)),
        ),
        say,
    )


def share_table(sources: Sequence[Source], name: str = "sources", say: Language = ENGLISH) -> Table:
    """Sources ranked by share, with the interval of the share, size and sign of the bias."""
    _ = say.text
    return listed(
        name,
        _("table.sources_ranked_share"),
        sources,
        (
            Column("quantity", _("word.source"), cell=lambda one: quantity_name(one.quantity, say)),
            Column("share_percent", _("table.share"), "percent", cell=lambda one: one.share * 100),
            Column(
                "share_low_percent",
                _("table.share_from"),
                "percent",
                cell=lambda one: max(one.share_interval[0], 0.0) * 100,
            ),
            Column("share_high_percent", _("table.share_to"), "percent", cell=lambda one: one.share_interval[1] * 100),
            Column("standard_uncertainty_percent", _("table.contribution_to_u"), "percent"),
            Column("bias_percent", _("word.bias"), "signed percent"),
            Column(
                "pushes", _("table.pushes_result"), cell=lambda one: say.text(f"push.{direction(one.bias_percent)}")
            ),
        ),
        say,
    )


def bias_table(
    steps: Iterable[Step], sources: Iterable[Source], name: str = "biases", say: Language = ENGLISH
) -> Table:
    """Effects in the order of what they do to the readings, with what is left of each after the correction."""
    _ = say.text
    left = {source.symbol: source for source in sources}
    rows: list[tuple[Cell, ...]] = []
    for step in sorted(steps, key=lambda step: (-abs(step.percent), step.symbol)):
        source = left.get(step.symbol)
        after = (source.bias_percent, source.share * 100) if source else (0.0, None)
        rows.append((step.name, step.percent, say.text(f"push.{direction(step.percent)}"), *after))
    return table(
        name,
        _("table.effects_order_size"),
        (
            Column("quantity", _("word.effect")),
            Column("readings_bias_percent", _("table.bias_readings"), "signed percent"),
            Column("pushes", _("table.pushes_readings")),
            Column("bias_percent", _("table.left_after_correction"), "signed percent"),
            Column("share_percent", _("word.share_variance"), "percent"),
        ),
        rows,
        say,
    )


def direction(bias_percent: float) -> str:
    """Key of the way in which a bias pushes the result; below 0.005 % neither."""
    if abs(bias_percent) < wording.NO_BIAS:
        return "neither_way"
    return "too_high" if bias_percent > 0 else "too_low"


def ranking_table(plan: Plan, name: str = "ranking", say: Language = ENGLISH) -> Table:
    """Ranking: the best setting of each kit, procedure and correction."""
    _ = say.text
    return table(
        name,
        _("table.ranking_best_setting"),
        (
            Column("rank", _("table.rank"), "whole"),
            *_design_columns(plan, say),
            Column("within_margin_percent", _("table.nearly_best"), "percent"),
            Column("regret_percent", _("table.regret"), "percent"),
        ),
        [
            (rank, *_design_cells(design, say), design.within_margin_probability * 100, design.regret_percent)
            for rank, design in enumerate(plan.ranking, start=1)
        ],
        say,
    )


def frontier_table(plan: Plan, name: str = "frontier", say: Language = ENGLISH) -> Table:
    """Frontier: the smallest error for the money, cheapest first, and what each step buys."""
    _ = say.text
    return table(
        name,
        _("table.what_each_step"),
        (
            Column("step", _("table.step"), "whole"),
            Column("price", _("word.price"), "money", plan.currency),
            Column("rms_error_percent", _("objective.rms_error"), "percent"),
            Column("buy", _("word.to_buy")),
            Column("procedure", _("table.procedure")),
            Column("minutes", _("table.time"), "minutes"),
        ),
        [
            (
                step,
                ranked.design.price,
                ranked.rms_error_percent,
                wording_items.bought_names(ranked.design) or _("word.nothing"),
                wording.method(ranked.design, say),
                ranked.design.minutes,
            )
            for step, ranked in enumerate(plan.frontier, start=1)
        ],
        say,
    )


def by_number(rejected: Mapping[str, int], say: Language = ENGLISH) -> list[tuple[str, int]]:
    """Name the limits that combinations break first, the commonest first."""
    return sorted(
        ((limit_name(key, say), number) for key, number in rejected.items()), key=lambda one: (-one[1], one[0])
    )


def rejected_table(plan: Plan, name: str = "rejected", say: Language = ENGLISH) -> Table:
    """Numbers of combinations rejected, the commonest reason first."""
    _ = say.text
    ordered = by_number(plan.rejected, say)
    return table(
        name,
        _("table.combinations_rejected_first"),
        (Column("reason", _("table.limit")), Column("combinations", _("word.combinations"), "whole")),
        ordered,
        say,
    )


def time_table(design: Design, name: str = "time_table", say: Language = ENGLISH) -> Table:
    """Stages of the lesson with their minutes."""
    _ = say.text
    rows: list[tuple[Cell, ...]] = [(say.name("stage", stage), length) for stage, length in design.time_table]
    return table(
        name,
        _("table.time_table_lesson"),
        (Column("stage", _("table.stage")), Column("minutes", _("table.time"), "minutes")),
        [*rows, (_("word.together"), design.minutes)],
        say,
    )


def shopping_table(plan: Plan, design: Design, name: str = "shopping", say: Language = ENGLISH) -> Table:
    """What has to be bought for all groups."""
    _ = say.text
    return table(
        name,
        _("word.to_buy"),
        (
            Column("role", _("table.what_for")),
            Column("item", _("word.item")),
            Column("number", _("word.number"), "whole"),
            Column("price", _("word.price"), "money", plan.currency),
        ),
        [(wording_items.role(part, say), item, number, price) for part, item, number, price in design.buy],
        say,
    )


SIGNS = (
    ("heat_lost", "too_high"),
    ("running_back", "too_high"),
    ("restart", "too_high"),
    ("warming", "too_high"),
    ("flex", "too_high"),
    ("buoyancy", "too_high"),
    ("carry_over", "too_low"),
    ("stem", "too_low"),
    ("early_evaporation", "too_low"),
    ("meter", "either_way"),
    ("balance", "either_way"),
    ("counting", "either_way"),
    ("nameplate", "either_way"),
)
"""Effects by their keys, and which way each pushes the uncorrected value."""


def sign_table(name: str = "signs", say: Language = ENGLISH) -> Table:
    """Which way each effect pushes the uncorrected value."""
    _ = say.text
    return table(
        name,
        _("table.direction_each_effect"),
        (
            Column("effect", _("word.effect")),
            Column("makes_L", _("table.makes_L")),
            Column("because", _("word.because")),
        ),
        [
            (say.text(f"sign.{sign}.effect"), say.text(f"push.{push}"), say.text(f"sign.{sign}.because"))
            for sign, push in SIGNS
        ],
        say,
    )


def map_table(error_map: ErrorMap, objective: str, name: str = "error_map", say: Language = ENGLISH) -> Table:
    """The error map as rows of mass, power, error and the limit that is broken."""
    _ = say.text
    rows = [
        (
            float(step) * 1000,
            float(power),
            None if error_map.limit[i, j] else float(error_map.objective_percent[i, j]),
            limit_name(str(error_map.limit[i, j]), say) if error_map.limit[i, j] else _("word.none"),
        )
        for i, step in enumerate(error_map.masses_kg)
        for j, power in enumerate(error_map.powers_W)
    ]
    return table(
        name,
        _("table.error_recommended_kit"),
        (
            Column("mass_g", _("table.mass_step"), "significant", "g"),
            Column("power_W", _("table.power"), "significant", "W", 4),
            Column("objective_percent", wording.objective(objective, say), "percent"),
            Column("limit", _("table.limit_broken")),
        ),
        rows,
        say,
    )


def plan_tables(plan: Plan, say: Language = ENGLISH) -> tuple[Table, ...]:
    """List every table that goes into a file of its own."""
    if plan.recommended is None:
        return ()
    ranked = plan.recommended
    found = [
        step_table(walk(ranked, plan.model, say), plan.latent_heat, say=say),
        share_table(ranked.sources, say=say),
        bias_table(effect_steps(ranked, plan.model, say), ranked.sources, say=say),
        budget_table(ranked, say=say),
        ranking_table(plan, say=say),
        frontier_table(plan, say=say),
        rejected_table(plan, say=say),
        time_table(ranked.design, say=say),
        shopping_table(plan, ranked.design, say=say),
        sign_table(say=say),
    ]
    if plan.error_map is not None:
        found.append(map_table(plan.error_map, plan.objective, say=say))
    return tuple(found)


def _design_columns(plan: Plan, say: Language) -> tuple[Column, ...]:
    _ = say.text
    return (
        Column("kit", _("word.kit")),
        Column("procedure", _("table.procedure")),
        Column("power_W", _("table.power"), "significant", "W", 4),
        Column("mass_g", _("word.mass"), "significant", "g"),
        Column("repeats", _("table.runs"), "whole"),
        Column("price", _("word.price"), "money", plan.currency),
        Column("minutes", _("table.time"), "minutes"),
        Column("bias_percent", _("word.bias"), "signed percent"),
        Column("standard_uncertainty_percent", _("table.standard_uncertainty"), "percent"),
        Column("rms_error_percent", _("objective.rms_error"), "percent"),
    )


def _design_cells(ranked: RankedDesign, say: Language) -> tuple[Cell, ...]:
    design = ranked.design
    return (
        "; ".join(design.items.values()),
        wording.method(design, say),
        max(design.powers),
        design.mass * 1000,
        design.repeats,
        design.price,
        design.minutes,
        ranked.bias_percent,
        ranked.standard_uncertainty_percent,
        ranked.rms_error_percent,
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
        Language of headings and words.
    """
    tables = (*plan_tables(plan, say), *search_tables(plan, say).values())
    return xlsx_bytes([with_units(table) for table in tables], date)


def with_units(table: Table) -> Table:
    """Put the unit of each column behind its heading, after a solidus."""
    return replace(table, columns=tuple(_with_unit(column) for column in table.columns))


def _with_unit(column: Column) -> Column:
    heading = column.heading.replace(SOFT_HYPHEN, "")
    return replace(column, heading=f"{heading} / {column.unit_behind}" if column.unit_behind else heading)
