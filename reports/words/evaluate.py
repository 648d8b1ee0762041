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


def run_name(line: SchoolLine, say: Language = ENGLISH) -> str:
    """Name the run of a result, or one less the other."""
    first, *others = (run.name for run in line.runs)
    return say.text("working.less", first=first, other=others[0]) if others else first


def per_kilogram(value: float, uncertainty: float, digits: int = 2) -> str:
    """Write a latent heat [J/kg] with its uncertainty, in kJ/kg."""
    return rounding.with_uncertainty(value / 1e3, uncertainty / 1e3, "kJ/kg", digits=digits)


def with_expanded(outcome: Outcome) -> str:
    """Write a latent heat with its expanded uncertainty, in kJ/kg."""
    return per_kilogram(outcome.value, outcome.propagation.expanded_uncertainty)


def stated(outcome: Outcome, verdict: Verdict) -> str:
    """State a result with its expanded and standard uncertainty, and how it compares with the reference."""
    return ENGLISH.text(
        "evaluate.stated",
        value=with_expanded(outcome),
        factor=rounding.significant(outcome.propagation.coverage_factor, 3),
        uncertainty=spread(outcome.standard_uncertainty),
        normalised=rounding.significant(outcome.agreement.normalised_error, 2),
        verdict=verdict_text(verdict),
    )


def as_typed(value: float) -> str:
    """Write a latent heat [J/kg] that somebody typed, in kJ/kg: nobody else's rounding (seven figures are enough)."""
    return rounding.in_unit(value / 1e3, "kJ/kg", 7)


def to_place_of(value: float, uncertainty: float) -> str:
    """Write a latent heat [J/kg] to the place of the second digit of an uncertainty [J/kg], in kJ/kg."""
    if uncertainty <= 0.0:
        return rounding.in_unit(value / 1e3, "kJ/kg", 5)
    return f"{rounding.round_together(value / 1e3, uncertainty / 1e3)[0]}{rounding.THIN}kJ/kg"


def spread(value: float) -> str:
    """Write an uncertainty or another spread of a latent heat [J/kg] in two digits, in kJ/kg."""
    return rounding.in_unit(value / 1e3, "kJ/kg", 2)


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
    return tuple((say.text(key), value) for key, value in labels)


def why_off(group: GroupEvaluation) -> tuple[str, ...]:
    """Sentences of the teacher's copy: the likeliest account, what would have to be, what cannot be told apart."""
    explanation = group.explanation
    if explanation is None:
        return (ENGLISH.text("account.refused", reason=group.refusal), *_wet(group, None))
    return (
        *_likeliest(group, explanation),
        *_wet(group, explanation),
        *_alone(explanation),
        *_together(explanation),
        *_cancelling(explanation),
    )


def in_its_unit(account: Account, value: float, digits: int = 2) -> str:
    """Write a value of a source in a unit a reader knows."""
    factor, unit = shown_unit(account)
    return rounding.percent(factor * value) if unit == "%" else rounding.in_unit(factor * value, unit, digits)


def shown_unit(account: Account) -> tuple[float, str]:
    """Factor and unit in which a source is shown: shares in per cent, masses in grams, counts as counts."""
    if account.symbol.startswith("d_count"):
        return 1.0, "counts"
    return {"1": (100.0, "%"), "kg": (1e3, "g")}.get(account.unit, (1.0, account.unit))


def with_spread(account: Account, value: float, spread: float) -> str:
    """Write a source's value with its standard uncertainty."""
    factor, unit = shown_unit(account)
    return rounding.with_standard_uncertainty(factor * value, factor * spread, unit)


def _likeliest(group: GroupEvaluation, explanation: Explanation) -> tuple[str, ...]:
    loss, spread = explanation.loss
    off = group.result.uncorrected.agreement.difference_percent
    first = explanation.accounts[0]
    head = ENGLISH.text(
        "account.likeliest",
        off=rounding.signed_percent(off),
        loss=rounding.with_standard_uncertainty(loss, spread, "W"),
        before=rounding.with_standard_uncertainty(*explanation.prior_loss, "W"),
    )
    moved = ENGLISH.text(
        "account.moved",
        quantity=quantity_name(first.quantity),
        before=with_spread(first, first.prior_mean, first.prior_uncertainty),
        after=with_spread(first, first.mean, first.standard_uncertainty),
    )
    return (head, moved)


def _wet(group: GroupEvaluation, explanation: Explanation | None) -> tuple[str, ...]:
    """A reason for a loss larger than expected that the bench's knowledge does not hold: lagging that got wet."""
    if explanation is None:
        larger = group.result.uncorrected.agreement.difference_percent > 0.0
    else:
        (loss, _), (expected, doubt) = explanation.loss, explanation.prior_loss
        larger = loss > expected + doubt
    soaks = group.result.measured.situation.kit.vessel.jacket.soaks
    return (ENGLISH.text("account.wet_lagging"),) if soaks and larger else ()


def _alone(explanation: Explanation) -> tuple[str, ...]:
    sentences = []
    for account in explanation.accounts[:6]:
        quantity = capital(quantity_name(account.quantity))
        if account.alone is None:
            sentences.append(ENGLISH.text("account.not_alone", quantity=quantity))
            continue
        chance = "less than 0.1 %" if account.chance < 1e-3 else rounding.percent(100.0 * account.chance)
        needed = in_its_unit(account, account.alone)
        sentences.append(ENGLISH.text("account.alone", quantity=quantity, needed=needed, chance=chance))
    return tuple(sentences)


def _together(explanation: Explanation) -> tuple[str, ...]:
    if not explanation.indistinguishable:
        return (ENGLISH.text("account.distinguishable"),)
    return tuple(
        ENGLISH.text(
            "account.indistinguishable",
            first=quantity_name(first),
            second=quantity_name(second),
            correlation=rounding.significant(size, 2),
        )
        for first, second, size in explanation.indistinguishable
    )


def _cancelling(explanation: Explanation) -> tuple[str, ...]:
    up = sum(account.pushes for account in explanation.accounts if account.pushes > 0)
    down = sum(account.pushes for account in explanation.accounts if account.pushes < 0)
    if up <= 0 or down >= 0 or min(up, -down) < 0.1 * max(up, -down):
        return (ENGLISH.text("account.no_cancelling"),)
    return (ENGLISH.text("account.cancelling", up=spread(up), down=spread(-down)),)


def capital(text: str) -> str:
    """Write a name at the head of a sentence."""
    return text[:1].upper() + text[1:]
