"""Say how sure a plan is: of the choice, and of its own numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports import rounding
from reports.languages import ENGLISH, Language
from reports.sentences import OBJECTIVES

if TYPE_CHECKING:
    from design.plan import Plan, RankedDesign


def chances_explained(plan: Plan, say: Language = ENGLISH) -> str:
    """Explain the two probabilities of a ranking: the one that helps to choose, and the one that is easily misread."""
    return say.text(
        "“Nearly best” is the probability that the error of the row comes within {margin} of the least on this page, "
        "as what nobody knows exactly varies; designs within that margin count as equally good. “Best” is the "
        "probability that it is the least itself; rows that are nearly equal share it out among them, so that a small "
        "number says nothing against a row.",
        margin=say.percent(plan.margin_percent),
    )


def sure_facts(plan: Plan, design: RankedDesign, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """
    Sum up how sure the choice and its error are, as pairs of label and text.

    Parameters
    ----------
    plan : Plan
        The plan.
    design : RankedDesign
        The design it recommends.
    say : Language
        Language of the page.
    """
    _ = say.text
    rows = [
        (
            _("The best"),
            _(
                "in {share} of the cases, as the knowledge that all designs share varies",
                share=say.percent_of_share(design.best_probability),
            ),
        ),
        (
            _("Nearly the best"),
            _(
                "in {share} of the cases its error is within {margin} of the least one",
                share=say.percent_of_share(design.within_margin_probability),
                margin=say.percent(plan.margin_percent),
            ),
        ),
        (
            _("Numerical error"),
            _(
                "{objective} {value} ± {error}, because the sample of {trials} trials is finite",
                objective=_(OBJECTIVES.get(plan.objective, plan.objective)),
                value=say.percent(design.objective_percent),
                error=say.percent(design.numerical_error_percent),
                trials=rounding.grouped(str(plan.trials)),
            ),
        ),
    ]
    if plan.answers is not None and plan.answers.trials:
        first = max(plan.answers.trials, key=lambda trial: trial.correcting_percent)
        rows.append(
            (
                _("Trial worth most"),
                _(
                    "{trial}: expected to lower the error by {choosing} through a better choice, by {correcting} where "
                    "the result is corrected with what it tells (expected value of sample information)",
                    trial=_(first.trial),
                    choosing=say.percent(first.choosing_percent),
                    correcting=say.percent(first.correcting_percent),
                ),
            )
        )
    return tuple(rows)
