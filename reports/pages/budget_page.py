"""The budget report: the uncertainty budget of any measurement equation on one page."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reports.figures.canvas import Figure, ShareBar, figure, share_rows
from reports.figures.distribution import distribution
from reports.pages.plan_page import equations, formulas
from reports.rendering import page
from reports.tables.tables import Column, Table, table
from reports.words import rounding
from reports.words.languages import ENGLISH

if TYPE_CHECKING:
    from budget.budget_file import BudgetFile
    from budget.model.measurement import MeasurementModel
    from budget.report import BudgetReport
    from reports.rendering import Origin


NO_BREAK = "\u00a0"
"""Space inside a unit."""
ROUNDED = ("estimate", "standard_uncertainty")
"""Columns whose numbers are rounded together where people read them."""
SHOWN = 10
"""Most contributions drawn."""
FURTHER = ("first_order_percent", "uncertainty_without", "source", "certificate", "calibration_date")
"""Columns that stand in a table of their own."""
FURTHER_CAPTION = "First-order share, standard uncertainty of the measurand without the input, and what it rests on"
CAPTION = "Uncertainty budget, ranked by share; the last row is the measurand"
MANY = 10_000
"""Effective degrees of freedom from which they are called infinite."""


def budget_page(report: BudgetReport, file: BudgetFile, seed: int, origin: Origin) -> str:
    """Write the budget report, worked out from a file with a seed, as one HTML document that loads nothing."""
    whole = inputs_table(report)
    shown = [key for key in telling(whole) if key in FURTHER]
    further = whole.only(["quantity", *shown]).rows[:-1]
    values: dict[str, Any] = {
        "origin": origin,
        "title": report.model.name or report.model.symbol,
        "invented": ENGLISH.text("budget_page.invented") if file.scenario == "invented" else "",
        "statement": statement(report),
        "columns": ENGLISH.text("budget_page.columns"),
        "facts": facts(report),
        "notes": tuple(note for note in (file.note, *report.notes) if note and note != report.validation.sentence()),
        "figures": {"distribution": distribution(report), "contributions": contributions(report)},
        "tables": {
            "budget": for_readers(whole),
            "further": replace(whole.only(["quantity", *shown]), caption=FURTHER_CAPTION, rows=further),
            "correlations": correlation_table(report.model),
        },
        "formulas": formulas(report.model),
        "equations": equations(report.model),
        "computed": (
            ("Program", f"boiloff {origin.version}, {origin.date}"),
            ("File", file.path),
            (
                "Simulation",
                f"quasi-random draws, seed {seed}, {rounding.grouped(str(report.simulation.trials))} trials",
            ),
            ("Shares", f"The shares are each a {share_name(report)}."),
        ),
    }
    return page("budget.html", values)


def for_readers(whole: Table) -> Table:
    """Return the budget as people read it: what tells something, rounded, degrees of freedom without limit as ∞."""
    place = [column.key for column in whole.columns].index("degrees_of_freedom")
    rows = tuple(
        tuple("∞" if k == place and cell is None else cell for k, cell in enumerate(row)) for row in whole.rows
    )
    keys = [key for key in telling(whole) if key not in FURTHER or key == "degrees_of_freedom"]
    return replace(whole, rows=rows).only(keys).rounded_by(*ROUNDED)


def telling(whole: Table) -> tuple[str, ...]:
    """Keys of the columns that tell something: not empty, and no name that only repeats the symbol."""
    columns = dict(zip((column.key for column in whole.columns), zip(*whole.rows, strict=True), strict=True))
    return tuple(
        key
        for key, cells in columns.items()
        if any(cell not in (None, "") for cell in cells) and not (key == "quantity" and cells == columns["symbol"])
    )


def statement(report: BudgetReport) -> str:
    """
    Give the result as JCGM 100, 7.2 has it: value, expanded uncertainty, unit, coverage factor and probability.

    Where propagation does not stand, the result of the simulation is given instead (JCGM 101, 8.1.3), by its median
    where its distribution has no mean or no standard deviation.
    """
    found, simulated, unit = report.propagation, report.simulation, report.model.unit
    if not report.validation.propagation_stands:
        return ENGLISH.text(
            "budget_page.statement_median" if simulated.reason else "budget_page.statement_simulated",
            symbol=report.model.symbol,
            value=rounding.round_together(centre_of(report), simulated.spread)[0] + rounding.behind(unit),
            uncertainty=rounding.significant(simulated.spread, 2) + rounding.behind(unit),
            coverage=rounding.percent_of_share(report.coverage),
            ends=ends(simulated.interval_symmetric, simulated.spread, unit),
        )
    value = rounding.with_uncertainty(found.estimate, found.expanded_uncertainty, unit)
    return ENGLISH.text(
        "budget_page.statement" if found.effective_dof >= MANY else "budget_page.statement_t",
        symbol=report.model.symbol,
        value=value,
        coverage=rounding.percent_of_share(report.coverage),
        factor=rounding.significant(found.coverage_factor, 3),
        dof=degrees(found.effective_dof),
    )


def degrees(dof: float) -> str:
    """Write effective degrees of freedom as the coverage factor takes them: whole, rounded down (JCGM 100, G.4.1)."""
    if dof >= MANY:
        return "infinite"
    return rounding.fixed(math.floor(round(dof, 1)), 0) if dof >= 1.0 else rounding.significant(dof, 2)


def centre_of(report: BudgetReport) -> float:
    """Mean of the simulation, or its median where its distribution lacks mean or standard deviation."""
    return report.simulation.median if report.simulation.reason else report.simulation.estimate


def facts(report: BudgetReport) -> tuple[tuple[str, str], ...]:
    """Put propagation and simulation side by side, as pairs of label and text."""
    found, simulated, unit = report.propagation, report.simulation, report.model.unit
    order = "first order" if found.order == 1 else "second order"
    dof = degrees(found.effective_dof)
    spread = simulated.spread
    centre = (
        f"median {rounding.round_together(simulated.median, spread)[0]}{rounding.behind(unit)}"
        if simulated.reason
        else value_and_spread(simulated.estimate, spread, unit)
    )
    return (
        (
            f"Propagation ({order})",
            f"{value_and_spread(found.estimate, found.standard_uncertainty, unit)}; effective degrees of freedom "
            f"{dof}, coverage factor {rounding.significant(found.coverage_factor, 3)}; expanded uncertainty "
            f"{rounding.significant(found.expanded_uncertainty, 2)}{rounding.behind(unit)}; interval "
            f"{ends(found.interval, found.standard_uncertainty, unit)}",
        ),
        (
            "Simulation",
            f"{centre}; symmetric interval {ends(simulated.interval_symmetric, spread, unit)}; "
            f"shortest {ends(simulated.interval_shortest, spread, unit)}",
        ),
        ("Do they agree?", report.validation.sentence()),
    )


def value_and_spread(value: float, spread: float, unit: str) -> str:
    """Write a value and its standard uncertainty without ±, which is for intervals (JCGM 100, 7.2.2, note)."""
    rounded = rounding.round_together(value, spread)[0] + rounding.behind(unit)
    return f"{rounded}, standard uncertainty {rounding.significant(spread, 2)}{rounding.behind(unit)}"


def ends(interval: tuple[float, float], spread: float, unit: str) -> str:
    """Write the ends of an interval to the place of a standard uncertainty."""
    low, high = (rounding.round_together(end, spread)[0] for end in interval)
    return f"{low} to {high}{rounding.behind(unit)}"


def correlation_table(model: MeasurementModel) -> Table:
    """List the correlated pairs."""
    return table(
        "correlations",
        "Correlated inputs",
        (
            Column("first", "Input"),
            Column("second", "And"),
            Column("coefficient", "Correlation coefficient", "significant"),
        ),
        [(*pair.between, pair.coefficient) for pair in model.correlations],
    )


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
            one["type"] or "",
            one["coverage_factor"],
            one["dof"],
            one["sensitivity_coefficient"],
            one["contribution"],
            _percent(_share(one)),
            _percent(one["sobol_first"]),
            one["uncertainty_without"],
            one["source"],
            one["certificate"] or "",
            one["calibration_date"] or "",
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
        "",
        found.coverage_factor,
        found.effective_dof if rounding.finite(found.effective_dof) else None,
        None,
        found.standard_uncertainty,
        None,
        None,
        None,
        "",
        "",
        "",
    )
    written = rounding.spelled(unit).replace(" ", NO_BREAK)
    contribution = f"Contribution ({written})" if written else "Contribution"
    return table(
        name,
        CAPTION,
        (
            Column("quantity", "Quantity"),
            Column("symbol", "Symbol", "symbol"),
            Column("estimate", "Estimate", "significant", "", 6),
            Column("standard_uncertainty", "Standard uncertainty", "significant", "", 2),
            Column("unit", "Unit"),
            Column("distribution", "Distribution"),
            Column("type", "Type"),
            Column("coverage_factor", "k", "significant", "", 3),
            Column("degrees_of_freedom", "Degrees of freedom", "significant", "", 4),
            Column("sensitivity_coefficient", "Sensitivity coefficient", "significant", "", 3),
            Column("contribution", contribution, "significant", "", 2),
            Column("share_percent", "Share", "percent"),
            Column("first_order_percent", "First-order share", "percent"),
            Column("uncertainty_without", "u without it", "significant", "", 3),
            Column("source", "Source"),
            Column("certificate", "Certificate"),
            Column("calibration_date", "Date of calibration"),
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
        ShareBar(_label(one), _share(one), note=rounding.in_unit(abs(one["contribution"] or 0.0), unit, 2))
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
