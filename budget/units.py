"""Units of values in files: a registry of our own, in which a count is a dimension."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Any

from budget.errors import BudgetError

if TYPE_CHECKING:
    import pint

_NUMBER = re.compile(r"\s*([-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+−]?\d+)?)\s*(.*)", re.DOTALL)
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_DEFINITIONS = (
    "count = [count] = _ = counts",
    "revolution = count = rev = revolutions = turn = turns = revs",
    "pulse = count = imp = impulse = pulses = impulses",
)
_KINDS = (
    ("kg", "a mass"),
    ("m", "a length"),
    ("m**2", "an area"),
    ("m**3", "a volume"),
    ("s", "a time"),
    ("K", "a temperature"),
    ("A", "a current"),
    ("count", "a count"),
    ("", "a share or plain number"),
    ("J", "an energy"),
    ("W", "a power"),
    ("Pa", "a pressure"),
    ("V", "a voltage"),
    ("ohm", "a resistance"),
    ("count/J", "counts per energy"),
    ("J/count", "an energy per count"),
    ("kg/m**3", "a density"),
    ("J/kg", "an energy per mass"),
    ("J/kg/K", "a specific heat capacity"),
    ("W/m/K", "a thermal conductivity"),
    ("W/m**2/K", "a heat-transfer coefficient"),
    ("m/s", "a speed"),
    ("m/s**2", "an acceleration"),
    ("1/s", "a frequency"),
)


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Return the registry: pint's units, with counts (turns, pulses) as a dimension of their own."""
    import pint

    units: pint.UnitRegistry[Any] = pint.UnitRegistry(
        autoconvert_offset_to_baseunit=True, cache_folder=None, on_redefinition="ignore"
    )
    for definition in _DEFINITIONS:
        units.define(definition)
    return units


def parse_quantity(text: str, unit: str) -> float:
    """
    Return the value of a quantity written with its unit, in another unit.

    Parameters
    ----------
    text : str
        A number, decimal point or comma, and a unit: "0.1 g", "375 rev/kWh", "2 %", "21 degC".
    unit : str
        Unit of the result; "" for a share.

    Raises
    ------
    BudgetError
        If the text has no number, an unknown unit, or another dimension.

    Examples
    --------
    >>> parse_quantity("0,1 g", "kg"), round(parse_quantity("21 degC", "K"), 2), parse_quantity("2 %", "")
    (0.0001, 294.15, 0.02)
    """
    if not isinstance(text, str):
        raise BudgetError(f'value: must be a number with its unit, such as "{_example(unit)}" (got {text!r})')
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise BudgetError(f'value: must be a number with its unit, such as "{_example(unit)}" (got {text!r})')
    number = float(match[1].replace(",", ".").replace("−", "-"))
    if not math.isfinite(number):
        raise BudgetError(f"value: must be a finite number (got {text!r})")
    return convert(number, match[2], unit, text)


def convert_between(text: str, unit: str, difference: bool = False) -> float:
    """
    Return a value written with a unit in another unit; a bare number is already in it.

    Parameters
    ----------
    text : str
        A number with or without a unit.
    unit : str
        Unit of the result.
    difference : bool
        True for a difference or width: 1 degC is then 1 K.
    """
    match = _NUMBER.fullmatch(text)
    if match is not None and not match[2].strip():
        return float(match[1].replace(",", ".").replace("−", "-"))
    if not difference:
        return parse_quantity(text, unit)
    return parse_quantity(_as_difference(text), _as_difference(unit))


def _as_difference(text: str) -> str:
    return re.sub(r"°C|℃|\bdegC\b|\bcelsius\b", "K", text)


def convert(number: float, unit: str, wanted: str, said: str) -> float:
    """Convert a number between units; ``said`` is what messages quote."""
    given, target = parse_unit(unit, said), parse_unit(wanted, wanted)
    if given.dimensionality != target.dimensionality:
        raise BudgetError(
            f"value: must be {dimension_name(target)}, such as \"{_example(wanted)}\" "
            f"(got {said!r}, {dimension_name(given)})"
        )
    return float(registry().Quantity(number, given).to(target).magnitude)


def parse_unit(unit: str, said: str) -> Any:
    """
    Return a pint unit.

    Raises
    ------
    BudgetError
        If the unit is not known.
    """
    import pint
    from tokenize import TokenError

    try:
        return registry().parse_units(spelled(unit))
    except (pint.errors.PintError, ValueError, TypeError, AttributeError, TokenError, SyntaxError, AssertionError):
        raise BudgetError(f"value: must have a unit that is known (got {said!r})") from None


def spelled(unit: str) -> str:
    """Spell a unit as pint reads it: degree, percent and micro signs, raised digits, dots between factors."""
    text = unit.strip().translate(_SUPERSCRIPTS)
    for sign, word in (
        ("°C", "degC"), ("℃", "degC"), ("‰", "permille"), ("%", "percent"), ("µ", "u"), ("μ", "u"), ("Ω", "ohm"),
        ("Ω", "ohm"), ("·", "*"), ("⋅", "*"), ("×", "*"), ("°", "degree"),
    ):  # fmt: skip
        text = text.replace(sign, word)
    text = re.sub(r"(?<=[A-Za-z])\^?(-?\d+)", r"**\1", text)
    return re.sub(r"\bkWh\b", "kilowatt_hour", re.sub(r"\bWh\b", "watt_hour", text))


def dimension_name(unit: Any) -> str:
    """Say the dimension of a unit in words where there is one."""
    return _kinds().get(unit.dimensionality, f"a quantity in {unit:~}")


@cache
def _kinds() -> dict[Any, str]:
    return {registry().parse_units(unit).dimensionality: name for unit, name in _KINDS}


def _example(unit: str) -> str:
    return f"1.5 {unit}" if unit else "2 %"
