"""Numbers as people write them: value and uncertainty rounded together, signs, units and thin spaces."""

from __future__ import annotations

import math
import re
from decimal import Decimal

from budget.rounding import at, decimal, to_significant, uncertainty_to_significant

THIN = "\u202f"
"""Narrow no-break space: between a number and its unit, and between groups of three digits."""
MINUS = "\u2212"
SMALLEST_PLAIN = -5
"""Power of ten below which value and uncertainty are written with a common one."""
PLUS_MINUS = "±"


def round_together(estimate: float, standard_uncertainty: float, *, digits: int = 2) -> tuple[str, str]:
    """
    Round an estimate and its uncertainty to the same place.

    Parameters
    ----------
    estimate : float
        Estimate, in any unit.
    standard_uncertainty : float
        Standard or expanded uncertainty, in the same unit; not negative.
    digits : int
        Significant digits of the uncertainty, 1 or 2.

    Returns
    -------
    tuple of str
        Estimate and uncertainty, with a true minus sign and thin spaces between groups of three digits.

    Raises
    ------
    ValueError
        If a number is not finite, the uncertainty is negative or ``digits`` is not 1 or 2.

    References
    ----------
    .. [1] JCGM 100:2008, 7.2.6: an uncertainty is given to at most two significant digits, and estimates
       are rounded to be consistent with it.
    .. [2] EA-4/02, 6.3: an uncertainty that rounding would lower by more than 5 % is rounded up (from memory).

    Examples
    --------
    >>> round_together(10.05762, 0.027)
    ('10.058', '0.027')
    """
    _check(estimate, standard_uncertainty, digits)
    value, uncertainty, power = _together(estimate, standard_uncertainty, digits)
    return value + power, uncertainty + power


def _check(estimate: float, standard_uncertainty: float, digits: int) -> None:
    if digits not in (1, 2):
        raise ValueError(f"digits must be 1 or 2 (got {digits!r})")
    if not (math.isfinite(estimate) and math.isfinite(standard_uncertainty)):
        raise ValueError(f"a number to be printed must be finite (got {estimate!r} ± {standard_uncertainty!r})")
    if standard_uncertainty < 0:
        raise ValueError(f"an uncertainty must not be negative (got {standard_uncertainty!r})")


def _together(estimate: float, standard_uncertainty: float, digits: int) -> tuple[str, str, str]:
    """Round to the same place; the third text is the power of ten that both are to be multiplied by, if any."""
    if standard_uncertainty == 0:
        return grouped(format(decimal(estimate).normalize(), "f")), "0", ""
    uncertainty = uncertainty_to_significant(decimal(standard_uncertainty), digits)
    exponent = uncertainty.adjusted() - digits + 1
    value = at(decimal(estimate), exponent)
    uncertainty = at(uncertainty, exponent)
    largest = max(value.adjusted() if value else uncertainty.adjusted(), uncertainty.adjusted())
    power = ""
    if largest < SMALLEST_PLAIN:
        value, uncertainty = value.scaleb(-largest), uncertainty.scaleb(-largest)
        power = f"{THIN}×{THIN}10{_superscript(largest)}"
    return grouped(_plain(value)), grouped(_plain(uncertainty)), power


def with_uncertainty(estimate: float, standard_uncertainty: float, unit: str = "", *, digits: int = 2) -> str:
    """Write ``estimate ± uncertainty unit``, rounded together; see `round_together`."""
    _check(estimate, standard_uncertainty, digits)
    value, uncertainty, power = _together(estimate, standard_uncertainty, digits)
    if not spelled(unit) and not power:
        return f"{value} {PLUS_MINUS} {uncertainty}"
    return f"({value} {PLUS_MINUS} {uncertainty}){power}{behind(unit)}"


def with_standard_uncertainty(estimate: float, standard_uncertainty: float, unit: str = "") -> str:
    """
    Write an estimate and u without ±, which is for intervals (JCGM 100, 7.2.2, note).

    Examples
    --------
    >>> with_standard_uncertainty(61.23, 2.5)
    '61.2 (u = 2.5)'
    """
    value, uncertainty = round_together(estimate, standard_uncertainty)
    return f"{value}{behind(unit)} (u = {uncertainty}{behind(unit)})"


def significant(value: float, digits: int) -> str:
    """Round to a number of significant digits; very large and very small numbers get a power of ten."""
    number = to_significant(decimal(value), digits)
    if number == 0:
        return "0"
    if -5 <= number.adjusted() < 7:
        return grouped(_plain(at(number, number.adjusted() - digits + 1)))
    mantissa = _plain(at(number.scaleb(-number.adjusted()), 1 - digits))
    return f"{mantissa}{THIN}×{THIN}10{_superscript(number.adjusted())}"


def fixed(value: float, decimals: int) -> str:
    """Round to a number of decimals."""
    return grouped(_plain(at(decimal(value), -decimals)))


def in_unit(value: float, unit: str, digits: int = 3) -> str:
    """Write a value to some significant digits, without closing zeros, and its unit after a thin space."""
    return f"{_without_closing_zeros(significant(value, digits))}{behind(unit)}"


def percent(value: float) -> str:
    """Write a percentage: two decimals below 1 %, one below 100 %, none above."""
    return f"{_percent_number(abs(value), negative=value < 0)}{THIN}%"


def signed_percent(value: float) -> str:
    """Write a percentage with its sign, also where it is positive; what rounds to nothing has none."""
    text = percent(value)
    if text.startswith(MINUS) or not any(digit in text for digit in "123456789"):
        return text
    return f"+{text}"


def percent_of_share(share: float) -> str:
    """Write a share of one (a probability, a part of the variance) in per cent."""
    return percent_text(share * 100)


def percent_text(value: float) -> str:
    """Write a percentage without digits that say nothing: 95 %, 99.5 %, 0.4 %."""
    return in_unit(float(f"{value:.6g}"), "%", 2 if abs(value) < 99 else 4)


def minutes(value: float) -> str:
    """Write a time in whole minutes."""
    return f"{fixed(value, 0)}{THIN}min"


def money(amount: float, currency: str) -> str:
    """Write an amount with the label of its currency behind it; whole amounts without decimals."""
    whole = float(amount).is_integer()
    return f"{fixed(amount, 0 if whole else 2)}{THIN}{currency}".rstrip()


def grouped(text: str) -> str:
    """Put thin spaces between groups of three digits before the decimal mark, from five digits on."""
    sign = text[0] if text[:1] in {MINUS, "-", "+"} else ""
    whole, mark, rest = text[len(sign) :].partition(".")
    if len(whole) > 4 and whole.isdigit():
        head = len(whole) % 3
        groups = ([whole[:head]] if head else []) + [whole[i : i + 3] for i in range(head, len(whole), 3)]
        whole = THIN.join(groups)
    return f"{sign}{whole}{mark}{rest}"


def behind(unit: str) -> str:
    """Write a unit to stand behind a number; nothing where there is none."""
    written = spelled(unit)
    return f"{THIN}{written}" if written else ""


def spelled(unit: str) -> str:
    """
    Write a unit as print has it; the unit 1 is not written (ISO 80000-1, 7.2.3).

    Examples
    --------
    >>> spelled("kg/m^3"), spelled("J*s**-1"), spelled("1")
    ('kg/m³', 'J·s⁻¹', '')
    """
    if unit.strip() == "1":
        return ""
    raised = re.sub(r"(?:\^|\*\*)(-?\d+)", lambda match: _superscript(int(match.group(1))), unit)
    return raised.replace("*", "·")


def _percent_number(size: float, *, negative: bool) -> str:
    decimals = 2 if size < 0.995 else 1 if size < 99.95 else 0
    text = fixed(size, decimals)
    if not any(digit in text for digit in "123456789"):
        return "0" if size == 0 else text
    return f"{MINUS}{text}" if negative else text


def _plain(number: Decimal) -> str:
    if number == 0:
        number = abs(number)
    text = format(number, "f")
    return text.replace("-", MINUS)


def _without_closing_zeros(text: str) -> str:
    head, mark, tail = text.partition("×")
    head = head.rstrip(THIN)
    if "." in head:
        head = head.rstrip("0").rstrip(".")
    return f"{head}{THIN}×{tail}" if mark else head


def _superscript(exponent: int) -> str:
    return str(exponent).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def finite(value: float) -> bool:
    """Tell whether a number can be printed."""
    return math.isfinite(value)
