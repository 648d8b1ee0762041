"""Names of what the lower packages speak of: quantities, stages of a lesson, limits, trials."""

from __future__ import annotations

import re
from functools import cache

from reports.words.languages import ENGLISH, Language, messages


def quantity_name(name: str, say: Language = ENGLISH) -> str:
    """Name an input quantity in a language, also one of a power of its own or one that a correction stands for."""
    found = re.fullmatch(r"(.*) \(power (\d+)\)", name)
    if found:
        return say.text("quantity_of.power", name=named(say, "quantity", found[1]), number=found[2])
    if name.endswith(", as corrected for"):
        return say.text("quantity_of.corrected", name=quantity_name(name.removesuffix(", as corrected for"), say))
    return named(say, "quantity", name)


def trial_name(say: Language, name: str) -> str:
    """Name a trial, or what it tells."""
    return named(say, "trial", name)


def named(say: Language, group: str, text: str) -> str:
    """Say in a language what English words of a group stand for."""
    key = _english(group).get(text)
    return say.text(key) if key else text


@cache
def _english(group: str) -> dict[str, str]:
    return {value: key for key, value in messages("en").items() if key.startswith(group) and isinstance(value, str)}
