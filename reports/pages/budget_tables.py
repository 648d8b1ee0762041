"""The tables of an uncertainty budget of any measurement equation."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.figures.canvas import Figure, figure
from reports.figures.rows import Share, share_rows
from reports.tables.tables import Column, Table, table
from reports.words import rounding
from reports.words.languages import ENGLISH

if TYPE_CHECKING:
    from budget.report import BudgetReport

NO_BREAK = "\u00a0"
"""Space inside a unit."""
ROUNDED = ("estimate", "standard_uncertainty")
"""Columns whose numbers are rounded together where people read them."""
SHOWN = 10
"""Most contributions drawn."""


def inputs_table(report: BudgetReport, name: str = "budget") -> Table:
    """Uncertainty budget, one row an input quantity, ranked by share; the last row is the measurand."""
    unit = report.model.unit
    rows = [
        (
            one["name"] or one["symbol"],
            one["symbol"],
            one["estimate"],
            one["standard_uncertainty"],
            rounding.spelled(one["unit"]),
            one["distribution"],
            one["dof"],
            one["sensitivity_coefficient"],
            one["contribution"],
            _percent(_share(one)),
            _percent(one["sobol_first"]),
            one["uncertainty_without"],
            one["source"],
        )
        for one in ranked_inputs(report)
    ]
    found = report.propagation
    measurand = (
        report.model.name or report.model.symbol,
        report.model.symbol,
        found.estimate,
        found.standard_uncertainty,
        rounding.spelled(unit),
        "",
        found.effective_dof if rounding.finite(found.effective_dof) else None,
        None,
        found.standard_uncertainty,
        None,
        None,
        None,
        "",
    )
    behind = rounding.spelled(unit).replace(" ", NO_BREAK)
    contribution = f"Contribution ({behind})" if unit else "Contribution"
    return table(
        name,
        "Uncertainty budget, ranked by share; the last row is the measurand",
        (
            Column("quantity", "Quantity"),
            Column("symbol", "Symbol", "symbol"),
            Column("estimate", "Estimate", "significant", "", 6),
            Column("standard_uncertainty", "Standard uncertainty", "significant", "", 2),
            Column("unit", "Unit"),
            Column("distribution", "Distribution"),
            Column("degrees_of_freedom", "Degrees of freedom", "significant", "", 3),
            Column("sensitivity_coefficient", "Sensitivity coefficient", "significant", "", 3),
            Column("contribution", contribution, "significant", "", 2),
            Column("share_percent", "Share", "percent"),
            Column("first_order_percent", "First-order share", "percent"),
            Column("uncertainty_without", "u without it", "significant", "", 3),
            Column("source", "Source"),
        ),
        [*rows, measurand],
    )


def ranked_inputs(report: BudgetReport) -> list[dict[str, Any]]:
    """Inputs as the JSON file has them, the largest share first."""
    inputs: list[dict[str, Any]] = report.to_json_dict()["inputs"]
    return sorted(inputs, key=lambda one: -_share(one))


def contributions(report: BudgetReport) -> Figure:
    """Draw the inputs with the largest shares."""
    shown = [one for one in ranked_inputs(report) if _share(one) > 0][:SHOWN] or ranked_inputs(report)[:1]
    unit = report.model.unit
    bars = [
        Share(_label(one), _share(one), note=rounding.in_unit(abs(one["contribution"] or 0.0), unit, 2))
        for one in shown
    ]
    words = "; ".join(f"{_label(one)} {rounding.percent_of_share(_share(one))}" for one in shown[:6])
    alt = f"Bar chart of the input quantities ranked by their share of the variance: {words}."
    title = ENGLISH.text("sources.share_variance")
    return figure(
        "contributions",
        lambda name, width: share_rows(name, width, bars, title, alt),
        alt,
        f"Bar: {share_name(report)}. Behind it: the contribution |c|·u to the standard uncertainty.",
        inputs_table(report).only(["quantity", "share_percent", "first_order_percent", "contribution"]),
    )


def share_name(report: BudgetReport) -> str:
    """Name what the shares are: they need another method where inputs are correlated."""
    return (
        "share of the variance (Shapley effect; inputs are correlated)"
        if report.shapley is not None
        else "share of the variance (total-order Sobol’ index)"
        if report.sobol is not None
        else "share of the variance (square of the contribution over that of u)"
    )


def _share(one: dict[str, Any]) -> float:
    for key in ("shapley", "sobol_total", "variance_share"):
        if one[key]:
            return float(one[key])
    return 0.0


def _label(one: dict[str, Any]) -> str:
    return f"{one['name']}, {one['symbol']}" if one["name"] else str(one["symbol"])


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share
