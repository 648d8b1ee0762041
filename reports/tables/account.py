"""Tables of why a value is off: sources before and after the readings, and single causes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.tables.tables import Column, Table, listed
from reports.words.evaluate import in_its_unit, of_group, with_spread
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name
from reports.words.suspects import cause_size, suspect_name

if TYPE_CHECKING:
    from design.evaluation.evaluate import GroupEvaluation


def account_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Each source before and after the readings."""
    _ = say.text
    reference = group.result.used.reference
    columns = (
        Column("quantity", _("word.source"), cell=lambda a: quantity_name(a.quantity, say)),
        Column(
            "before",
            _("table.before_the_readings"),
            cell=lambda a: with_spread(a, a.prior_mean, a.prior_uncertainty, say),
        ),
        Column(
            "after", _("table.after_the_readings"), cell=lambda a: with_spread(a, a.mean, a.standard_uncertainty, say)
        ),
        Column(
            "effect_percent",
            _("table.its_change_does_to_l"),
            "signed percent",
            cell=lambda a: 100.0 * a.effect / reference,
        ),
        Column(
            "alone",
            _("table.alone_it_would_have_to_be"),
            cell=lambda a: None if a.alone is None else in_its_unit(a, a.alone, say),
        ),
        Column("chance_percent", _("table.chance_of_that"), "percent", cell=lambda a: 100.0 * a.chance),
    )
    return listed(
        "accounts",
        of_group(group, "before_and_after", say),
        group.explanation.accounts if group.explanation else (),
        columns,
        say,
    )


def suspect_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Single causes, the likeliest first."""
    columns = (
        Column("cause", say.text("suspect.table.cause"), cell=lambda a: suspect_name(a, say)),
        Column("size", say.text("suspect.table.size"), cell=lambda a: cause_size(a, say)),
        Column("probability", say.text("suspect.table.probability"), cell=lambda a: say.percent(100.0 * a.probability)),
        Column("ratio", say.text("suspect.table.ratio"), cell=lambda a: say.significant(min(a.ratio, 1e6), 2)),
    )
    caption = say.text("suspect.table.caption", group=group.group)
    return listed("suspects", caption, group.suspects.ranked, columns, say)
