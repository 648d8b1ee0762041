"""Words of the evaluation report: labels for everybody, sentences for the teacher's copy."""

from __future__ import annotations

from typing import TYPE_CHECKING

from design.evaluation.verdict import TOO_WIDE
from reports.words import rounding
from reports.words.languages import ENGLISH, Language
from reports.words.names import quantity_name

if TYPE_CHECKING:
    from design.evaluation.account import Account, Explanation
    from design.evaluation.evaluate import GroupEvaluation
    from design.evaluation.result import Outcome
    from design.evaluation.school import SchoolLine
    from design.evaluation.verdict import Verdict


def verdict_text(verdict: Verdict, say: Language = ENGLISH) -> str:
    """Say whether a value agrees with the reference, or why nothing is said of that."""
    return say.text(f"verdict.{verdict}", percent=f"{100 * TOO_WIDE:.0f}")


def of_group(group: GroupEvaluation, key: str, say: Language = ENGLISH) -> str:
    """Caption of a table of one group, by the key of what it holds."""
    return say.text("evaluate.of_group", group=group.group, what=say.text(f"evaluate.{key}"))


def run_name(line: SchoolLine, say: Language = ENGLISH) -> str:
    """Name the run of a result, or one less the other."""
    first, *others = (run.name for run in line.runs)
    return say.text("working.less", first=first, other=others[0]) if others else first


def per_kilogram(value: float, uncertainty: float, digits: int = 2, say: Language = ENGLISH) -> str:
    """Write a latent heat [J/kg] with its uncertainty, in kJ/kg."""
    return say.with_uncertainty(value / 1e3, uncertainty / 1e3, "kJ/kg", digits=digits)


def with_expanded(outcome: Outcome, say: Language = ENGLISH) -> str:
    """Write a latent heat with its expanded uncertainty, in kJ/kg."""
    return per_kilogram(outcome.value, outcome.propagation.expanded_uncertainty, say=say)


def stated(outcome: Outcome, verdict: Verdict, say: Language = ENGLISH) -> str:
    """State a result with its expanded and standard uncertainty, and how it compares with the reference."""
    return say.text(
        "evaluate.stated",
        value=with_expanded(outcome, say),
        factor=say.significant(outcome.propagation.coverage_factor, 3),
        uncertainty=spread(outcome.standard_uncertainty, say),
        normalised=say.significant(outcome.agreement.normalised_error, 2),
        verdict=verdict_text(verdict, say),
    )


def as_typed(value: float, say: Language = ENGLISH) -> str:
    """Write a latent heat [J/kg] that somebody typed, in kJ/kg: nobody else's rounding (seven figures are enough)."""
    return say.in_unit(value / 1e3, "kJ/kg", 7)


def to_place_of(value: float, uncertainty: float, say: Language = ENGLISH) -> str:
    """Write a latent heat [J/kg] to the place of the second digit of an uncertainty [J/kg], in kJ/kg."""
    if uncertainty <= 0.0:
        return say.in_unit(value / 1e3, "kJ/kg", 5)
    return f"{say.number(rounding.round_together(value / 1e3, uncertainty / 1e3)[0])}{rounding.THIN}kJ/kg"


def spread(value: float, say: Language = ENGLISH) -> str:
    """Write an uncertainty or another spread of a latent heat [J/kg] in two digits, in kJ/kg."""
    return say.in_unit(value / 1e3, "kJ/kg", 2)


def scatter_of_readings(group: GroupEvaluation, say: Language = ENGLISH) -> tuple[tuple[str, str], ...]:
    """Labels and numbers of the noise that the readings show, or that is taken where they cannot."""
    scatter, best = group.result.measured.scatter, group.result.best
    noise = rounding.in_unit(1e3 * scatter.expected_noise, "g", 2)
    budget = best.propagation
    expanded = ("scatter.expanded", f"±{spread(budget.expanded_uncertainty)} (k = {budget.coverage_factor:.2f})")
    if not scatter.seen:
        labels: tuple[tuple[str, str], ...] = (
            ("scatter.scatter", say.text("scatter.unseen")),
            ("scatter.noise", noise),
            expanded,
            ("scatter.at_three_times", f"±{spread(best.expanded_uncertainty_unseen)}"),
        )
    else:
        chance = rounding.percent(100.0 * scatter.chance)
        chi_square = f"{rounding.significant(round(scatter.chi_square, 9), 2)} / {scatter.degrees_of_freedom}"
        verdict = "scatter.more" if scatter.more_than_expected else "scatter.as_expected"
        labels = (
            ("scatter.scatter", say.text(verdict)),
            ("scatter.chi_square", say.text("scatter.with_chance", chi_square=chi_square, chance=chance)),
            ("scatter.noise", noise),
            ("scatter.factor", rounding.significant(scatter.factor, 2)),
            ("scatter.effective_dof", f"{scatter.effective_dof:.0f}"),
            expanded,
        )
    return tuple((say.text(key), say.number(value)) for key, value in labels)


def why_off(group: GroupEvaluation, say: Language = ENGLISH) -> tuple[str, ...]:
    """Sentences of the teacher's copy: the likeliest account, what would have to be, what cannot be told apart."""
    explanation = group.explanation
    if explanation is None:
        return (say.text("account.refused", reason=say.text(f"finding.{group.refused}")), *_wet(group, None, say))
    return (
        *_likeliest(group, explanation, say),
        *_wet(group, explanation, say),
        *_alone(explanation, say),
        *_together(explanation, say),
        *_cancelling(explanation, say),
    )


def in_its_unit(account: Account, value: float, say: Language = ENGLISH) -> str:
    """Write a value of a source in a unit a reader knows."""
    factor, unit = shown_unit(account, say)
    return say.percent(factor * value) if unit == "%" else say.in_unit(factor * value, unit, 2)


def shown_unit(account: Account, say: Language = ENGLISH) -> tuple[float, str]:
    """Factor and unit in which a source is shown: shares in per cent, masses in grams, counts as counts."""
    if account.symbol.startswith("d_count"):
        return 1.0, say.text("evaluate.counts")
    return {"1": (100.0, "%"), "kg": (1e3, "g")}.get(account.unit, (1.0, account.unit))


def with_spread(account: Account, value: float, spread: float, say: Language = ENGLISH) -> str:
    """Write a source's value with its standard uncertainty."""
    factor, unit = shown_unit(account, say)
    return say.with_standard_uncertainty(factor * value, factor * spread, unit)


def _likeliest(group: GroupEvaluation, explanation: Explanation, say: Language) -> tuple[str, ...]:
    loss, spread = explanation.loss
    off = group.result.uncorrected.agreement.difference_percent
    first = explanation.accounts[0]
    head = say.text(
        "account.likeliest",
        off=say.signed_percent(off),
        loss=say.with_standard_uncertainty(loss, spread, "W"),
        before=say.with_standard_uncertainty(*explanation.prior_loss, "W"),
    )
    moved = say.text(
        "account.moved",
        quantity=quantity_name(first.quantity, say),
        before=with_spread(first, first.prior_mean, first.prior_uncertainty, say),
        after=with_spread(first, first.mean, first.standard_uncertainty, say),
    )
    return (head, moved)


def _wet(group: GroupEvaluation, explanation: Explanation | None, say: Language) -> tuple[str, ...]:
    """A reason for a loss larger than expected that the bench's knowledge does not hold: lagging that got wet."""
    if explanation is None:
        larger = group.result.uncorrected.agreement.difference_percent > 0.0
    else:
        (loss, _), (expected, doubt) = explanation.loss, explanation.prior_loss
        larger = loss > expected + doubt
    soaks = group.result.measured.situation.kit.vessel.jacket.soaks
    return (say.text("account.wet_lagging"),) if soaks and larger else ()


def _alone(explanation: Explanation, say: Language) -> tuple[str, ...]:
    sentences = []
    for account in explanation.accounts[:6]:
        quantity = capital(quantity_name(account.quantity, say))
        if account.alone is None:
            sentences.append(say.text("account.not_alone", quantity=quantity))
            continue
        chance = say.text("evaluate.under_chance") if account.chance < 1e-3 else say.percent(100.0 * account.chance)
        needed = in_its_unit(account, account.alone, say)
        sentences.append(say.text("account.alone", quantity=quantity, needed=needed, chance=chance))
    return tuple(sentences)


def _together(explanation: Explanation, say: Language) -> tuple[str, ...]:
    if not explanation.indistinguishable:
        return (say.text("account.distinguishable"),)
    return tuple(
        say.text(
            "account.indistinguishable",
            first=quantity_name(first, say),
            second=quantity_name(second, say),
            correlation=say.significant(size, 2),
        )
        for first, second, size in explanation.indistinguishable
    )


def _cancelling(explanation: Explanation, say: Language) -> tuple[str, ...]:
    up = sum(account.pushes for account in explanation.accounts if account.pushes > 0)
    down = sum(account.pushes for account in explanation.accounts if account.pushes < 0)
    if up <= 0 or down >= 0 or min(up, -down) < 0.1 * max(up, -down):
        return (say.text("account.no_cancelling"),)
    return (say.text("account.cancelling", up=spread(up, say), down=spread(-down, say)),)


def capital(text: str) -> str:
    """Write a name at the head of a sentence."""
    return text[:1].upper() + text[1:]
