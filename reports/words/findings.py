"""What was found on a readings sheet."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from design.message import Message
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from design.sheets.readings import Finding

FACTORS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        **{key: MappingProxyType({"value": 1e-6, "expected": 1e-6, "others": 1e-6, "mass": 1e3})
           for key in ("energy_too_small", "energy_too_large", "run_out_of_line", "first_run_above")},
        **{key: MappingProxyType({"mass": 1e3, "least": 1e3})
           for key in ("mass_out_of_line", "step_too_small", "element_uncovered")},
        "warm_up_too_short": MappingProxyType({"counted": 1e-3, "needed": 1e-3, "water": 1e3}),
        "try_without": MappingProxyType({"all": 1e-3, "without": 1e-3}),
    }
)  # fmt: skip
"""From SI to the unit that a sentence is written in, by its key and its word in braces."""


class _Written(float):
    """A number that the format of a sentence writes with the decimal mark of its language."""

    say: Language

    def __format__(self, form: str) -> str:
        return self.say.number(float.__format__(self, form))


def what_was_found(finding: Finding, say: Language = ENGLISH) -> str:
    """Say where something was seen on a sheet, what, and what is likely."""
    return _said(finding.message, say)


def _said(message: Message, say: Language) -> str:
    factors = FACTORS.get(message.key, {})
    values = {name: _filled(value, factors.get(name, 1.0), say) for name, value in message.values.items()}
    return say.text(f"finding.{message.key}", **values)


def _filled(value: object, factor: float, say: Language) -> object:
    if isinstance(value, Message):
        return _said(value, say)
    if not isinstance(value, float):
        return value
    written = _Written(factor * value)
    written.say = say
    return written
