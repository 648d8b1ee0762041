"""Numbers rounded half up, as the trade does, on the digits that a number is written with."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Context, Decimal

WIDE_ENOUGH = Context(prec=700, rounding=ROUND_HALF_UP)
"""Digits for any two finite floats, 1.8e308 and 4.9e-324, rounded to the same place."""
MOST_LOWERED = Decimal("0.05")
"""Part of itself by which rounding may lower an uncertainty, EA-4/02, 6.3 (from memory)."""


def decimal(value: float) -> Decimal:
    """Return a number as it is written; refuse one that is not finite."""
    if not math.isfinite(value):
        raise ValueError(f"a number to be printed must be finite (got {value!r})")
    return Decimal(repr(float(value)))


def at(number: Decimal, exponent: int) -> Decimal:
    """Round to a power of ten, half up."""
    return number.quantize(Decimal((0, (1,), exponent)), context=WIDE_ENOUGH)


def to_significant(number: Decimal, digits: int) -> Decimal:
    """Round to significant digits; 9.96 becomes 10 in two digits, not 10.0."""
    if number == 0:
        return number
    once = at(number, number.adjusted() - digits + 1)
    return at(once, once.adjusted() - digits + 1)


def uncertainty_to_significant(number: Decimal, digits: int) -> Decimal:
    """
    Round an uncertainty to significant digits, upwards where it would be lowered by more than 5 %.

    Examples
    --------
    >>> uncertainty_to_significant(Decimal("1.4"), 1), uncertainty_to_significant(Decimal("1.04"), 2)
    (Decimal('2'), Decimal('1.0'))
    """
    rounded = to_significant(number, digits)
    if rounded < (1 - MOST_LOWERED) * number:
        step = Decimal((0, (1,), rounded.adjusted() - digits + 1))
        rounded = to_significant(rounded + step, digits)
    return rounded


def short(value: float, digits: int = 2) -> str:
    """Write a number to some significant digits in plain characters."""
    number = value if not math.isfinite(value) else float(to_significant(decimal(value), digits))
    return f"{number:.{digits}g}"
