"""Whether the unit of an equation comes out as the measurand's, followed through every operation."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TypeAlias

from budget.errors import BudgetError
from budget.model.equation import Program
from budget.model.measurement import MeasurementModel
from budget.quantities.units import Measure, measure, sorted_dimensions

Followed: TypeAlias = "Measure | None"
"""``None``: not known, because an input has no unit; a literal 0 too, which fits any unit."""
PLAIN = Measure((), 1.0)


def check_units(model: MeasurementModel, intermediates: Mapping[str, str]) -> None:
    """
    Refuse an equation whose unit is not the measurand's.

    Inputs without a unit are taken on trust, as is everything computed with them; ``intermediates`` are the units
    stated for named steps.

    Raises
    ------
    BudgetError
        If quantities of different kinds are added or compared, a function gets a quantity that is no plain
        number, or the result differs from the stated unit in kind, or in size by a factor that no number in the
        equation explains (grams where kilograms are stated).
    """
    if not model.unit and not any(quantity.unit for quantity in model.inputs):
        return
    units = {symbol: measure(q.unit) for symbol, q in zip(model.symbols, model.inputs, strict=True) if q.unit}
    checker = _Checker(model, units)
    checker.run()
    stated = {f"intermediate {symbol}": (symbol, unit) for symbol, unit in intermediates.items()}
    if model.unit:
        stated[f"equation of {model.symbol}"] = (model.program.result, model.unit)
    for where, (name, unit) in stated.items():
        checker.compare(where, name, unit)


def celsius_note(model: MeasurementModel) -> str:
    """
    Say which temperatures in degrees Celsius are multiplied or raised to a power beside units in kelvins, if any.

    A difference of two temperatures is the same in both; a thermodynamic temperature, as in T**4, is not.
    """
    units = dict(zip(model.symbols, (quantity.unit.strip() for quantity in model.inputs), strict=True))
    if not any(_KELVIN.search(unit) for unit in units.values()):
        return ""
    points: list[str] = []
    found: set[str] = set()
    for (name, operands), load in zip(model.program.operations, model.program.loads, strict=True):
        below = [points[operand] for operand in operands if points[operand]]
        if name == "symbol":
            points.append(str(load) if units[str(load)] in _CELSIUS else "")
        elif name in _KEEPS or (name == "subtract" and len(below) == 1):
            points.append(below[0] if below else "")
        else:
            found |= set() if name == "subtract" else set(below)
            points.append("")
    if not found:
        return ""
    return (
        f"{', '.join(sorted(found))}: multiplied or raised to a power in degrees Celsius beside units in kelvins; "
        "right for a difference of temperatures, wrong for a thermodynamic temperature, which must be stated in K."
    )


class _Checker:
    """Follows units through the operations of a program."""

    def __init__(self, model: MeasurementModel, inputs: Mapping[str, Measure]) -> None:
        self._program: Program = model.program
        self._inputs = inputs
        self._where = f"equation of {model.symbol}"
        self._results: list[Followed] = []
        numbers = {abs(load) for load in self._program.loads if isinstance(load, float)} - {0.0, 1.0}
        self._explained = _products(sorted(numbers))

    def run(self) -> None:
        """Follow every operation."""
        for (name, operands), load in zip(self._program.operations, self._program.loads, strict=True):
            if name == "symbol":
                self._results.append(self._inputs.get(str(load)))
            elif name == "number":
                self._results.append(PLAIN if load else None)
            else:
                self._results.append(self._follow(name, operands))

    def compare(self, where: str, name: str, unit: str) -> None:
        """Compare a named result with its stated unit."""
        found = self._results[self._program.names[name]]
        wanted = measure(unit)
        if found is None:
            return
        if found.dimensions != wanted.dimensions:
            raise BudgetError(f"{where}: its unit must come out as {unit} (got {_said(found)})")
        if not self._fits(found.size, wanted.size):
            raise BudgetError(
                f"{where}: its unit must come out as {unit} (got a unit {found.size / wanted.size:.6g} times as large; "
                f"state the inputs in matching units)"
            )

    def _follow(self, name: str, operands: tuple[int, ...]) -> Followed:
        measures = [self._results[operand] for operand in operands]
        if name in _SAME:
            return self._same(name, operands)
        if name == "power":
            return self._power(operands)
        if name in _PLAIN_ONLY:
            for found in measures:
                if found is not None and not self._is_plain(found):
                    raise BudgetError(
                        f"{self._where}: {name} must have a plain number in its brackets (got {_said(found)})"
                    )
            return PLAIN
        if any(found is None for found in measures):
            return None
        return _RULES[name](*measures)

    def _same(self, name: str, operands: tuple[int, ...]) -> Followed:
        known = [self._results[operand] for operand in operands if self._results[operand] is not None]
        if len(known) < 2:
            return None if len(operands) > len(known) and not self._zeros(operands) else known[0]
        first, second = known
        if first is None or second is None:
            return None
        if first.dimensions != second.dimensions or not self._fits(first.size, second.size):
            verb = {"add": "added", "subtract": "subtracted"}.get(name, "compared")
            raise BudgetError(
                f"{self._where}: what is {verb} must have one unit (got {_said(first)} and {_said(second)})"
            )
        if name == "atan2":
            return PLAIN
        return first

    def _zeros(self, operands: tuple[int, ...]) -> bool:
        """Tell whether the operands without a unit are all the number 0."""
        return all(self._program.loads[o] == 0.0 for o in operands if self._results[o] is None)

    def _power(self, operands: tuple[int, ...]) -> Followed:
        base, exponent = (self._results[operand] for operand in operands)
        if exponent is not None and not self._is_plain(exponent):
            raise BudgetError(f"{self._where}: an exponent must be a plain number (got {_said(exponent)})")
        if base is None:
            return None
        if not base.dimensions:
            return PLAIN
        number = self._program.loads[operands[1]]
        if not isinstance(number, float):
            raise BudgetError(
                f"{self._where}: a quantity with a unit must have a number as its exponent (got {_said(base)})"
            )
        return _raised(base, number)

    def _is_plain(self, measure: Measure) -> bool:
        return not measure.dimensions and self._fits(measure.size, 1.0)

    def _fits(self, size: float, wanted: float) -> bool:
        ratio = size / wanted
        return any(math.isclose(ratio, factor, rel_tol=1e-9) for factor in self._explained)


def _products(numbers: list[float]) -> tuple[float, ...]:
    """Factors that the numbers written in an equation can explain: each, its inverse, and products of two."""
    single = [1.0, *numbers, *(1.0 / number for number in numbers)]
    return tuple({a * b for a, b in itertools.product(single, single)}) if len(numbers) <= 30 else tuple(single)


def _product(a: Measure, b: Measure, power: float = 1.0) -> Measure:
    dimensions = dict(a.dimensions)
    for name, exponent in b.dimensions:
        dimensions[name] = dimensions.get(name, 0.0) + power * exponent
    return Measure(sorted_dimensions(dimensions), a.size * b.size**power)


def _raised(a: Measure, power: float) -> Measure:
    return Measure(sorted_dimensions({name: power * exponent for name, exponent in a.dimensions}), a.size**power)


def _said(measure: Measure) -> str:
    if not measure.dimensions:
        return "a plain number" if measure.size == 1.0 else f"a plain number in units of {measure.size:.6g}"
    powers = [f"{name.strip('[]')}" + (f"^{power:g}" if power != 1.0 else "") for name, power in measure.dimensions]
    return f"a quantity in {' · '.join(powers)}, {measure.size:.6g} times its base unit"


_CELSIUS = frozenset({"degC", "°C", "℃", "celsius"})
_KELVIN = re.compile(r"(?<![A-Za-z])K(?![A-Za-z])")
_KEEPS = frozenset({"add", "min", "max", "negative", "abs"})
_SAME = frozenset({"add", "subtract", "min", "max", "atan2"})
_PLAIN_ONLY = frozenset({"exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan"})
_RULES: Mapping[str, Callable[..., Measure]] = MappingProxyType(
    {
        "multiply": _product,
        "divide": lambda a, b: _product(a, b, -1.0),
        "square": lambda a: _raised(a, 2.0),
        "reciprocal": lambda a: _raised(a, -1.0),
        "sqrt": lambda a: _raised(a, 0.5),
        **dict.fromkeys(("negative", "abs", "floor", "ceil", "round"), lambda a: a),
    }
)
