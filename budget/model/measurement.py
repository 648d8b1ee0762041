"""A measurement model: named inputs, named steps, one equation of the measurand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from numpy.typing import ArrayLike, NDArray

from budget.errors import BudgetError
from budget.model.equation import Program, compile_program
from budget.model.grammar import symbol_name
from budget.quantities.distributions import Constant, Distribution
from budget.quantities.inputs import Correlation, InputQuantity


@dataclass(frozen=True)
class MeasurementModel:
    """
    The measurand as a function of input quantities, JCGM 100, 4.1.

    ``symbol``, ``name`` and ``unit`` are the measurand's; every input is used somewhere; ``intermediates`` are named
    steps (symbol, text) in order; pairs not listed in ``correlations`` are uncorrelated.

    Raises
    ------
    BudgetError
        If a symbol is unknown, unused, or defined twice, or a correlation names no input, a constant, one input twice,
        or a pair that another one names.
    """

    symbol: str
    name: str
    unit: str
    inputs: tuple[InputQuantity, ...]
    intermediates: tuple[tuple[str, str], ...]
    equation: str
    correlations: tuple[Correlation, ...] = ()

    def __post_init__(self) -> None:
        faults = self._faults()
        if faults:
            raise BudgetError("\n".join(faults))

    @cached_property
    def program(self) -> Program:
        """The compiled equation."""
        steps = [(symbol_name(symbol), text) for symbol, text in self.intermediates]
        return compile_program(steps, self.equation, result=f"{self.symbol} =")

    @property
    def symbols(self) -> tuple[str, ...]:
        """Symbols of the input quantities, in order."""
        return tuple(symbol_name(quantity.symbol) for quantity in self.inputs)

    @cached_property
    def distributions(self) -> dict[str, Distribution]:
        """Distribution of every input by symbol."""
        return {symbol_name(quantity.symbol): quantity.distribution for quantity in self.inputs}

    @cached_property
    def constants(self) -> dict[str, float]:
        """Inputs without uncertainty, by symbol."""
        return {s: d.mean for s, d in self.distributions.items() if is_constant(d)}

    @cached_property
    def uncertain(self) -> tuple[str, ...]:
        """Symbols of the inputs with uncertainty, in order."""
        return tuple(symbol for symbol in self.symbols if symbol not in self.constants)

    def evaluate(self, values: Mapping[str, ArrayLike]) -> NDArray[Any]:
        """Evaluate the equation; values by symbol, constants may be left out; shapes broadcast."""
        return self.program.evaluate({**self.constants, **values})

    @cached_property
    def _program_of_uncertain(self) -> Program:
        return self.program.with_constants(self.constants)

    def evaluate_draws(self, draws: Mapping[str, ArrayLike]) -> NDArray[Any]:
        """Evaluate the equation for draws of all uncertain inputs; what constants alone determine is computed once."""
        return self._program_of_uncertain.evaluate(draws)

    def evaluate_all(self, values: Mapping[str, ArrayLike]) -> dict[str, NDArray[Any]]:
        """Evaluate every intermediate and the measurand, by symbol."""
        results = self.program.evaluate_all({**self.constants, **values})
        results[self.symbol] = results.pop(self.program.result)
        return results

    @property
    def estimates(self) -> dict[str, float]:
        """Best estimate of every input by symbol."""
        return {symbol: distribution.mean for symbol, distribution in self.distributions.items()}

    def at_estimates(self) -> float:
        """Value of the measurand at the estimates, JCGM 100, 4.1.4; refused where it is not a finite number."""
        value = float(self.program.evaluate(self.estimates))
        if not abs(value) < float("inf"):
            raise BudgetError(f"equation of {self.symbol}: must have a value at the estimates (got {value})")
        return value

    def _faults(self) -> list[str]:
        faults = []
        defined: set[str] = set()
        for symbol in (*self.symbols, *(symbol_name(s) for s, _ in self.intermediates)):
            if symbol in defined:
                faults.append(f"{symbol}: a symbol must be defined once (got it twice)")
            defined.add(symbol)
        if self.symbol in defined:
            faults.append(f"{self.symbol}: the measurand must have a symbol of its own (got an input or step too)")
        if faults:
            return faults
        used = self.program.symbols
        known = ", ".join(self.symbols)
        unknown = sorted(used - set(self.symbols))
        faults += [
            f"equation: {s} must be an input or an earlier intermediate (got no such symbol; known: {known})"
            for s in unknown
        ]
        faults += [f"input {s}: must be used in an equation (got no use of it)" for s in self.symbols if s not in used]
        return faults + self._correlation_faults()

    def _correlation_faults(self) -> list[str]:
        faults = []
        seen: dict[frozenset[str], tuple[int, float]] = {}
        for number, correlation in enumerate(self.correlations, start=1):
            fault = self._correlation_fault(correlation, seen)
            if fault:
                faults.append(f"correlation {number} ({' and '.join(correlation.between)}): {fault}")
            seen.setdefault(frozenset(correlation.between), (number, correlation.coefficient))
        return faults

    def _correlation_fault(self, correlation: Correlation, seen: Mapping[frozenset[str], tuple[int, float]]) -> str:
        """Say what is wrong with one correlation, given those before it; one without effect is refused as well."""
        one, other = correlation.between
        unknown = [symbol for symbol in (one, other) if symbol not in self.symbols]
        if unknown:
            return f"between: must name inputs, which are {', '.join(self.symbols)} (got {', '.join(unknown)})"
        if one == other:
            return f"between: must name two inputs (got {one} twice); a quantity needs no correlation with itself"
        exact = next((symbol for symbol in (one, other) if symbol in self.constants), None)
        if exact is not None:
            return (
                f"between: must name inputs that are uncertain (got {exact}, which is exactly "
                f"{self.constants[exact]:g}); give {exact} a distribution or readings, or leave this correlation out"
            )
        if frozenset(correlation.between) in seen:
            number, coefficient = seen[frozenset(correlation.between)]
            return (
                f"between: must name a pair that has no coefficient yet (got the pair of correlation {number}, there "
                f"with coefficient {coefficient:g}); keep one of the two"
            )
        if not -1.0 <= correlation.coefficient <= 1.0:
            return f"coefficient: must lie between -1 and 1 (got {correlation.coefficient:g})"
        return ""


def is_constant(distribution: Distribution) -> bool:
    """Tell whether a distribution leaves no doubt."""
    return isinstance(distribution, Constant) or distribution.standard_form().scale == 0.0
