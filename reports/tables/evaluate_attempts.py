"""Tables of own values: beside the computed ones, and the ways of reckoning that give them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.tables.tables import Column, Table, listed
from reports.words.attempts import recognised_words, step_name, step_words, way_words
from reports.words.evaluate import as_typed, of_group, spread, to_place_of
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.evaluation.evaluate import Evaluation, GroupEvaluation


def attempt_table(evaluation: Evaluation, say: Language = ENGLISH) -> Table:
    """Own numbers beside the computed ones, a row a group that gave them."""
    _ = say.text
    given = [group for group in evaluation.groups if group.attempt is not None]
    columns = (
        Column("group", _("word.group")),
        Column("own", _("table.own_value"), cell=lambda a: as_typed(a.attempt.attempt.value, say)),
        Column(
            "own_uncertainty",
            _("table.own_uncertainty"),
            cell=lambda a: _typed_or_empty(a.attempt.attempt.uncertainty, say),
        ),
        Column(
            "computed",
            _("table.e_m_from_the_readings"),
            cell=lambda a: to_place_of(a.attempt.computed, a.result.uncorrected.standard_uncertainty, say),
        ),
        Column(
            "computed_uncertainty",
            _("table.uncertainty_by_the_school_rule"),
            cell=lambda a: spread(a.school.uncertainty, say),
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
            cell=lambda a: step_words(a.attempt, say),
        ),
        Column("recognised", _("table.recognised_as"), cell=lambda a: recognised_words(a.attempt, say)),
    )
    return listed("attempts", _("evaluate.own_numbers"), given, columns, say)


def _typed_or_empty(value: float | None, say: Language) -> str:
    return "" if value is None else as_typed(value, say)


def ways_table(group: GroupEvaluation, say: Language = ENGLISH) -> Table:
    """Ways of reckoning that give the own value."""
    _ = say.text
    uncertainty = group.result.uncorrected.standard_uncertainty
    columns = (
        Column("step", _("table.step"), cell=lambda a: step_name(a.step, say)),
        Column("detail", _("table.reckoned_with"), cell=lambda a: way_words(a, say)),
        Column("value", _("table.would_give"), cell=lambda a: to_place_of(a.value, uncertainty, say)),
    )
    return listed(
        "ways",
        of_group(group, "ways_of", say),
        group.attempt.matches if group.attempt else (),
        columns,
        say,
    )
