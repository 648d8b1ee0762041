"""Numbers as people type them into a readings sheet."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from design.sheets.readings import Number
from design.sheets.readings_columns import UNITS, Column

_NUMBER = re.compile(r"([-+]?)(\d*)(?:([.,])(\d*))?(?:[eE]([-+]?\d{1,2}))?")
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{2}(?:[.,]\d+)?)")
_FORMULA = re.compile(r"[=@]|[-+](?![\d.,∞])")
_SPACES = re.compile(r"[\s\u00a0\u202f'’]")


@dataclass(frozen=True)
class Refused:
    """Why a cell is no number: kind of slip, and what to do about it."""

    code: str
    reason: str


def number_of(text: str, column: Column, *, comma_is_decimal: bool) -> Number | Refused:
    """
    Read a number: decimal comma or point, spaces between thousands, minutes and seconds, or a unit behind it.

    Parameters
    ----------
    text : str
        As typed, not empty.
    column : Column
        Where it stands.
    comma_is_decimal : bool
        True where the sheet's commas can only be decimal commas.

    Returns
    -------
    Number or Refused
    """
    if _FORMULA.match(text):
        return Refused("formula_in_cell", "starts like a formula; type the number that the formula gives")
    clock = _CLOCK.fullmatch(text)
    if clock and column.quantity == "time":
        return _from_clock(text, clock)
    plain = _SPACES.sub("", text.replace("\u2212", "-"))
    digits, unit = _split_unit(plain)
    factor = _factor(unit, column)
    if factor is None:
        return Refused("not_a_number", "is not a number in the unit of the heading; type the number alone")
    thousands = re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", digits) and not comma_is_decimal
    if thousands or ("," in digits and "." in digits):
        reason = "can be read in two ways: which is the decimal mark? Type only that one"
        return Refused("ambiguous_number", reason)
    match = _NUMBER.fullmatch(digits)
    if match is None or not (match[2] or match[4]):
        return Refused("not_a_number", "is not a number; type digits and one decimal mark")
    return _number(text, match, factor)


def _split_unit(plain: str) -> tuple[str, str]:
    match = re.fullmatch(r"([-+]?[\d.,]+(?:[eE][-+]?\d+)?)(.*)", plain)
    return (match[1], match[2]) if match else (plain, "")


def _factor(unit: str, column: Column) -> float | None:
    if not unit:
        return column.factor
    word = re.sub(r"[/·]", "_per_" if "/" in unit else "_", unit.casefold()).replace("⁻¹", "_1")
    return UNITS[column.quantity].get(word)


def _number(text: str, match: re.Match[str], factor: float) -> Number | Refused:
    sign, whole, fraction, power = match[1], match[2] or "0", match[4] or "", int(match[5] or 0)
    try:
        value = float(f"{sign}{whole}.{fraction or 0}e{power}")
    except ValueError:
        return Refused("not_a_number", "is not a number; type digits and one decimal mark")
    step = 10.0 ** (power - len(fraction))
    if not math.isfinite(value * factor):
        return Refused("not_a_number", "is too large to be a reading")
    return Number(text, value * factor, step * factor, factor)


def _from_clock(text: str, clock: re.Match[str]) -> Number:
    seconds = clock[3].replace(",", ".")
    fraction = len(seconds.partition(".")[2])
    value = 3600.0 * int(clock[1] or 0) + 60.0 * int(clock[2]) + float(seconds)
    return Number(text, value, 10.0**-fraction, 1.0)
