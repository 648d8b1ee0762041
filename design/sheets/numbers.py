"""Numbers as people type them: read, or refused with what to do about it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from design.sheets.headings import UNITS, SheetColumn
from design.sheets.readings import TypedNumber

_NUMBER = re.compile(r"([-+]?)(\d*)(?:([.,])(\d*))?(?:[eE]([-+]?\d{1,2}))?")
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{2}(?:[.,]\d+)?)")
_FORMULA = re.compile(r"[=@]|[-+](?![\d.,∞])")
_DIGITS = re.compile(r"([-+]?[\d.,]+(?:[eE][-+]?\d+)?)(.*)")
_SPACES = re.compile(r"[\s\u00a0\u202f'’]")


@dataclass(frozen=True)
class Refused:
    """Why a cell is no number: kind of slip, and the key of what to do about it."""

    code: str
    reason: str


FORMULA = Refused("formula_in_cell", "formula_in_cell")
TWO_WAYS = Refused("ambiguous_number", "ambiguous_number")
OTHER_UNIT = Refused("not_a_number", "other_unit")
NO_NUMBER = Refused("not_a_number", "not_a_number")
TOO_LARGE = Refused("not_a_number", "too_large")


def number_of(text: str, column: SheetColumn, *, comma_is_decimal: bool) -> TypedNumber | Refused:
    """
    Read a number: decimal comma or point, spaces between thousands, minutes and seconds, or a unit behind it.

    ``text`` is as typed, not empty; ``comma_is_decimal`` says that the sheet's commas can only be decimal commas.
    """
    if _FORMULA.match(text):
        return FORMULA
    clock = _CLOCK.fullmatch(text)
    if clock and column.quantity == "time":
        return _from_clock(text, clock)
    plain = _SPACES.sub("", text.replace("\u2212", "-"))
    split = _DIGITS.fullmatch(plain)
    digits, unit = (split[1], split[2]) if split else (plain, "")
    factor = _factor(unit, column)
    if factor is None:
        return OTHER_UNIT
    thousands = re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", digits) and not comma_is_decimal
    if thousands or ("," in digits and "." in digits):
        return TWO_WAYS
    match = _NUMBER.fullmatch(digits)
    return _number(text, match, factor) if match and (match[2] or match[4]) else NO_NUMBER


def _factor(unit: str, column: SheetColumn) -> float | None:
    if not unit:
        return column.factor
    word = re.sub(r"[/·]", "_per_" if "/" in unit else "_", unit.casefold()).replace("⁻¹", "_1")
    return UNITS[column.quantity].get(word)


def _number(text: str, match: re.Match[str], factor: float) -> TypedNumber | Refused:
    sign, whole, fraction, power = match[1], match[2] or "0", match[4] or "", int(match[5] or 0)
    try:
        value = float(f"{sign}{whole}.{fraction or 0}e{power}") * factor
    except ValueError:
        return NO_NUMBER
    step = 10.0 ** (power - len(fraction))
    return TypedNumber(text, value, step * factor, factor) if math.isfinite(value) else TOO_LARGE


def _from_clock(text: str, clock: re.Match[str]) -> TypedNumber:
    seconds = clock[3].replace(",", ".")
    value = 3600.0 * int(clock[1] or 0) + 60.0 * int(clock[2]) + float(seconds)
    return TypedNumber(text, value, 10.0 ** -len(seconds.partition(".")[2]), 1.0)
