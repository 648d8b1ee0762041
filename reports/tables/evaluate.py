"""Tables of the evaluation report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.tables.plan import sign_table
from reports.tables.tables import Cell, Column, Table, table
from reports.words import compare as wording_compare
from reports.words import rounding
from reports.words.evaluate import (
    AGREES,
    as_typed,
    in_its_unit,
    per_kilogram,
    spread,
    to_place_of,
    with_spread,
)
from reports.words.languages import ENGLISH
from reports.words.names import limit_names, quantity_name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from budget.quantities.inputs import InputQuantity
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.result import Outcome
    from design.evaluation.school import SchoolResult
    from design.sheets.readings import Finding

NO_EFFECT = 1e-4
"""Per cent below which a source is not listed."""


def attempt_table(evaluation: Evaluation) -> Table:
    """Own numbers beside the computed ones, a row a group that gave them."""
    rows: list[tuple[Cell, ...]] = []
    for group in evaluation.groups:
        check = group.attempt
        if check is None:
            continue
        own = check.attempt
        rows.append(
            (
                group.group,
                as_typed(own.value),
                "" if own.uncertainty is None else as_typed(own.uncertainty),
                to_place_of(check.computed, group.result.uncorrected.standard_uncertainty),
                spread(group.school.uncertainty),
                check.difference_percent,
                "none" if check.same else check.step or "not found",
            )
        )
    columns = (
        Column("group", "Group"),
        Column("own", "Own value"),
        Column("own_uncertainty", "Own ±"),
        Column("computed", "E/m from the readings"),
        Column("computed_uncertainty", "± by the school rule"),
        Column("difference_percent", "Own − computed", "signed percent"),
        Column("step", "Step that differs"),
    )
    return table("attempts", "Own numbers and computed ones", columns, rows)


def ways_table(group: GroupEvaluation) -> Table:
    """Ways of reckoning and whether the own value is that."""
    matches = group.attempt.matches if group.attempt else ()
    uncertainty = group.result.uncorrected.standard_uncertainty
    rows = [(match.step, match.detail, to_place_of(match.value, uncertainty)) for match in matches]
    columns = (Column("step", "Step"), Column("detail", "Reckoned with"), Column("value", "Would give"))
    return table("ways", f"Group {group.group}: reckonings that give the own value", columns, rows)


def finding_table(findings: tuple[Finding, ...]) -> Table:
    """Slips seen, in the order of the sheet."""
    rows = [(finding.row or "", finding.column, finding.code, finding.message) for finding in findings]
    columns = (
        Column("row", "Row", "whole"),
        Column("column", "Column"),
        Column("code", "Code"),
        Column("message", "Seen, and likely"),
    )
    return table(
        "warnings",
        "Rows to look at again",
        columns,
        rows,
    )


def result_table(evaluation: Evaluation) -> Table:
    """Values, reference and comparison, a row a group."""
    rows: list[tuple[Cell, ...]] = []
    for group in evaluation.groups:
        best, agreement = group.result.best, group.result.best.agreement
        rows.append(
            (
                group.group,
                per_kilogram(group.result.uncorrected.value, group.result.uncorrected.standard_uncertainty),
                per_kilogram(best.value, best.standard_uncertainty),
                _ends(best),
                per_kilogram(agreement.reference, agreement.reference_uncertainty),
                agreement.difference_percent,
                rounding.significant(agreement.normalised_error, 2),
                rounding.significant(agreement.z_score, 2),
                AGREES[agreement.agrees],
            )
        )
    coverage = rounding.percent_of_share(evaluation.request.coverage)
    columns = (
        Column("group", "Group"),
        Column("uncorrected", "E/m ± u"),
        Column("corrected", "Corrected ± u"),
        Column("interval", f"{coverage} interval"),
        Column("reference", "Reference ± u"),
        Column("difference_percent", "Corrected − reference", "signed percent"),
        Column("normalised_error", "E_n"),
        Column("z_score", "z"),
        Column("verdict", "|E_n| ≤ 1"),
    )
    return table("groups", "Result and reference", columns, rows)


def _ends(outcome: Outcome) -> str:
    """Write an interval to the place of its standard uncertainty."""
    low, high = (rounding.round_together(end / 1e3, outcome.standard_uncertainty / 1e3)[0] for end in outcome.interval)
    return f"{low} to {high}{rounding.THIN}kJ/kg"


def school_table(group: GroupEvaluation) -> Table:
    """Every preset of school rules, and the full uncertainty under them."""
    rows: list[tuple[Cell, ...]] = [_school_row(result) for result in _each_once(group)]
    for name, outcome, agreement in (
        ("readings alone, JCGM 100", group.result.uncorrected, group.result.uncorrected.agreement),
        ("losses taken off, JCGM 100", group.result.best, group.result.best.agreement),
    ):
        rows.append(
            (
                name,
                per_kilogram(outcome.value, outcome.propagation.expanded_uncertainty),
                100.0 * outcome.propagation.expanded_uncertainty / outcome.value,
                agreement.difference_percent,
                AGREES[agreement.agrees],
            )
        )
    columns = (
        Column("rules", "Rules"),
        Column("value", "L"),
        Column("uncertainty_percent", "±", "percent"),
        Column("difference_percent", "L − reference", "signed percent"),
        Column("verdict", "By its own rule"),
    )
    return table("school", f"Group {group.group}: the same readings by different rules", columns, rows)


def _each_once(group: GroupEvaluation) -> list[SchoolResult]:
    found = {group.school.rules.name: group.school}
    for result in group.presets:
        found.setdefault(result.rules.name, result)
    return list(found.values())


def _school_row(result: SchoolResult) -> tuple[Cell, ...]:
    value = per_kilogram(result.value, result.uncertainty, result.rules.figures)
    return result.rules.name, value, result.percent, result.difference_percent, AGREES[result.agrees]


def rules_table(result: SchoolResult) -> Table:
    """Rules of a profile with their sources."""
    rules = result.rules
    words = {
        "reading": rules.reading, "difference": f"{rules.readings_in_difference} readings", "repeats": rules.repeats,
        "combine": rules.combine, "gradient": rules.gradient, "figures": f"{rules.figures} significant",
        "agreement": rules.agreement,
    }  # fmt: skip
    rows = [(ENGLISH.text(f"rule_part.{part}"), words[part], source) for part, source in rules.sources.items()]
    columns = (Column("of", "Uncertainty of"), Column("rule", "Rule"), Column("source", "Source"))
    return table("rules", f"Rules “{rules.name}”", columns, rows)


def source_table(group: GroupEvaluation) -> Table:
    """Every source: what it does to the uncorrected value, what it adds to the uncertainty, and its kind."""
    reference = group.result.used.reference
    propagation = group.result.best.propagation
    rows: list[tuple[Cell, ...]] = []
    for quantity, pushes in pushes_of(group):
        contribution = 100.0 * abs(propagation.contributions[quantity.symbol]) / reference
        if abs(pushes) < NO_EFFECT and contribution < NO_EFFECT:
            continue
        direction = "" if abs(pushes) < NO_EFFECT else "too high" if pushes > 0 else "too low"
        rows.append(
            (
                quantity_name(quantity.name),
                pushes if direction else None,
                direction or "either way",
                contribution,
                100.0 * propagation.variance_shares[quantity.symbol],
                "random" if quantity.scatter else "systematic",
            )
        )
    rows.sort(key=lambda row: -max(abs(float(row[1] or 0.0)), float(row[3] or 0.0)))
    columns = (
        Column("quantity", "Source"),
        Column("pushes_percent", "Does to E/m", "signed percent"),
        Column("direction", "Makes E/m"),
        Column("uncertainty_percent", "Standard uncertainty of L", "percent"),
        Column("share_percent", "Share of the variance", "percent"),
        Column("kind", "Kind"),
    )
    return table("sources", f"Group {group.group}: sources on this bench", columns, rows)


def left_out_table(group: GroupEvaluation) -> Table:
    """Sources that no reading shows, so that a school rule leaves them out."""
    whole = source_table(group)
    place = [column.key for column in whole.columns].index("kind")
    kept = [row for row in whole.rows if row[place] == "systematic"]
    columns = ("quantity", "pushes_percent", "uncertainty_percent")
    caption = f"Group {group.group}: in the full uncertainty, not in the school rule"
    return table("left_out", caption, whole.columns, kept).only(columns)


def pushes_of(group: GroupEvaluation) -> Iterator[tuple[InputQuantity, float]]:
    """Uncertain inputs of the corrected value with what each, as expected, does to the uncorrected one. [%]."""
    model, reference = group.result.best.model, group.result.used.reference
    at_estimates = model.at_estimates()
    for quantity in model.inputs:
        if quantity.neutral is None:
            continue
        value = float(model.program.evaluate({**model.estimates, quantity.symbol: quantity.neutral}))
        yield quantity, 100.0 * (value - at_estimates) / reference


def budget_table(group: GroupEvaluation) -> Table:
    """Uncertainty budget in the columns of EA-4/02."""
    outcome = group.result.best
    rows: list[tuple[Cell, ...]] = [
        (
            quantity.symbol.removesuffix("_est"),
            quantity_name(quantity.name),
            quantity.distribution.mean,
            quantity.distribution.standard_uncertainty,
            quantity.unit,
            quantity.distribution.describe(),
            outcome.propagation.sensitivity_coefficients[quantity.symbol],
            outcome.propagation.contributions[quantity.symbol],
            100.0 * outcome.propagation.variance_shares[quantity.symbol],
            quantity.source,
        )
        for quantity in outcome.model.inputs
    ]
    rows.append(
        ("L", outcome.model.name, outcome.value, outcome.standard_uncertainty, "J/kg", "", None,
         outcome.standard_uncertainty, 100.0, "")
    )  # fmt: skip
    columns = (
        Column("symbol", "Symbol", "symbol"),
        Column("quantity", "Quantity"),
        Column("estimate", "Estimate", "significant", digits=5),
        Column("standard_uncertainty", "Standard uncertainty", "significant", digits=2),
        Column("unit", "Unit"),
        Column("distribution", "Distribution"),
        Column("sensitivity_coefficient", "Sensitivity coefficient", "significant"),
        Column("contribution_J_per_kg", "Contribution", "significant", "J/kg", 2),
        Column("share_percent", "Share", "percent"),
        Column("source", "Evidence"),
    )
    caption = f"Group {group.group}: uncertainty budget of the corrected value"
    return table("budget", caption, columns, rows).rounded_by("estimate", "standard_uncertainty")


def account_table(group: GroupEvaluation) -> Table:
    """Each source before and after the readings."""
    rows: list[tuple[Cell, ...]] = [
        (
            quantity_name(account.quantity),
            with_spread(account, account.prior_mean, account.prior_uncertainty),
            with_spread(account, account.mean, account.standard_uncertainty),
            100.0 * account.effect / group.result.used.reference,
            None if account.alone is None else in_its_unit(account, account.alone),
            100.0 * account.chance,
        )
        for account in (group.explanation.accounts if group.explanation else ())
    ]
    columns = (
        Column("quantity", "Source"),
        Column("before", "Before the readings"),
        Column("after", "After the readings"),
        Column("effect_percent", "Its change does to L", "signed percent"),
        Column("alone", "Alone it would have to be"),
        Column("chance_percent", "Chance of that", "percent"),
    )
    return table("accounts", f"Group {group.group}: sources before and after the readings", columns, rows)


def improvement_table(evaluation: Evaluation) -> Table:
    """Each change with the error before and after."""
    rows: list[tuple[Cell, ...]] = [
        (
            wording_compare.improvement(one.key),
            one.bias_percent[0],
            one.bias_percent[1],
            one.rms_error_percent[0],
            one.rms_error_percent[1],
            one.price,
            limit_names(one.obstacles),
        )
        for one in evaluation.improvements
    ]
    columns = (
        Column("change", "Change"),
        Column("bias_before_percent", "Bias before", "signed percent"),
        Column("bias_after_percent", "Bias after", "signed percent"),
        Column("rms_before_percent", "Rms error before", "percent"),
        Column("rms_after_percent", "Rms error after", "percent"),
        Column("price", "Price", "money", evaluation.bench.purse.currency),
        Column("obstacles", "Stands in its way"),
    )
    return table("improvements", "Changes: before and after, the value as it is reckoned today", columns, rows)


def class_table(evaluation: Evaluation) -> Table:
    """Numbers of the class."""
    view = evaluation.classroom
    rows: list[tuple[Cell, ...]] = []
    if view is not None:
        rows = [
            ("pooled value ± u", per_kilogram(view.pooled, view.pooled_uncertainty)),
            ("part of u that all groups share", spread(view.common_uncertainty)),
            ("spread between groups, seen", spread(view.observed_spread)),
            ("spread between groups, expected from the readings", spread(view.expected_spread)),
            (
                "chi-squared over degrees of freedom",
                f"{rounding.significant(view.chi_squared, 2)} / {view.degrees_of_freedom}",
            ),
            ("groups far from the rest", ", ".join(view.outliers) or "none"),
        ]
    return table("classroom", "The class", (Column("what", "Quantity"), Column("value", "Value")), rows)


def marks_table(group: GroupEvaluation) -> Table:
    """Energy, mass and time at each mark."""
    rows: list[tuple[Cell, ...]] = []
    for level in group.result.measured.levels:
        for run in level:
            for index, marks in enumerate(run.readings):
                time = None if run.time is None else float(run.time[index])
                rows.append(
                    (marks[0].row, run.name, marks[0].mark or str(index), float(run.energy[index]) / 1e3,
                     1e3 * float(run.mass[index]), time)
                )  # fmt: skip
    columns = (
        Column("row", "Row", "whole"),
        Column("run", "Run"),
        Column("mark", "Mark"),
        Column("energy_kJ", "Energy", "significant", "kJ", 5),
        Column("mass_g", "Boiled away", "significant", "g", 5),
        Column("time_s", "Time", "significant", "s", 5),
    )
    return table("marks", f"Group {group.group}: since the first mark of each run", columns, rows)


def direction_table() -> Table:
    """Cause and direction of each effect, without the reasons."""
    whole = sign_table()
    return whole.only([column.key for column in whole.columns[:2]])
