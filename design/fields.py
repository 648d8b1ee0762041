"""
Kinds of values that people write: how one is read, what to say where it cannot be, and how a form asks for it.

A kind stands in the annotation of the field it fills; tables, shelf columns, messages and JSON Schema follow from it.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from budget.errors import BudgetError
from budget.quantities.units import dimension_name, parse_quantity, parse_unit
from design.errors import FieldError, meant, spaced

SHARE = ""
"""Unit of a share."""
EVERY_GROUP = 10**6
"""Number in the cupboard of an item said to be owned without a number: enough for every group."""
COMMON_PRACTICE = "common practice, no source"
JUDGEMENT = "judgement"

_FACTOR = r"[a-zµμΩ%°℃]{1,20}(\^?-?\d|\*\*-?\d|⁻?[¹²³])?"
_QUANTITY = re.compile(
    rf"(?P<number>[-+−]?(\d+([.,]\d*)?|[.,]\d+)(e[-+]?\d{{1,3}})?) ?"
    rf"(?P<unit>({_FACTOR}([ */·⋅]{{1,3}}{_FACTOR}){{0,5}})?)",
    re.IGNORECASE,
)
_THOUSANDS = re.compile(r"[-+−]?[1-9]\d{0,2},\d{3}")
_LONGEST_TEXT = 500


@cache
def _limit(text: str, unit: str) -> float:
    return parse_quantity(text, unit)


@dataclass(frozen=True)
class Usual:
    """
    What is taken where a file is silent, with the range met in schools and where it comes from.

    ``value`` is in SI units, or None for the field's own default; ``case`` is the kind or role that it holds for, or
    empty; ``name`` and ``unit`` are those in lists where the key's will not do; ``per`` is the field of which the value
    is a multiple; rows of lower ``order`` are listed first.
    """

    range: str
    source: str
    value: float | str | bool | None = None
    case: str = ""
    name: str = ""
    unit: str = ""
    per: str = ""
    order: int = 0


@dataclass(frozen=True, kw_only=True)
class Kind:
    """
    A kind of value; called with what stands in a file it gives the value in SI units or raises a ``FieldError``.

    Parameters
    ----------
    help : str
        What the value is.
    keys : tuple of str
        Keys of a file, where they are not the name of the field.
    role : str
        Role of the items whose field is read so, where others are read otherwise.
    hint : str
        Said behind the example where there is another key to choose.
    optional : bool
        It can be worked out from the other keys.
    """

    help: str = ""
    keys: tuple[str, ...] = ()
    role: str = ""
    hint: str = ""
    optional: bool = False

    @property
    def written(self) -> str:
        """A good value as it stands in a file."""
        return "{}"

    @property
    def right(self) -> str:
        """What would be right."""
        return f"write {self.written}"

    def __call__(self, value: Any) -> Any:
        """Read a value, or refuse it."""
        return value


@dataclass(frozen=True)
class Named(Kind):
    """A kind of value with its article, and a good one."""

    what: str
    example: str

    @property
    def written(self) -> str:
        """The good value as it stands in a file, in quotes but for a number."""
        return self.example if isinstance(self, Number | Count) else f'"{self.example}"'

    @property
    def right(self) -> str:
        """What would be right."""
        return f"write {self.what} such as {self.written}"


@dataclass(frozen=True)
class Quantity(Named):
    """
    A number with its unit, in quotes; read into SI, in `unit`.

    ``low`` and ``high`` are the least and the greatest that can be meant; a `plain` share may also be a plain number,
    0.02 for 2 %.
    """

    unit: str
    low: str
    high: str
    plain: bool = False

    def __call__(self, value: Any) -> float:
        """Read a value, or refuse it."""
        number = self._number(value)
        if not math.isfinite(number):
            raise FieldError("must be a finite number", self.right)
        low, high = _limit(self.low, self.unit), _limit(self.high, self.unit)
        if number <= 0 < low:
            raise FieldError("must be above zero", self.right)
        if number < 0 <= low:
            raise FieldError("must not be negative", self.right)
        slack = 1e-9 * max(abs(low), abs(high))
        if not low - slack <= number <= high + slack:
            raise FieldError(f"is outside {self.low} to {self.high}", f"check number and unit: {self.right}")
        return number

    def _number(self, value: Any) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            if self.plain and abs(value) <= sys.float_info.max:
                return float(value)
            raise FieldError("has no unit", self.right)
        if not isinstance(value, str):
            raise FieldError(f"must be {self.what} in quotes", self.right)
        return self._parsed(spaced(value))

    def _parsed(self, text: str) -> float:
        match = _QUANTITY.fullmatch(text)
        if match is None:
            raise FieldError(f"cannot be read as {self.what}", self.right)
        if _THOUSANDS.fullmatch(match["number"]):
            raise FieldError("has a comma that may part thousands or decimals", f"use a decimal point: {self.right}")
        number = float(match["number"].replace(",", ".").replace("−", "-"))
        if not math.isfinite(number):
            raise FieldError("must be a finite number", self.right)
        if match["unit"]:
            return self._converted(text, match["unit"])
        if self.plain:
            return number
        raise FieldError("has no per-cent sign" if self.unit == SHARE else "has no unit", self.right)

    def _converted(self, text: str, unit: str) -> float:
        try:
            dimension = dimension_name(parse_unit(unit, text))
        except BudgetError:
            raise FieldError("has a unit that is not known", self.right) from None
        try:
            return parse_quantity(text, self.unit)
        except BudgetError:
            said = "" if dimension.startswith("a quantity") else f"{dimension}, "
            raise FieldError(f"is {said}not {self.what}", self.right) from None


@dataclass(frozen=True)
class Share(Quantity):
    """A share that may also be written as a fraction, ``"2/3"``."""

    def _parsed(self, text: str) -> float:
        over = re.fullmatch(r"(\d{1,3}) ?/ ?([1-9]\d{0,2})", text)
        return int(over[1]) / int(over[2]) if over else super()._parsed(text)


@dataclass(frozen=True)
class Number(Named):
    """A plain number between limits; numbers with a per-cent sign count as shares where `percent` says so."""

    low: float
    high: float
    percent: bool = False

    def __call__(self, value: Any) -> float:
        """Read a value, or refuse it."""
        if self.percent and isinstance(value, str) and value.strip().endswith("%"):
            value = Quantity(self.what, SHARE, "95 %", "-1000 %", "1000 %")(value)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise FieldError("must be a plain number without quotes or unit", self.right)
        if isinstance(value, float) and not math.isfinite(value):
            raise FieldError("must be a finite number", self.right)
        if value < 0 <= self.low:
            raise FieldError("must not be negative", self.right)
        if not self.low <= value <= self.high:
            raise FieldError(f"is outside {self.low:g} to {self.high:g}", self.right)
        return float(value)


@dataclass(frozen=True)
class Count(Named):
    """A whole number between limits."""

    low: int
    high: int

    @property
    def right(self) -> str:
        """What would be right."""
        return f"write {self.what} from {self.low} to {self.high}, such as {self.written}"

    def __call__(self, value: Any) -> int:
        """Read a value, or refuse it."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise FieldError("must be a whole number without quotes", self.right)
        if not self.low <= value <= self.high:
            raise FieldError(f"is outside {self.low} to {self.high}", self.right)
        return value


@dataclass(frozen=True)
class Text(Named):
    """A text in quotes; an empty one only where `blank` says so."""

    blank: bool = False

    def __call__(self, value: Any) -> str:
        """Read a value, or refuse it."""
        if not isinstance(value, str):
            raise FieldError("must be a text in quotes", self.right)
        text = spaced(value)
        if not text and not self.blank:
            raise FieldError("is empty", self.right)
        if len(text) > _LONGEST_TEXT:
            raise FieldError(f"is longer than {_LONGEST_TEXT} characters", f"shorten it: {self.right}")
        if not text.isprintable():
            raise FieldError("holds characters that cannot be printed", self.right)
        return text


@dataclass(frozen=True)
class Choice(Kind):
    """One of a few words, or another word for one of them; `what` says what they are."""

    words: tuple[str, ...]
    others: Mapping[str, str] = field(default_factory=dict)
    what: str = "one of the words"

    @property
    def right(self) -> str:
        """What would be right."""
        *most, last = (f'"{word}"' for word in self.words)
        return f"write {', '.join(most)} or {last}" if most else f"write {last}"

    def __call__(self, value: Any) -> str:
        """Read a value, or refuse it."""
        if not isinstance(value, str):
            raise FieldError("must be a word in quotes", self.right)
        word = spaced(value).casefold()
        word = self.others.get(word, word)
        if word not in self.words:
            raise FieldError(f"is not {self.what} known here", meant(word, [*self.words, *self.others]) + self.right)
        return word


@dataclass(frozen=True)
class Flag(Kind):
    """Yes or no."""

    @property
    def right(self) -> str:
        """What would be right."""
        return "write true or false without quotes"

    def __call__(self, value: Any) -> bool:
        """Read a value, or refuse it."""
        if not isinstance(value, bool):
            raise FieldError("must be true or false", self.right)
        return value


@dataclass(frozen=True)
class Owned(Kind):
    """Whether, or how many, are in the cupboard; true means enough for every group."""

    @property
    def right(self) -> str:
        """What would be right."""
        return "write true, false, or the number in the cupboard"

    def __call__(self, value: Any) -> int:
        """Read a value, or refuse it."""
        if isinstance(value, bool):
            return EVERY_GROUP if value else 0
        if not isinstance(value, int):
            raise FieldError("must be true, false or a whole number", self.right)
        if value < 0:
            raise FieldError("must not be negative", self.right)
        return min(value, EVERY_GROUP)


@dataclass(frozen=True)
class Listing(Kind):
    """A list with something in it, each entry `of` a kind; each value `once` where so said."""

    example: str
    of: Kind
    once: bool = False

    @property
    def right(self) -> str:
        """What would be right."""
        return f"write a list such as {self.example}"

    def __call__(self, value: Any) -> tuple[Any, ...]:
        """Read a value, or refuse it."""
        if not isinstance(value, list | tuple):
            raise FieldError("must be a list in square brackets", self.right)
        if not value:
            raise FieldError("is an empty list", self.right)
        if len(value) > _LONGEST_TEXT:
            raise FieldError(f"has more than {_LONGEST_TEXT} entries", self.right)
        return tuple(value)


class Nested(Kind):
    """A table that is read by itself."""


@dataclass(frozen=True)
class Among(Kind):
    """A word of a list, `words`, that is written elsewhere: the reader of the file puts a ``Choice`` in its place."""

    words: str


@dataclass(frozen=True)
class PowerSettings(Kind):
    """``"none"``, ``"stepless"``, or the list of powers of a stepped controller, each `of` a kind."""

    of: Kind

    @property
    def right(self) -> str:
        """What would be right."""
        return 'write "none", "stepless" or a list of powers such as ["0.5 kW", "1 kW"]'

    def __call__(self, value: Any) -> str | tuple[float, ...]:
        """Read a value, or refuse it."""
        if isinstance(value, str):
            word = value.strip().casefold()
            if word in {"none", "stepless"}:
                return word
            raise FieldError("is not a control known here", self.right)
        if not isinstance(value, list) or not value:
            raise FieldError("must be a word or a list of powers", self.right)
        return tuple(self.of(power) for power in value)


class EachMass(float):
    """Limit of error of each mass of a set. [kg]"""

    __slots__ = ()


@dataclass(frozen=True)
class MassAccuracy(Kind):
    """A share such as "0.5 %", or a mass such as "0.2 g" that holds for each mass."""

    @property
    def right(self) -> str:
        """What would be right."""
        return 'write a share such as "0.5 %", or the limit of each mass such as "0.2 g"'

    def __call__(self, value: Any) -> float:
        """Read a value, or refuse it."""
        if not isinstance(value, str):
            raise FieldError("must be a share or a mass in quotes", self.right)
        if value.strip().endswith("g"):
            return EachMass(Quantity("a mass", "0.2 g", "kg", "0 g", "1 kg")(value))
        return Quantity("a share", "0.5 %", SHARE, "0 %", "20 %")(value)
