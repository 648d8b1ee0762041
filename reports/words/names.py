"""Words for what the lower packages name by keys: quantities, limits, stages, trials, cautions."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from design.limits import END
from design.procedures.registry import variants_of
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.message import Message
    from design.procedures.face import Procedure


MOVED_FOR_ALL = {"time": "lesson", "circuit": "circuit", "price": "purse"}
"""Limits that a plan moves for every kit, and the keys by which it calls them."""


def quantity_name(name: str, say: Language = ENGLISH) -> str:
    """Name an input quantity, also one of a power of its own or one that a correction stands for."""
    key, *marks = name.split("/")
    words = say.name("quantity", key)
    if words == key:  # a name that a user gave
        return name
    for mark in marks:
        corrected = mark == "corrected"
        words = say.text(f"quantity_of.{'corrected' if corrected else 'power'}", name=words, number=mark)
    return words


DISTRIBUTION_WORDS = (
    "standard uncertainty", "degrees of freedom", "half-width", "trapezoidal", "rectangular", "triangular",
    "exponential", "lognormal", "constant", "normal", "times", "plus",
)  # fmt: skip
"""What `Distribution.describe` is made of, what holds another word first; symbols and numbers stay."""


def distribution_words(described: str, say: Language = ENGLISH) -> str:
    """Say a distribution, as `Distribution.describe` gives it."""
    if say == ENGLISH:
        return described

    def word(found: re.Match[str]) -> str:
        return say.text(f"distribution_word.{re.sub('[ -]', '_', found[0])}")

    return say.number(re.sub(rf"\b({'|'.join(DISTRIBUTION_WORDS)})\b", word, described))


def source_words(source: str, say: Language = ENGLISH) -> str:
    """Say where the knowledge of an input quantity comes from; what a user wrote stands as it is."""
    kind, _, row = source.partition("/")
    if kind == "calculated" and row:
        return say.text("source.calculated", spread=say.text(f"evidence_source.{row}"))
    return say.text(f"evidence_source.{row}") if kind == "evidence" and row else say.name("source", source)


def procedure_name(procedure: Procedure, say: Language = ENGLISH) -> str:
    """Name a procedure with its number of powers where its identifier leaves that open."""
    if len(variants_of(procedure)) == 1:
        return say.text(f"procedure.{procedure.identifier}.name")
    return say.text(f"procedure.{procedure.identifier}.at_powers_{procedure.number_of_powers}")


def error_names(keys: Iterable[str], say: Language = ENGLISH) -> tuple[str, ...]:
    """Say which errors a procedure cancels or keeps."""
    return tuple(say.text(f"error.{key}") for key in keys)


def limit_name(key: str, say: Language = ENGLISH) -> str:
    """Say which limit is broken."""
    base = key.removesuffix(END)
    reason = say.name("limit", base, "reason")
    return reason if base == key else say.text("limit_end.reason", reason=reason)


def moved_limit_name(key: str, say: Language = ENGLISH) -> str:
    """Name a limit that is moved: for every kit, or one of the recommended kit."""
    if key in MOVED_FOR_ALL.values():
        return say.name("moved_limit", key)
    return say.text("table.limit_of_kit", limit=limit_label(key, say))


def limit_label(key: str, say: Language = ENGLISH) -> str:
    """Say what a limit is of; what is broken, where only the kit keeps it or not."""
    base = key.removesuffix(END)
    label = say.name("limit", base, "label")
    label = limit_name(base, say) if label == base else label
    return label if base == key else say.text("limit_end.label", label=label)


def limit_names(keys: Iterable[str], say: Language = ENGLISH) -> str:
    """Say which limits are broken."""
    return "; ".join(limit_name(key, say) for key in keys)


def remedy(limit: Message) -> str:
    """Say in English what would mend a broken limit."""
    return ENGLISH.text(f"limit.{limit.key.removesuffix(END)}.remedy", **limit.values)


def accepted_name(accepted: tuple[str, str]) -> str:
    """Name an item and what the bench file accepts of it, in English."""
    item, limit = accepted
    return f"{item}: {limit_name(limit)}"


def caution(message: Message, say: Language = ENGLISH) -> str:
    """Say a caution."""
    return say.text(f"caution.{message.key}", **{name: _word(name, one, say) for name, one in message.values.items()})


def _word(name: str, value: object, say: Language) -> str:
    """Say what a caution is filled with; what people wrote stands as it is."""
    return FILLED[name](value, say) if name in FILLED else str(value)


def _number(factor: float, decimals: int) -> Callable[[Any, Language], str]:
    """Write numbers in a unit that is not SI."""
    return lambda value, say: say.fixed(factor * value, decimals)


FILLED: Mapping[str, Callable[[Any, Language], str]] = MappingProxyType(
    {
        "role": lambda role, say: say.name("role", role),
        "procedure": lambda procedure, say: say.name("procedure", procedure, "name"),
        "correction": lambda correction, say: say.name("correction", correction),
        "limit": limit_name,
        "limits": limit_names,
        "price": lambda price, say: say.number(f"{price:g}"),
        "least": _number(1.0, 2),
        "volume": _number(1e3, 1),
        **dict.fromkeys(("height", "width", "rim", "usual_rim"), _number(1e3, 0)),
        **dict.fromkeys(("share", "usual_share"), _number(1e2, 0)),
    }
)
"""How a caution says what stands for each word in braces: keys in words, numbers in the caution's unit."""
