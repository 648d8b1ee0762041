"""
Field kinds of a bench file: how one value is read, and what to say where it cannot be.

Each kind is a callable for pydantic's ``BeforeValidator``; its ``right`` says what would be right.
"""

from __future__ import annotations

import difflib
import math
import re
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic_core import PydanticCustomError

from budget.errors import BudgetError
from budget.quantities.units import dimension_name, parse_quantity, parse_unit
from design.kit import EVERY_GROUP

SHARE = ""
"""Unit of a share."""
FAULT = "bench_fault"
"""Type of the pydantic errors raised here; their context holds ``wrong`` and ``right``."""

_FACTOR = r"[a-zµμΩ%°℃]{1,20}(\^?-?\d|\*\*-?\d|⁻?[¹²³])?"
_QUANTITY = re.compile(
    rf"(?P<number>[-+−]?(\d+([.,]\d*)?|[.,]\d+)(e[-+]?\d{{1,3}})?) ?"
    rf"(?P<unit>({_FACTOR}([ */·⋅]{{1,3}}{_FACTOR}){{0,5}})?)",
    re.IGNORECASE,
)
_THOUSANDS = re.compile(r"[-+−]?[1-9]\d{0,2},\d{3}")
_LONGEST_TEXT = 500


def refuse(wrong: str, right: str, keys: tuple[str, ...] = ()) -> PydanticCustomError:
    """Build the error that says what is wrong, what would be right, and which keys of a table show it."""
    context = {"wrong": wrong, "right": right, "keys": keys}
    return PydanticCustomError(FAULT, "{wrong}; {right}", context)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Find the known word most like the one given, if any is like it."""
    folded = {name.casefold(): name for name in known}
    match = difflib.get_close_matches(word.casefold()[:60], folded, n=1, cutoff=0.6)
    return folded[match[0]] if match else None


def spaced(text: str) -> str:
    """Strip a text and make every run of white space in it one space."""
    return " ".join(text.split())


@cache
def _limit(text: str, unit: str) -> float:
    return parse_quantity(text, unit)


@dataclass(frozen=True)
class Quantity:
    """
    A number with its unit, in quotes; read into SI.

    Parameters
    ----------
    what : str
        The kind of quantity, with its article.
    unit : str
        Unit read into.
    example : str
        A good value.
    low, high : str
        Least and greatest that can be meant.
    plain : bool
        A share may also be a plain number: 0.02 for 2 %.
    """

    what: str
    unit: str
    example: str
    low: str
    high: str
    plain: bool = False

    @property
    def right(self) -> str:
        """What would be right."""
        return f'write {self.what} such as "{self.example}"'

    def __call__(self, value: Any) -> float:
        """Read a value, or refuse it."""
        number = self._number(value)
        if not math.isfinite(number):
            raise refuse("must be a finite number", self.right)
        low, high = _limit(self.low, self.unit), _limit(self.high, self.unit)
        if number <= 0 < low:
            raise refuse("must be above zero", self.right)
        if number < 0 <= low:
            raise refuse("must not be negative", self.right)
        slack = 1e-9 * max(abs(low), abs(high))
        if not low - slack <= number <= high + slack:
            raise refuse(f"is outside {self.low} to {self.high}", f"check number and unit: {self.right}")
        return number

    def _number(self, value: Any) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            if self.plain and abs(value) <= sys.float_info.max:
                return float(value)
            raise refuse("has no unit", self.right)
        if not isinstance(value, str):
            raise refuse(f"must be {self.what} in quotes", self.right)
        return self._parsed(spaced(value))

    def _parsed(self, text: str) -> float:
        match = _QUANTITY.fullmatch(text)
        if match is None:
            raise refuse(f"cannot be read as {self.what}", self.right)
        if _THOUSANDS.fullmatch(match["number"]):
            raise refuse("has a comma that may part thousands or decimals", f"use a decimal point: {self.right}")
        number = float(match["number"].replace(",", ".").replace("−", "-"))
        if not math.isfinite(number):
            raise refuse("must be a finite number", self.right)
        if match["unit"]:
            return self._converted(text, match["unit"])
        if self.plain:
            return number
        raise refuse("has no per-cent sign" if self.unit == SHARE else "has no unit", self.right)

    def _converted(self, text: str, unit: str) -> float:
        try:
            dimension = dimension_name(parse_unit(unit, text))
        except BudgetError:
            raise refuse("has a unit that is not known", self.right) from None
        try:
            return parse_quantity(text, self.unit)
        except BudgetError:
            said = "" if dimension.startswith("a quantity") else f"{dimension}, "
            raise refuse(f"is {said}not {self.what}", self.right) from None


@dataclass(frozen=True)
class Number:
    """A plain number between limits; numbers with a per-cent sign count as shares where `percent` says so."""

    what: str
    example: str
    low: float
    high: float
    percent: bool = False

    @property
    def right(self) -> str:
        """What would be right."""
        return f"write {self.what} such as {self.example}"

    def __call__(self, value: Any) -> float:
        """Read a value, or refuse it."""
        if self.percent and isinstance(value, str) and value.strip().endswith("%"):
            value = Quantity(self.what, SHARE, "95 %", "-1000 %", "1000 %")(value)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refuse("must be a plain number without quotes or unit", self.right)
        if isinstance(value, float) and not math.isfinite(value):
            raise refuse("must be a finite number", self.right)
        if value < 0 <= self.low:
            raise refuse("must not be negative", self.right)
        if not self.low <= value <= self.high:
            raise refuse(f"is outside {self.low:g} to {self.high:g}", self.right)
        return float(value)


@dataclass(frozen=True)
class Count:
    """A whole number between limits."""

    what: str
    example: str
    low: int
    high: int

    @property
    def right(self) -> str:
        """What would be right."""
        return f"write {self.what} from {self.low} to {self.high}, such as {self.example}"

    def __call__(self, value: Any) -> int:
        """Read a value, or refuse it."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise refuse("must be a whole number without quotes", self.right)
        if not self.low <= value <= self.high:
            raise refuse(f"is outside {self.low} to {self.high}", self.right)
        return value


@dataclass(frozen=True)
class Text:
    """A text in quotes; an empty one only where `blank` says so."""

    what: str
    example: str
    blank: bool = False

    @property
    def right(self) -> str:
        """What would be right."""
        return f'write {self.what} such as "{self.example}"'

    def __call__(self, value: Any) -> str:
        """Read a value, or refuse it."""
        if not isinstance(value, str):
            raise refuse("must be a text in quotes", self.right)
        text = spaced(value)
        if not text and not self.blank:
            raise refuse("is empty", self.right)
        if len(text) > _LONGEST_TEXT:
            raise refuse(f"is longer than {_LONGEST_TEXT} characters", f"shorten it: {self.right}")
        if not text.isprintable():
            raise refuse("holds characters that cannot be printed", self.right)
        return text


@dataclass(frozen=True)
class Choice:
    """One of a few words."""

    words: tuple[str, ...]

    @property
    def right(self) -> str:
        """What would be right."""
        quoted = [f'"{word}"' for word in self.words]
        if len(quoted) == 1:
            return f"write {quoted[0]}"
        return f"write {', '.join(quoted[:-1])} or {quoted[-1]}"

    def __call__(self, value: Any) -> str:
        """Read a value, or refuse it."""
        if not isinstance(value, str):
            raise refuse("must be a word in quotes", self.right)
        word = spaced(value).casefold()
        if word not in self.words:
            near = nearest(word, self.words)
            meant = f'did you mean "{near}"? ' if near else ""
            raise refuse("is not one of the words known here", meant + self.right)
        return word


@dataclass(frozen=True)
class Flag:
    """Yes or no."""

    right: str = "write true or false without quotes"

    def __call__(self, value: Any) -> bool:
        """Read a value, or refuse it."""
        if not isinstance(value, bool):
            raise refuse("must be true or false", self.right)
        return value


@dataclass(frozen=True)
class Owned:
    """Whether, or how many, are in the cupboard; true means enough for every group."""

    right: str = "write true, false, or the number in the cupboard"

    def __call__(self, value: Any) -> int:
        """Read a value, or refuse it."""
        if isinstance(value, bool):
            return EVERY_GROUP if value else 0
        if not isinstance(value, int):
            raise refuse("must be true, false or a whole number", self.right)
        if value < 0:
            raise refuse("must not be negative", self.right)
        return min(value, EVERY_GROUP)


@dataclass(frozen=True)
class Listing:
    """A list with something in it."""

    example: str

    @property
    def right(self) -> str:
        """What would be right."""
        return f"write a list such as {self.example}"

    def __call__(self, value: Any) -> tuple[Any, ...]:
        """Read a value, or refuse it."""
        if not isinstance(value, list | tuple):
            raise refuse("must be a list in square brackets", self.right)
        if not value:
            raise refuse("is an empty list", self.right)
        if len(value) > _LONGEST_TEXT:
            raise refuse(f"has more than {_LONGEST_TEXT} entries", self.right)
        return tuple(value)
