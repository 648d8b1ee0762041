"""Units of values in files: a registry of our own, in which a count is a dimension."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
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
    "becquerel = 1 / second = Bq",
    "pulse = count = imp = impulse = pulses = impulses",
)
_BASES = {
    "[mass]": "kilogram",
    "[length]": "metre",
    "[time]": "second",
    "[temperature]": "kelvin",
    "[current]": "ampere",
    "[substance]": "mole",
    "[luminosity]": "candela",
    "[count]": "count",
    "[information]": "bit",
}
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
    Return the value of a quantity written with its unit ("0.1 g", "375 rev/kWh", "2 %"), in another unit ("": a share).

    Raises
    ------
    BudgetError
        If the text has no number, an unknown unit, or another dimension.

    Examples
    --------
    >>> parse_quantity("0,1 g", "kg"), round(parse_quantity("21 degC", "K"), 2), parse_quantity("2 %", "")
    (0.0001, 294.15, 0.02)
    """
    match = _NUMBER.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise BudgetError(f'value: must be a number with its unit, such as "{_example(unit)}" (got {text!r})')
    number = float(match[1].replace(",", ".").replace("−", "-"))
    if not math.isfinite(number):
        raise BudgetError(f"value: must be a finite number (got {text!r})")
    return convert(number, match[2], unit, text)


def convert_between(text: str, unit: str, difference: bool = False) -> float:
    """Return a value in a unit; a bare number is already in it; for a ``difference`` 1 degC is 1 K."""
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
            f'value: must be {dimension_name(target)}, such as "{_example(wanted)}" '
            f"(got {said!r}, {dimension_name(given)})"
        )
    return float(registry().Quantity(number, given).to(target).magnitude)


def parse_unit(unit: str, said: str) -> Any:
    """Return a pint unit; refuse one that is not known, in the words ``said``."""
    from tokenize import TokenError

    import pint

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


@dataclass(frozen=True)
class Measure:
    """Dimensions with their exponents, and the size of a unit in base units."""

    dimensions: tuple[tuple[str, float], ...]
    size: float


def measure(unit: str) -> Measure:
    """
    Return the dimensions and size of a unit, for following it through an equation.

    Temperatures count as differences (a degree Celsius is a kelvin), and a word that is no known unit is a
    dimension of its own, so that readings in "div" or "drops" can be followed too.

    Raises
    ------
    BudgetError
        If the text is no product of units.

    Examples
    --------
    >>> measure("drops/g")
    Measure(dimensions=(('[mass]', -1.0), ('drops', 1.0)), size=1000.0)
    """
    from pint.util import ParserHelper

    text = _as_difference(spelled(unit))
    if text in ("", "-", "1"):
        return Measure((), 1.0)
    try:
        product = ParserHelper.from_string(text)
        size = _plain(product.scale)
        powers = {word: _plain(power) for word, power in product.items()}
    except Exception:  # noqa: BLE001 pint and the tokenizer raise many kinds for text they cannot read
        raise BudgetError(f"unit: must be a product of units such as kg*m/s**2 (got {unit!r})") from None
    dimensions: dict[str, float] = {}
    for word, power in powers.items():
        factor, parts = _of_word(word)
        size *= factor**power
        for name, exponent in parts.items():
            dimensions[name] = dimensions.get(name, 0.0) + power * exponent
    return Measure(sorted_dimensions(dimensions), size)


_LEVELS = frozenset({"decibel", "bel", "neper", "decibelmilliwatt", "decibelmicrowatt"})
"""Units of logarithms: numbers in an equation, as in 10**(L/10)."""


def sorted_dimensions(dimensions: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    """Return dimensions in order of name, without those that cancel."""
    return tuple(sorted((name, round(power, 9)) for name, power in dimensions.items() if abs(power) > 1e-9))


def _of_word(word: str) -> tuple[float, dict[str, float]]:
    """Size and dimensions of one unit by name."""
    import pint

    try:
        if registry().get_name(word) in _LEVELS:
            return 1.0, {}
        unit = registry().parse_units(word)
        dimensions = {str(name): _plain(power) for name, power in unit.dimensionality.items()}
        base = registry().Quantity(1.0, "")
        for name, power in dimensions.items():
            base = base * registry().Quantity(1.0, _BASES[name]) ** power
        return float(registry().Quantity(1.0, unit).to(base.units).magnitude), dimensions
    except (pint.errors.PintError, AttributeError, ValueError, TypeError, KeyError):
        return 1.0, {word: 1.0}


def _plain(number: Any) -> float:
    return float(number)
