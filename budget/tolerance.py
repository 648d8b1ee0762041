"""Numerical tolerance, and rounding of a statement."""

from __future__ import annotations

import math


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
