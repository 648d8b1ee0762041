"""The budget report: the uncertainty budget of any measurement equation on one page."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reports.figures.distribution import distribution
from reports.pages.budget_tables import ROUNDED, contributions, inputs_table, share_name
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


FURTHER = ("first_order_percent", "uncertainty_without", "source")
"""Columns that stand in a table of their own."""
FURTHER_CAPTION = "First-order share, standard uncertainty of the measurand without the input, and source"
METHODS = {"quasi": "quasi-random draws", "plain": "random draws", "adaptive": "random draws until stable"}
"""What the methods of the simulation are called."""
MANY = 10_000
"""Effective degrees of freedom from which they are called infinite."""


def budget_page(report: BudgetReport, file: BudgetFile, seed: int, origin: Origin) -> str:
    """
    Write the budget report.

    Parameters
    ----------
    report : BudgetReport
        What was worked out.
    file : BudgetFile
        The file it was worked out from.
    seed : int
        Seed of the simulation.
    origin : Origin
        Version and date to print.

    Returns
    -------
    str
        One HTML document that loads nothing.
    """
    whole = inputs_table(report)
    further = whole.only(["quantity", *FURTHER]).rows[:-1]
    values: dict[str, Any] = {
        "origin": origin,
        "title": report.model.name or report.model.symbol,
        "invented": ENGLISH.text("budget_page.invented") if file.scenario == "invented" else "",
        "statement": statement(report),
        "facts": facts(report),
        "notes": tuple(note for note in (file.note, *report.notes) if note and note != report.validation.sentence()),
        "figures": {"distribution": distribution(report), "contributions": contributions(report)},
        "tables": {
            "budget": whole.only([key for key in telling(whole) if key not in FURTHER]).rounded_by(*ROUNDED),
            "further": replace(whole.only(["quantity", *FURTHER]), caption=FURTHER_CAPTION, rows=further),
            "correlations": correlation_table(report.model),
        },
        "formulas": formulas(report.model),
        "equations": equations(report.model),
        "computed": (
            ("Program", f"boiloff {origin.version}, {origin.date}"),
            ("File", file.path),
            (
                "Simulation",
                f"{METHODS[report.simulation.method]}, seed {seed}, "
                f"{rounding.grouped(str(report.simulation.trials))} trials",
            ),
            ("Shares", f"The shares are each a {share_name(report)}."),
        ),
    }
    return page("budget.html", values)


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

    Where propagation is not valid, the result of the simulation is given instead (JCGM 101, 8.1.3).
    """
    found, simulated, unit = report.propagation, report.simulation, report.model.unit
    if not report.validation.valid:
        spread = spread_of(report)
        return ENGLISH.text(
            "budget_page.statement_simulated",
            symbol=report.model.symbol,
            value=rounding.round_together(simulated.estimate, spread)[0] + behind(unit),
            uncertainty=rounding.in_unit(spread, unit, 2),
            coverage=rounding.percent_of_share(report.coverage),
            ends=ends(simulated.interval_symmetric, spread, unit),
        )
    value = rounding.with_uncertainty(found.estimate, found.expanded_uncertainty, unit)
    return ENGLISH.text(
        "budget_page.statement",
        symbol=report.model.symbol,
        value=value,
        coverage=rounding.percent_of_share(report.coverage),
        factor=rounding.significant(found.coverage_factor, 3),
    )


def facts(report: BudgetReport) -> tuple[tuple[str, str], ...]:
    """Put propagation and simulation side by side, as pairs of label and text."""
    found, simulated, unit = report.propagation, report.simulation, report.model.unit
    order = "first order" if found.order == 1 else "second order"
    dof = rounding.significant(found.effective_dof, 3) if found.effective_dof < MANY else "infinite"
    spread = spread_of(report)
    return (
        (
            f"Propagation ({order})",
            f"{value_and_spread(found.estimate, found.standard_uncertainty, unit)}; effective degrees of freedom "
            f"{dof}, coverage factor {rounding.significant(found.coverage_factor, 3)}; expanded uncertainty "
            f"{rounding.significant(found.expanded_uncertainty, 2)}{behind(unit)}; interval "
            f"{ends(found.interval, found.standard_uncertainty, unit)}",
        ),
        (
            "Simulation",
            f"{value_and_spread(simulated.estimate, spread, unit)}; symmetric interval "
            f"{ends(simulated.interval_symmetric, spread, unit)}; "
            f"shortest {ends(simulated.interval_shortest, spread, unit)}",
        ),
        ("Do they agree?", report.validation.sentence()),
    )


def value_and_spread(value: float, spread: float, unit: str) -> str:
    """Write a value and its standard uncertainty without ±, which is for intervals (JCGM 100, 7.2.2, note)."""
    rounded = rounding.round_together(value, spread)[0] + behind(unit)
    return f"{rounded}, standard uncertainty {rounding.significant(spread, 2)}{behind(unit)}"


def spread_of(report: BudgetReport) -> float:
    """
    Standard uncertainty of the simulation, to whose place its numbers are rounded.

    Where the distribution has none, a quarter of the interval stands for it.
    """
    simulated = report.simulation
    if rounding.finite(simulated.standard_uncertainty):
        return simulated.standard_uncertainty
    return (simulated.interval_symmetric[1] - simulated.interval_symmetric[0]) / 4


def behind(unit: str) -> str:
    """Write a unit to stand behind a number."""
    return rounding.THIN + rounding.spelled(unit) if unit else ""


def ends(interval: tuple[float, float], spread: float, unit: str) -> str:
    """Write the ends of an interval to the place of a standard uncertainty."""
    low, high = (rounding.round_together(end, spread)[0] for end in interval)
    return f"{low} to {high}{behind(unit)}"


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
