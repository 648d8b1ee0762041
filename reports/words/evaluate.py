"""Words of the evaluation report: labels for everybody, sentences for the teacher's copy."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from reports.words import rounding

if TYPE_CHECKING:
    from design.evaluation.account import Account, Explanation
    from design.evaluation.evaluate import GroupEvaluation

EVALUATE: Mapping[str, str] = MappingProxyType(
    {
        "kicker": "Evaluation of readings",
        "teacher": "teacher’s copy",
        "student": "student’s copy",
        "contents": "Contents",
        "invented": "Example: the bench and its items are invented.",
        "attempt": "Does the own value follow from the readings?",
        "evaluated": "What was evaluated?",
        "attempt_withheld": "computed value: appears with the own one (--attempt VALUE, or the columns "
        "attempt_J_per_kg and attempt_uncertainty_J_per_kg)",
        "ways": "Ways of reckoning that were tried",
        "findings": "Which rows should be looked at again?",
        "no_findings": "none",
        "result": "How far is the result from the reference?",
        "school": "What does a school rule make of the same readings?",
        "left_out": "What does the school rule leave out?",
        "sources": "Which sources act on this bench, how strongly and which way?",
        "account": "If the reference holds, why is the result off?",
        "improvements": "What would each change bring?",
        "classroom": "What do the groups say together?",
        "signs": "Which way does each effect push the uncorrected value?",
        "budget": "How is the uncertainty made up?",
        "working": "Working",
        "rules": "Which rules were used, and where do they come from?",
        "acknowledgement": "How is the program acknowledged?",
        "cautions": "What can hurt, and what must be watched?",
        "model": "Measurement model",
        "marks": "Energy, mass and time at each mark",
        "outlier_rule": "named, never removed: more than 3 standard uncertainties of a group’s own scatter, or of the "
        "robust spread between groups where that is larger, from the median",
        "nothing_changed": "Nothing in the sheet was changed or dropped.",
    }
)

AGREES = {True: "agrees", False: "differs"}
RULE_PARTS: Mapping[str, str] = MappingProxyType(
    {
        "reading": "one reading", "difference": "a difference", "repeats": "repeats", "combine": "combining",
        "gradient": "a gradient", "figures": "figures", "agreement": "agreement",
    }
)  # fmt: skip


def per_kilogram(value: float, uncertainty: float, digits: int = 2) -> str:
    """Write a latent heat [J/kg] with its uncertainty, in kJ/kg."""
    return rounding.with_uncertainty(value / 1e3, uncertainty / 1e3, "kJ/kg", digits=digits)


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


def why_off(group: GroupEvaluation) -> tuple[str, ...]:
    """Sentences of the teacher's copy: the likeliest account, what would have to be, what cannot be told apart."""
    explanation = group.explanation
    if explanation is None:
        return (f"No account is given: {group.refusal}.",)
    return (
        *_likeliest(group, explanation),
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
    return rounding.with_uncertainty(factor * value, factor * spread, unit)


def _likeliest(group: GroupEvaluation, explanation: Explanation) -> tuple[str, ...]:
    loss, spread = explanation.loss
    off = group.result.uncorrected.agreement.difference_percent
    first = explanation.accounts[0]
    head = (
        f"The uncorrected value is off by {rounding.signed_percent(off)}. If the reference holds, the likeliest "
        f"account of the heat loss is {rounding.with_uncertainty(loss, spread, 'W')}; the bench’s knowledge alone gave "
        f"{rounding.with_uncertainty(*explanation.prior_loss, 'W')}."
    )
    moved = (
        f"What moves most is {first.quantity}: from {with_spread(first, first.prior_mean, first.prior_uncertainty)} to "
        f"{with_spread(first, first.mean, first.standard_uncertainty)}."
    )
    return (head, moved)


def _alone(explanation: Explanation) -> tuple[str, ...]:
    sentences = []
    for account in explanation.accounts[:6]:
        if account.alone is None:
            sentences.append(f"{capital(account.quantity)} alone cannot make the difference.")
            continue
        chance = "less than 0.1 %" if account.chance < 1e-3 else rounding.percent(100.0 * account.chance)
        sentences.append(
            f"{capital(account.quantity)} alone would have to be {in_its_unit(account, account.alone)}, and the "
            f"bench’s knowledge gives a value at least as far out a chance of {chance}."
        )
    return tuple(sentences)


def _together(explanation: Explanation) -> tuple[str, ...]:
    if not explanation.indistinguishable:
        return ("No two sources are so bound together by the data that they could stand for each other.",)
    return tuple(
        f"The data cannot tell {first} from {second} (correlation {rounding.significant(size, 2)})."
        for first, second, size in explanation.indistinguishable
    )


def _cancelling(explanation: Explanation) -> tuple[str, ...]:
    up = sum(account.pushes for account in explanation.accounts if account.pushes > 0)
    down = sum(account.pushes for account in explanation.accounts if account.pushes < 0)
    if up <= 0 or down >= 0 or min(up, -down) < 0.1 * max(up, -down):
        return ("What pushes the value up and what pushes it down hardly cancel here.",)
    return (
        f"Errors cancel in part: {spread(up)} upwards against {spread(-down)} downwards. A good value alone would not "
        "prove a good method.",
    )


def capital(text: str) -> str:
    """Write a name at the head of a sentence."""
    return text[:1].upper() + text[1:]
