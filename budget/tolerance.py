"""Numerical tolerance, and rounding of a statement."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal, localcontext


def numerical_tolerance(standard_uncertainty: float, digits: int = 2) -> float:
    """
    Return half a unit in the last of the significant digits of a standard uncertainty, JCGM 101, 7.9.2.

    Examples
    --------
    >>> numerical_tolerance(0.00035), numerical_tolerance(2.0, digits=1)
    (5e-06, 0.5)
    """
    if standard_uncertainty <= 0.0 or not math.isfinite(standard_uncertainty):
        return 0.0
    exponent = int(f"{standard_uncertainty:.{digits - 1}e}".split("e")[1]) - (digits - 1)
    return float(f"5e{exponent - 1}")


def rounded_statement(estimate: float, uncertainty: float, digits: int = 2) -> tuple[Decimal, Decimal]:
    """
    Round an uncertainty to a few significant digits and its estimate to the same place, JCGM 100, 7.2.6.

    Parameters
    ----------
    estimate, uncertainty : float
        Of one quantity; standard or expanded uncertainty.
    digits : int
        Significant digits kept.

    Returns
    -------
    estimate, uncertainty : decimal.Decimal
        With their trailing zeros; as they are where the uncertainty is 0 or not finite.

    Notes
    -----
    The clause leaves room for sense: it rounds 10.47 up to 11 and 28.05 down to 28. Here an uncertainty is rounded
    up where rounding to the nearest would take away more than 1 % of it.

    Examples
    --------
    >>> print(*rounded_statement(10.05762, 0.027), *rounded_statement(100.0, 10.47), *rounded_statement(0.0, 28.05))
    10.058 0.027 100 11 0 28
    """
    exact = Decimal(repr(float(uncertainty)))
    if not (math.isfinite(uncertainty) and math.isfinite(estimate)) or uncertainty <= 0.0:
        return Decimal(repr(float(estimate))), exact
    place = Decimal(1).scaleb(exact.adjusted() - digits + 1)
    with localcontext() as context:
        context.prec = 400
        rounded = exact.quantize(place, ROUND_HALF_EVEN)
        if rounded < exact * Decimal("0.99"):
            rounded = exact.quantize(place, ROUND_CEILING)
        place = Decimal(1).scaleb(rounded.adjusted() - digits + 1)  # 0.0996 becomes 0.10
        rounded = rounded.quantize(place, ROUND_HALF_EVEN)
        value = Decimal(repr(float(estimate))).quantize(place, ROUND_HALF_EVEN)
    if place.as_tuple().exponent > 0:  # type: ignore[operator]
        return Decimal(int(value)), Decimal(int(rounded))
    return value, rounded
