"""What one row of the table of evidence says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Evidence:
    """
    One default.

    Parameters
    ----------
    key : str
        Name in the code and in reports.
    quantity : str
        What it is.
    value : float
        Best estimate. [unit]
    spread : float
        Standard uncertainty (normal, lognormal), half-width (rectangular), or factor where the quantity says so.
        [unit]
    family : {"normal", "lognormal", "rectangular", "constant"}
        Distribution.
    unit : str
        Unit of value and spread.
    low, high : float
        Range in which the value may be set. [unit]
    source : str
        Where it comes from, and how thin that is.
    compared : str
        How it compares with published classroom data.
    """

    key: str
    quantity: str
    value: float
    spread: float
    family: Literal["normal", "lognormal", "rectangular", "constant"]
    unit: str
    low: float
    high: float
    source: str
    compared: str = "not compared with published classroom data"
