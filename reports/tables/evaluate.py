"""Tables of the evaluation report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.tables.plan import sign_table
from reports.tables.tables import Cell, Column, Table, listed, table
from reports.words import compare as wording_compare
from reports.words import rounding
from reports.words.evaluate import (
    of_group,
    per_kilogram,
    spread,
    verdict_text,
)
from reports.words.findings import what_was_found
from reports.words.languages import ENGLISH, Language
from reports.words.names import distribution_words, limit_names, quantity_name, source_words

if TYPE_CHECKING:
    from budget.quantities.inputs import InputQuantity
    from design.evaluation.evaluate import Evaluation, GroupEvaluation
    from design.evaluation.result import Agreement, Outcome
    from design.evaluation.school import SchoolResult
    from design.evaluation.verdict import Verdict
    from design.sheets.readings import Finding

NO_EFFECT = 1e-4
"""Per cent below which a source is not listed."""


def finding_table(findings: tuple[Finding, ...], say: Language = ENGLISH) -> Table:
    """Slips seen, in the order of the sheet."""
    _ = say.text
    columns = (
        Column("row", _("table.row"), "whole", cell=lambda a: a.row or ""),
        Column("column", _("table.column")),
        Column("code", _("table.code")),
        Column("message", _("table.seen_and_likely"), cell=lambda a: what_was_found(a, say)),
    )
    return listed("warnings", _("evaluate.rows_again"), findings, columns, say)


def result_table(evaluation: Evaluation, say: Language = ENGLISH) -> Table:
    """Values, reference and comparison, a row a group."""
    _ = say.text
    coverage = say.percent_of_share(evaluation.request.coverage)
    columns = (
        Column("group", _("word.group")),
        Column("uncorrected", _("table.e_m_uncertainty_u"), cell=lambda a: _with_u(a.result.uncorrected, say)),
        Column("corrected", _("table.corrected_uncertainty_u"), cell=lambda a: _with_u(a.result.best, say)),
        Column("interval", _("evaluate.interval", coverage=coverage), cell=lambda a: _ends(a.result.best, say)),
        Column("reference", _("table.reference_uncertainty_u"), cell=lambda a: _reference(_best(a), say)),
        Column(
            "difference_percent",
            _("table.corrected_minus_reference"),
            "signed percent",
            cell=lambda a: _best(a).difference_percent,
        ),
        Column("normalised_error", _("table.e_n"), cell=lambda a: say.significant(_best(a).normalised_error, 2)),
        Column("z_score", _("table.z"), cell=lambda a: say.significant(_best(a).z_score, 2)),
        Column("verdict", _("table.e_n_at_most_1"), cell=lambda a: verdict_text(a.verdict, say)),
    )
    return listed("groups", _("evaluate.result_and_reference"), evaluation.groups, columns, say)


def _best(group: GroupEvaluation) -> Agreement:
    return group.result.best.agreement


def _reference(agreement: Agreement, say: Language) -> str:
    return per_kilogram(agreement.reference, agreement.reference_uncertainty, say=say)


def _with_u(outcome: Outcome, say: Language) -> str:
    return per_kilogram(outcome.value, outcome.standard_uncertainty, say=say)


def _ends(outcome: Outcome, say: Language) -> str:
    """Write an interval to the place of its standard uncertainty."""
    low, high = (rounding.round_together(end / 1e3, outcome.standard_uncertainty / 1e3)[0] for end in outcome.interval)
    return say.number(say.text("evaluate.interval_ends", low=low, high=f"{high}").replace(" kJ", f"{rounding.THIN}kJ"))


def school_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Every preset of school rules, and the full uncertainty under them."""
    _ = say.text
    each_once = {result.rules.name: result for result in (*reversed(group.presets), group.school)}
    order = dict.fromkeys(result.rules.name for result in (group.school, *group.presets))
    rows = [_school_row(group, each_once[name], say) for name in order]
    rows += [
        _outcome_row((_("evaluate.readings_alone_gum"), say), group.result.uncorrected, group.uncorrected_verdict),
        _outcome_row((_("evaluate.losses_off_gum"), say), group.result.best, group.verdict),
    ]
    columns = (
        Column("rules", _("table.rules")),
        Column("value", _("table.l")),
        Column("uncertainty_percent", _("table.uncertainty"), "percent"),
        Column("difference_percent", _("table.l_minus_reference"), "signed percent"),
        Column("verdict", _("table.by_its_own_rule")),
    )
    return table("school", of_group(group, "by_rules", say), columns, rows, say)


def _school_row(group: GroupEvaluation, result: SchoolResult, say: Language) -> tuple[Cell, ...]:
    value = per_kilogram(result.value, result.uncertainty, result.rules.figures.digits, say)
    verdict = verdict_text(group.school_verdict(result), say)
    return result.rules.name, value, result.percent, result.difference_percent, verdict


def _outcome_row(words: tuple[str, Language], outcome: Outcome, verdict: Verdict) -> tuple[Cell, ...]:
    (name, say), agreement = words, outcome.agreement
    expanded = outcome.propagation.expanded_uncertainty
    percent = 100.0 * expanded / outcome.value
    value = per_kilogram(outcome.value, expanded, say=say)
    return name, value, percent, agreement.difference_percent, verdict_text(verdict, say)


def rules_table(result: SchoolResult, say: Language = ENGLISH) -> Table:
    """Rules of a profile with their sources."""
    _ = say.text
    rules = result.rules
    words = {
        "reading": rules.reading.rule, "difference": _("evaluate.readings_number", number=rules.difference.readings),
        "repeats": rules.repeats.rule, "combine": rules.combine.rule, "gradient": rules.gradient.rule,
        "figures": _("evaluate.significant", digits=rules.figures.digits), "agreement": rules.agreement.rule,
    }  # fmt: skip
    rows = [(say.text(f"rule_part.{part}"), words[part], source) for part, source in rules.sources.items()]
    columns = (
        Column("of", _("table.uncertainty_of")),
        Column("rule", _("table.rule")),
        Column("source", _("word.source")),
    )
    return table("rules", _("evaluate.rules_named", rules=rules.name), columns, rows, say)


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


def source_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Every source: what it does to the uncorrected value, what it adds to the uncertainty, and its kind."""
    _ = say.text
    kept = [one for one in sources_of(group) if one.direction or one.uncertainty >= NO_EFFECT]
    columns = (
        Column("quantity", _("word.source"), cell=lambda a: quantity_name(a.quantity.name, say)),
        Column(
            "pushes_percent", _("table.does_to_e_m"), "signed percent", cell=lambda a: a.pushes if a.direction else None
        ),
        Column(
            "direction",
            _("table.makes_e_m"),
            cell=lambda a: say.text(f"evaluate.{(a.direction or 'either way').replace(' ', '_')}"),
        ),
        Column("uncertainty_percent", _("table.standard_uncertainty_of_l"), "percent", cell=lambda a: a.uncertainty),
        Column("share_percent", _("word.share_variance"), "percent", cell=lambda a: 100.0 * a.share),
        Column("kind", _("bench.kind"), cell=lambda a: say.text(f"evaluate.{a.kind}")),
    )
    return listed(
        "sources",
        of_group(group, "sources_here", say),
        sorted(kept, key=lambda a: -max(abs(a.pushes) if a.direction else 0.0, a.uncertainty)),
        columns,
        say,
    )


def left_out_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Sources that no reading shows, so that a school rule leaves them out."""
    _ = say.text
    whole = source_table(group, say)
    place = [column.key for column in whole.columns].index("kind")
    kept = [row for row in whole.rows if row[place] == say.text("evaluate.systematic")]
    columns = ("quantity", "pushes_percent", "uncertainty_percent")
    caption = of_group(group, "not_in_school_rule", say)
    return table("left_out", caption, whole.columns, kept, say).only(columns)


def budget_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Uncertainty budget in the columns of EA-4/02."""
    _ = say.text
    outcome = group.result.best
    propagation = outcome.propagation
    columns = (
        Column("symbol", _("table.symbol"), "symbol", cell=lambda a: a.symbol.removesuffix("_est")),
        Column("quantity", _("table.quantity"), cell=lambda a: quantity_name(a.name, say)),
        Column("estimate", _("table.estimate"), "significant", digits=5, cell=lambda a: a.distribution.mean),
        Column(
            "standard_uncertainty",
            _("table.standard_uncertainty"),
            "significant",
            digits=2,
            cell=lambda a: a.distribution.standard_uncertainty,
        ),
        Column("unit", _("table.unit")),
        Column(
            "distribution", _("table.distribution"), cell=lambda a: distribution_words(a.distribution.describe(), say)
        ),
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
        Column("source", _("table.evidence"), cell=lambda a: source_words(a.source, say)),
    )
    inputs = listed("budget", of_group(group, "budget_of", say), outcome.model.inputs, columns, say)
    own = outcome.standard_uncertainty
    whole = ("L", _("evaluate.latent_heat"), outcome.value, own, "J/kg", "", None, own, 100.0, "")
    rows = (*inputs.rows, whole)
    return table("budget", inputs.caption, inputs.columns, rows, say).rounded_by("estimate", "standard_uncertainty")


def improvement_table(evaluation: Evaluation, say: Language = ENGLISH) -> Table:
    """Each change with the error before and after."""
    _ = say.text
    currency = evaluation.bench.purse.currency
    columns = (
        Column("change", _("table.change"), cell=lambda a: wording_compare.improvement(a.key, say)),
        Column("bias_before_percent", _("table.bias_before"), "signed percent", cell=lambda a: a.bias_percent[0]),
        Column("bias_after_percent", _("table.bias_after"), "signed percent", cell=lambda a: a.bias_percent[1]),
        Column("rms_before_percent", _("table.rms_error_before"), "percent", cell=lambda a: a.rms_error_percent[0]),
        Column("rms_after_percent", _("table.rms_error_after"), "percent", cell=lambda a: a.rms_error_percent[1]),
        Column("price", _("word.price"), "money", currency),
        Column("obstacles", _("table.stands_in_its_way"), cell=lambda a: limit_names(a.obstacles, say)),
    )
    return listed("improvements", _("evaluate.changes"), evaluation.improvements, columns, say)


def class_table(evaluation: Evaluation, say: Language = ENGLISH) -> Table:
    """Numbers of the class."""
    _ = say.text
    view = evaluation.classroom
    rows: list[tuple[Cell, ...]] = []
    if view is not None:
        ratio = f"{say.significant(view.chi_squared, 2)} / {view.degrees_of_freedom}"
        rows = [
            (_("evaluate.pooled_value"), per_kilogram(view.value, view.standard_uncertainty, say=say)),
            (_("evaluate.shared_part"), spread(view.common_uncertainty, say)),
            (_("evaluate.spread_seen"), spread(view.observed_spread, say)),
            (_("evaluate.spread_expected"), spread(view.expected_spread, say)),
            (_("evaluate.chi_squared"), ratio),
            (_("evaluate.far_groups"), ", ".join(view.outliers) or _("evaluate.none")),
        ]
    return table(
        "classroom",
        _("evaluate.the_class"),
        (Column("what", _("table.quantity")), Column("value", _("table.value"))),
        rows,
        say,
    )


def marks_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Energy, mass and time at each mark."""
    _ = say.text
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
        of_group(group, "since_first", say),
        [(run, index, rows[0]) for run in runs for index, rows in enumerate(run.readings)],
        columns,
        say,
    )


def direction_table(say: Language = ENGLISH) -> Table:
    """Cause and direction of each effect, without the reasons."""
    whole = sign_table(say=say)
    return whole.only([column.key for column in whole.columns[:2]])
