"""Tables of the evaluation report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.tables.plan import sign_table
from reports.tables.tables import Cell, Column, Table, listed, table
from reports.words import compare as wording_compare
from reports.words import rounding
from reports.words.attempts import recognised_words, step_name, step_words, way_words
from reports.words.evaluate import (
    as_typed,
    per_kilogram,
    spread,
    to_place_of,
    verdict_text,
)
from reports.words.findings import what_was_found
from reports.words.languages import ENGLISH
from reports.words.names import limit_names, quantity_name, source_words

if TYPE_CHECKING:
    from budget.quantities.inputs import InputQuantity
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.result import Agreement, Outcome
    from design.evaluation.school import SchoolResult
    from design.evaluation.verdict import Verdict
    from design.sheets.readings import Finding

_ = ENGLISH.text

NO_EFFECT = 1e-4
"""Per cent below which a source is not listed."""


def attempt_table(evaluation: Evaluation) -> Table:
    """Own numbers beside the computed ones, a row a group that gave them."""
    given = [group for group in evaluation.groups if group.attempt is not None]
    columns = (
        Column("group", _("word.group")),
        Column("own", _("table.own_value"), cell=lambda a: as_typed(a.attempt.attempt.value)),
        Column(
            "own_uncertainty", _("table.own_uncertainty"), cell=lambda a: _typed_or_empty(a.attempt.attempt.uncertainty)
        ),
        Column(
            "computed",
            _("table.e_m_from_the_readings"),
            cell=lambda a: to_place_of(a.attempt.computed, a.result.uncorrected.standard_uncertainty),
        ),
        Column(
            "computed_uncertainty",
            _("table.uncertainty_by_the_school_rule"),
            cell=lambda a: spread(a.school.uncertainty),
        ),
        Column(
            "difference_percent",
            _("table.own_minus_computed"),
            "signed percent",
            cell=lambda a: a.attempt.difference_percent,
        ),
        Column(
            "step",
            _("table.step_that_differs"),
            cell=lambda a: step_words(a.attempt),
        ),
        Column("recognised", _("table.recognised_as"), cell=lambda a: recognised_words(a.attempt)),
    )
    return listed("attempts", "Own numbers and computed ones", given, columns)


def _typed_or_empty(value: float | None) -> str:
    return "" if value is None else as_typed(value)


def ways_table(group: GroupEvaluation) -> Table:
    """Ways of reckoning that give the own value."""
    uncertainty = group.result.uncorrected.standard_uncertainty
    columns = (
        Column("step", _("table.step"), cell=lambda a: step_name(a.step)),
        Column("detail", _("table.reckoned_with"), cell=way_words),
        Column("value", _("table.would_give"), cell=lambda a: to_place_of(a.value, uncertainty)),
    )
    return listed(
        "ways",
        f"Group {group.group}: reckonings that give the own value",
        group.attempt.matches if group.attempt else (),
        columns,
    )


def finding_table(findings: tuple[Finding, ...]) -> Table:
    """Slips seen, in the order of the sheet."""
    columns = (
        Column("row", _("table.row"), "whole", cell=lambda a: a.row or ""),
        Column("column", _("table.column")),
        Column("code", _("table.code")),
        Column("message", _("table.seen_and_likely"), cell=what_was_found),
    )
    return listed("warnings", "Rows to look at again", findings, columns)


def result_table(evaluation: Evaluation) -> Table:
    """Values, reference and comparison, a row a group."""
    coverage = rounding.percent_of_share(evaluation.request.coverage)
    columns = (
        Column("group", _("word.group")),
        Column("uncorrected", _("table.e_m_uncertainty_u"), cell=lambda a: _with_u(a.result.uncorrected)),
        Column("corrected", _("table.corrected_uncertainty_u"), cell=lambda a: _with_u(a.result.best)),
        Column("interval", f"{coverage} interval", cell=lambda a: _ends(a.result.best)),
        Column("reference", _("table.reference_uncertainty_u"), cell=lambda a: _reference(_best(a))),
        Column(
            "difference_percent",
            _("table.corrected_minus_reference"),
            "signed percent",
            cell=lambda a: _best(a).difference_percent,
        ),
        Column("normalised_error", _("table.e_n"), cell=lambda a: rounding.significant(_best(a).normalised_error, 2)),
        Column("z_score", _("table.z"), cell=lambda a: rounding.significant(_best(a).z_score, 2)),
        Column("verdict", _("table.e_n_at_most_1"), cell=lambda a: verdict_text(a.verdict)),
    )
    return listed("groups", "Result and reference", evaluation.groups, columns)


def _best(group: GroupEvaluation) -> Agreement:
    return group.result.best.agreement


def _reference(agreement: Agreement) -> str:
    return per_kilogram(agreement.reference, agreement.reference_uncertainty)


def _with_u(outcome: Outcome) -> str:
    return per_kilogram(outcome.value, outcome.standard_uncertainty)


def _ends(outcome: Outcome) -> str:
    """Write an interval to the place of its standard uncertainty."""
    low, high = (rounding.round_together(end / 1e3, outcome.standard_uncertainty / 1e3)[0] for end in outcome.interval)
    return f"{low} to {high}{rounding.THIN}kJ/kg"


def school_table(group: GroupEvaluation) -> Table:
    """Every preset of school rules, and the full uncertainty under them."""
    each_once = {result.rules.name: result for result in (*reversed(group.presets), group.school)}
    order = dict.fromkeys(result.rules.name for result in (group.school, *group.presets))
    rows = [_school_row(group, each_once[name]) for name in order]
    rows += [
        _outcome_row("readings alone, JCGM 100", group.result.uncorrected, group.uncorrected_verdict),
        _outcome_row("losses taken off, JCGM 100", group.result.best, group.verdict),
    ]
    columns = (
        Column("rules", _("table.rules")),
        Column("value", _("table.l")),
        Column("uncertainty_percent", _("table.uncertainty"), "percent"),
        Column("difference_percent", _("table.l_minus_reference"), "signed percent"),
        Column("verdict", _("table.by_its_own_rule")),
    )
    return table("school", f"Group {group.group}: the same readings by different rules", columns, rows)


def _school_row(group: GroupEvaluation, result: SchoolResult) -> tuple[Cell, ...]:
    value = per_kilogram(result.value, result.uncertainty, result.rules.figures.digits)
    verdict = verdict_text(group.school_verdict(result))
    return result.rules.name, value, result.percent, result.difference_percent, verdict


def _outcome_row(name: str, outcome: Outcome, verdict: Verdict) -> tuple[Cell, ...]:
    expanded, agreement = outcome.propagation.expanded_uncertainty, outcome.agreement
    percent = 100.0 * expanded / outcome.value
    value = per_kilogram(outcome.value, expanded)
    return name, value, percent, agreement.difference_percent, verdict_text(verdict)


def rules_table(result: SchoolResult) -> Table:
    """Rules of a profile with their sources."""
    rules = result.rules
    words = {
        "reading": rules.reading.rule, "difference": f"{rules.difference.readings} readings",
        "repeats": rules.repeats.rule, "combine": rules.combine.rule, "gradient": rules.gradient.rule,
        "figures": f"{rules.figures.digits} significant", "agreement": rules.agreement.rule,
    }  # fmt: skip
    rows = [(ENGLISH.text(f"rule_part.{part}"), words[part], source) for part, source in rules.sources.items()]
    columns = (
        Column("of", _("table.uncertainty_of")),
        Column("rule", _("table.rule")),
        Column("source", _("word.source")),
    )
    return table("rules", f"Rules “{rules.name}”", columns, rows)


@dataclass(frozen=True)
class UncertainInput:
    """An uncertain input: what it does to E/m [%], what it adds to the uncertainty of L [%], share, and kind."""

    quantity: InputQuantity
    pushes: float
    uncertainty: float
    share: float
    kind: str

    @property
    def direction(self) -> str:
        """Which way it pushes E/m; empty where it hardly does."""
        return "" if abs(self.pushes) < NO_EFFECT else "too high" if self.pushes > 0 else "too low"


def sources_of(group: GroupEvaluation) -> list[UncertainInput]:
    """Inputs of the corrected value that stand for an effect, as expected on the bench."""
    outcome, reference = group.result.best, group.result.used.reference
    model, propagation = outcome.model, outcome.propagation
    at_estimates = model.at_estimates()
    sources = []
    for quantity in model.inputs:
        if quantity.neutral is None:
            continue
        symbol, kind = quantity.symbol, "random" if quantity.scatter else "systematic"
        value = float(model.program.evaluate({**model.estimates, symbol: quantity.neutral}))
        uncertainty = 100.0 * abs(propagation.contributions[symbol]) / reference
        pushes = 100.0 * (value - at_estimates) / reference
        sources.append(UncertainInput(quantity, pushes, uncertainty, propagation.variance_shares[symbol], kind))
    return sources


def source_table(group: GroupEvaluation) -> Table:
    """Every source: what it does to the uncorrected value, what it adds to the uncertainty, and its kind."""
    kept = [one for one in sources_of(group) if one.direction or one.uncertainty >= NO_EFFECT]
    columns = (
        Column("quantity", _("word.source"), cell=lambda a: quantity_name(a.quantity.name)),
        Column(
            "pushes_percent", _("table.does_to_e_m"), "signed percent", cell=lambda a: a.pushes if a.direction else None
        ),
        Column("direction", _("table.makes_e_m"), cell=lambda a: a.direction or "either way"),
        Column("uncertainty_percent", _("table.standard_uncertainty_of_l"), "percent", cell=lambda a: a.uncertainty),
        Column("share_percent", _("word.share_variance"), "percent", cell=lambda a: 100.0 * a.share),
        Column("kind", _("bench.kind")),
    )
    return listed(
        "sources",
        f"Group {group.group}: sources on this bench",
        sorted(kept, key=lambda a: -max(abs(a.pushes) if a.direction else 0.0, a.uncertainty)),
        columns,
    )


def left_out_table(group: GroupEvaluation) -> Table:
    """Sources that no reading shows, so that a school rule leaves them out."""
    whole = source_table(group)
    place = [column.key for column in whole.columns].index("kind")
    kept = [row for row in whole.rows if row[place] == "systematic"]
    columns = ("quantity", "pushes_percent", "uncertainty_percent")
    caption = f"Group {group.group}: in the full uncertainty, not in the school rule"
    return table("left_out", caption, whole.columns, kept).only(columns)


def budget_table(group: GroupEvaluation) -> Table:
    """Uncertainty budget in the columns of EA-4/02."""
    outcome = group.result.best
    propagation = outcome.propagation
    columns = (
        Column("symbol", _("table.symbol"), "symbol", cell=lambda a: a.symbol.removesuffix("_est")),
        Column("quantity", _("table.quantity"), cell=lambda a: quantity_name(a.name)),
        Column("estimate", _("table.estimate"), "significant", digits=5, cell=lambda a: a.distribution.mean),
        Column(
            "standard_uncertainty",
            _("table.standard_uncertainty"),
            "significant",
            digits=2,
            cell=lambda a: a.distribution.standard_uncertainty,
        ),
        Column("unit", _("table.unit")),
        Column("distribution", _("table.distribution"), cell=lambda a: a.distribution.describe()),
        Column(
            "sensitivity_coefficient",
            _("table.sensitivity_coefficient"),
            "significant",
            cell=lambda a: propagation.sensitivity_coefficients[a.symbol],
        ),
        Column(
            "contribution_J_per_kg",
            _("table.contribution"),
            "significant",
            "J/kg",
            2,
            cell=lambda a: propagation.contributions[a.symbol],
        ),
        Column(
            "share_percent", _("table.share"), "percent", cell=lambda a: 100.0 * propagation.variance_shares[a.symbol]
        ),
        Column("source", _("table.evidence"), cell=lambda a: source_words(a.source)),
    )
    inputs = listed(
        "budget", f"Group {group.group}: uncertainty budget of the corrected value", outcome.model.inputs, columns
    )
    own = outcome.standard_uncertainty
    whole = ("L", outcome.model.name, outcome.value, own, "J/kg", "", None, own, 100.0, "")
    rows = (*inputs.rows, whole)
    return table("budget", inputs.caption, inputs.columns, rows).rounded_by("estimate", "standard_uncertainty")


def improvement_table(evaluation: Evaluation) -> Table:
    """Each change with the error before and after."""
    currency = evaluation.bench.purse.currency
    columns = (
        Column("change", _("table.change"), cell=lambda a: wording_compare.improvement(a.key)),
        Column("bias_before_percent", _("table.bias_before"), "signed percent", cell=lambda a: a.bias_percent[0]),
        Column("bias_after_percent", _("table.bias_after"), "signed percent", cell=lambda a: a.bias_percent[1]),
        Column("rms_before_percent", _("table.rms_error_before"), "percent", cell=lambda a: a.rms_error_percent[0]),
        Column("rms_after_percent", _("table.rms_error_after"), "percent", cell=lambda a: a.rms_error_percent[1]),
        Column("price", _("word.price"), "money", currency),
        Column("obstacles", _("table.stands_in_its_way"), cell=lambda a: limit_names(a.obstacles)),
    )
    return listed(
        "improvements", "Changes: before and after, the value as it is reckoned today", evaluation.improvements, columns
    )


def class_table(evaluation: Evaluation) -> Table:
    """Numbers of the class."""
    view = evaluation.classroom
    rows: list[tuple[Cell, ...]] = []
    if view is not None:
        ratio = f"{rounding.significant(view.chi_squared, 2)} / {view.degrees_of_freedom}"
        rows = [
            ("pooled value ± u", per_kilogram(view.value, view.standard_uncertainty)),
            ("part of u that all groups share", spread(view.common_uncertainty)),
            ("spread between groups, seen", spread(view.observed_spread)),
            ("spread between groups, expected from the readings", spread(view.expected_spread)),
            ("chi-squared over degrees of freedom", ratio),
            ("groups far from the rest", ", ".join(view.outliers) or "none"),
        ]
    return table(
        "classroom", "The class", (Column("what", _("table.quantity")), Column("value", _("table.value"))), rows
    )


def marks_table(group: GroupEvaluation) -> Table:
    """Energy, mass and time at each mark."""
    runs = [run for level in group.result.measured.levels for run in level]
    columns = (
        Column("row", _("table.row"), "whole", cell=lambda a: a[2].row),
        Column("run", _("table.run"), cell=lambda a: a[0].name),
        Column("mark", _("table.mark"), cell=lambda a: a[2].mark or str(a[1])),
        Column("energy_kJ", _("table.energy"), "significant", "kJ", 5, cell=lambda a: float(a[0].energy[a[1]]) / 1e3),
        Column("mass_g", _("table.boiled_away"), "significant", "g", 5, cell=lambda a: 1e3 * float(a[0].mass[a[1]])),
        Column(
            "time_s",
            _("table.time"),
            "significant",
            "s",
            5,
            cell=lambda a: None if a[0].time is None else float(a[0].time[a[1]]),
        ),
    )
    return listed(
        "marks",
        f"Group {group.group}: since the first mark of each run",
        [(run, index, rows[0]) for run in runs for index, rows in enumerate(run.readings)],
        columns,
    )


def direction_table() -> Table:
    """Cause and direction of each effect, without the reasons."""
    whole = sign_table()
    return whole.only([column.key for column in whole.columns[:2]])
