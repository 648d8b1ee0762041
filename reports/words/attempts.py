"""Words for a student's own value: the step that differs, the ways that give it, and what it is recognised as."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.evaluation.attempts import AttemptCheck, Match

MOST_WAYS = 3
"""Ways that are named, where the figures that were typed fit several."""


def step_name(step: str, say: Language = ENGLISH) -> str:
    """Name a step of the reckoning."""
    return say.text(f"attempt_step.{step.replace(' ', '_')}")


def step_words(check: AttemptCheck, say: Language = ENGLISH) -> str:
    """Say which step differs."""
    if check.same:
        return say.text("attempt.no_step")
    return step_name(check.step, say) if check.step else say.text("attempt.step_not_found")


def way_words(match: Match, say: Language = ENGLISH) -> str:
    """Say how a value was reckoned."""
    filled = {name: say.in_unit(value, "", 7) for name, value in match.filled.items()}
    return say.text(f"attempt_way.{match.way}", **filled)


def recognised_words(check: AttemptCheck, say: Language = ENGLISH) -> str:
    """Say what an own value is recognised as: ends, gradient, corrected or not, and to how many figures."""
    if not check.done:
        return say.text("attempt.not_recognised")
    shown = check.done[:MOST_WAYS]
    ways = say.text("attempt.or").join(way_words(way, say) for way in shown)
    corrected = [way.step == "correction" for way in check.done]
    state = "attempt.corrected_or_not" if any(corrected) else "attempt.nothing_taken_off"
    taken = "" if all(corrected) else say.text(state)
    return say.several("attempt.recognised", check.figures, ways=ways, taken=taken)
