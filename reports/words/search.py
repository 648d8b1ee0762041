"""What the sections on purchases, limits and ties say."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import ENGLISH, Language
from reports.words.sentences import OBJECTIVES

if TYPE_CHECKING:
    from design.search.plan import Answers, Plan, RankedDesign


SEARCH: Mapping[str, str] = MappingProxyType(
    {
        "ladder": "What should be bought next?",
        "trials": "What would a trial before the purchase be worth?",
        "ladder_intro": (
            "From what is in the cupboard, each purchase is the one that lowers the error most per unit of money; the "
            "procedure and the setting are chosen anew each time. Purchases that would lower it by less than a tenth "
            "of the margin are not made."
        ),
        "limits": "What limits the result?",
        "limits_intro": "The best design if one limit were moved and all others stayed.",
        "owned_intro": "The best design that uses an item of the cupboard, and the best that does without it.",
        "ties": "How sure is the choice?",
        "ties_intro": (
            "Losses, droplets and the meter’s error act on all designs at once and are known only so well. As they "
            "vary, now one design is the best, now another; this is how often."
        ),
        "trials_intro": (
            "The expected value of sample information: by how much the error is expected to fall because the choice is "
            "better founded, and because the corrections are better known as well."
        ),
        "no_trial": "No trial that we know of would lower the expected error noticeably.",
        "partial": "Partial: the search was stopped after {share} of it; a better design may not have been looked at.",
    }
)
"""Sentences and headings."""


def ladder_sentences(answers: Answers, say: Language = ENGLISH) -> tuple[str, ...]:
    """Say what the ladder comes to."""
    _, ladder = say.text, answers.ladder
    sentences = []
    start = ladder.start
    if start is None:
        sentences.append(_("What is in the cupboard is not enough for any design."))
    elif ladder.today_percent is not None and start.objective_percent < ladder.today_percent:
        sentences.append(
            _(
                "Without buying anything, {procedure} ({correction}) brings the error from {before} down to {after}.",
                procedure=wording.procedure(start.procedure, say),
                correction=wording.manner(start, say),
                before=say.percent(ladder.today_percent),
                after=say.percent(start.objective_percent),
            )
        )
    if not ladder.rungs and start is not None:
        free = ladder.today_percent is not None and start.objective_percent < ladder.today_percent
        changed, useless = _("Buy nothing: change the procedure instead."), _("Buy nothing: no purchase helps.")
        sentences.append(changed if free else useless)
    elif ladder.ends == "purse is empty":
        sentences.append(_("After that the purse does not cover the next purchase that would help."))
    else:
        sentences.append(_("After that nothing that the purse or a quarter more would cover helps noticeably."))
    return tuple(sentences)


def tie_sentence(plan: Plan, answers: Answers, say: Language = ENGLISH) -> str:
    """Say whether the first design can be told apart from others, and by what."""
    _, number = say.text, len(answers.tied)
    if number <= 1:
        return _("No other design of the ranking is as good within the margin and may be the better one.")
    said = _(
        "{number} designs of the ranking cannot be told apart: their errors differ by less than the margin of "
        "{margin}, and each has a fair chance to be better than the first.",
        number=str(number),
        margin=say.percent(plan.margin_percent),
    )
    if not answers.trials:
        return said
    told = _("The trial that would best tell them apart is {trial}.", trial=_(answers.trials[0].trial))
    return f"{said} {told}"


def discarded_sentence(answers: Answers, say: Language = ENGLISH) -> str:
    """Say how many combinations were ruled out in closed form."""
    discarded, sampled = (rounding.grouped(str(number)) for number in (answers.discarded, answers.sampled))
    return say.text(
        "{discarded} feasible combinations were ruled out by the least error that they can have, worked out in closed "
        "form; {sampled} were sampled.",
        discarded=discarded,
        sampled=sampled,
    )


def partial_sentence(plan: Plan, say: Language = ENGLISH) -> str:
    """Say that a search was stopped; empty where it was not."""
    if plan.searched_share >= 1.0:
        return ""
    return say.text(SEARCH["partial"], share=say.percent_of_share(plan.searched_share))


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
