"""What the sections on purchases, limits and ties say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from design.limits import END
from design.search.sureness import LASTING
from reports.words import plan as wording
from reports.words import rounding
from reports.words.languages import ENGLISH, Language
from reports.words.names import MOVED_FOR_ALL, moved_limit_name, quantity_name

if TYPE_CHECKING:
    from design.chosen import Design
    from design.search.plan import Answers, Plan, RankedDesign, Source

MOST_SAID = 4
"""Lasting sources that are named."""
LEAST_SAID = 0.05
"""Expanded size from which a lasting source is named. [%]"""


def ladder_sentences(answers: Answers, say: Language = ENGLISH) -> tuple[str, ...]:
    """Say what the ladder comes to."""
    _, ladder = say.text, answers.ladder
    sentences = []
    start = ladder.start
    if start is None:
        sentences.append(_("search.what_cupboard_not_enough"))
    elif ladder.today_percent is not None and start.objective_percent < ladder.today_percent:
        sentences.append(
            _(
                "search.without_buying_anything",
                procedure=wording.procedure(start.design.procedure.identifier, say),
                correction=wording.manner(start.design, say),
                before=say.percent(ladder.today_percent),
                after=say.percent(start.objective_percent),
            )
        )
    if not ladder.rungs and start is not None:
        free = ladder.today_percent is not None and start.objective_percent < ladder.today_percent
        changed, useless = _("search.buy_nothing_change"), _("search.buy_nothing_no_purchase")
        sentences.append(changed if free else useless)
    elif ladder.ends == "purse is empty":
        sentences.append(_("search.after_purse_does"))
    else:
        sentences.append(_("search.after_nothing_purse"))
    return tuple(sentences)


def tie_sentence(plan: Plan, answers: Answers, say: Language = ENGLISH) -> str:
    """Say whether the first design can be told apart from others, and by what."""
    _, number = say.text, len(answers.tied)
    if number <= 1:
        return _("search.no_other_design")
    said = _(
        "search.designs_ranking_cannot",
        number=str(number),
        margin=say.percent(plan.margin_percent),
    )
    if not answers.trials:
        return said
    told = _("search.trial_would_best", trial=say.name("trial", answers.trials[0].trial, "name"))
    return f"{said} {told}"


def discarded_sentence(answers: Answers, say: Language = ENGLISH) -> str:
    """Say how many combinations were ruled out in closed form."""
    discarded, sampled = (rounding.grouped(str(number)) for number in (answers.discarded, answers.sampled))
    return say.text(
        "search.feasible_combinations_were",
        discarded=discarded,
        sampled=sampled,
    )


def partial_sentence(plan: Plan, say: Language = ENGLISH) -> str:
    """Say that a search was stopped; empty where it was not."""
    if plan.searched_share >= 1.0:
        return ""
    return say.text("search.partial", share=say.percent_of_share(plan.searched_share))


def stands_on(plan: Plan, design: Design, say: Language = ENGLISH) -> str:
    """Name the limits on which a design stands, and what each would bring if it were moved; else how far it is off."""
    moved: dict[str, tuple[str, float]] = {}
    if plan.answers is not None:
        moved |= {
            one.limit: (f"{one.step:g} {one.unit}", one.lowered_percent) for one in plan.answers.limits if one.step
        }
        moved |= {one.limit: (say.percent_of_share(one.further), one.lowered_percent) for one in plan.answers.of_kit}
    found = []
    for limit in dict.fromkeys(one.removesuffix(END) for one in design.stands_on):
        key = MOVED_FOR_ALL.get(limit, limit)
        words = moved_limit_name(key, say)
        if key in moved:
            step, lowered = moved[key]
            words = say.text("search.stands_on_value", limit=words, step=step, lowered=say.percent(lowered))
        found.append(words)
    if not found:
        return say.text("search.stands_on_none", headroom=say.percent_of_share(design.headroom))
    return say.text("search.stands_on", limits="; ".join(found))


def choice_rule(plan: Plan, design: Design, say: Language = ENGLISH) -> str:
    """Say how one design is chosen among those that are equally good."""
    difference = design.conditions.bench.purse.difference
    return say.text(
        "search.choice_rule",
        margin=say.percent(plan.margin_percent),
        price=say.money(difference, plan.currency),
        headroom=say.percent_of_share(design.headroom),
    )


def chances_explained(plan: Plan, say: Language = ENGLISH) -> str:
    """Explain how sure a row of the ranking is."""
    return say.text(
        "search.nearly_best_probability",
        margin=say.percent(plan.margin_percent),
    )


def robust_sentence(plan: Plan, answers: Answers, say: Language = ENGLISH) -> str:
    """Say how much keeping the recommended design may cost, and which design is of least regret."""
    found = answers.robustness
    if found is None:
        return ""
    first = say.text("robustness.intro", largest=say.percent(found.largest_loss_percent[0]))
    row = found.least_regret
    if row == 0:
        return f"{first} {say.text('robustness.it_is_least')}"
    other = say.text(
        "robustness.least_regret",
        rank=row + 1,
        method="; ".join(plan.ranking[row].design.items.values()),
        largest=say.percent(found.largest_loss_percent[row]),
    )
    return f"{first} {other}"


def lasting_of(design: RankedDesign) -> tuple[tuple[Source, float], ...]:
    """Sources that stay the same in one school and can be measured once, with their expanded size in per cent."""
    found = [(one, 2.0 * one.standard_uncertainty_percent) for one in design.sources if one.symbol in LASTING]
    return tuple(sorted((one for one in found if one[1] >= LEAST_SAID), key=lambda one: -one[1])[:MOST_SAID])


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
            _("search.nearly_best"),
            _(
                "search.cases_error_within",
                share=say.percent_of_share(design.within_margin_probability),
                margin=say.percent(plan.margin_percent),
                regret=say.percent(design.regret_percent),
            ),
        ),
        (
            _("search.in_one_school"),
            _(
                "search.lesson_and_lasting",
                lesson=say.percent(design.lesson_percent),
                lasting="; ".join(
                    _("search.lasting_source", source=quantity_name(one.quantity, say), size=say.percent(size))
                    for one, size in lasting_of(design)
                ),
            ),
        ),
        (
            _("word.numerical_error"),
            _(
                "search.because_sample_trials",
                objective=wording.objective(plan.objective, say),
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
                _("search.trial_worth_most"),
                _(
                    "search.expected_lower_error",
                    trial=say.name("trial", first.trial, "name"),
                    choosing=say.percent(first.choosing_percent),
                    correcting=say.percent(first.correcting_percent),
                ),
            )
        )
    return tuple(rows)
