"""Equations: one text, read once, turned into a list of array operations over the checked syntax tree."""

from __future__ import annotations

import ast
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from budget.errors import BudgetError
from budget.model.grammar import CONSTANT, symbol_name, syntax_tree

Operation = tuple[str, tuple[int, ...]]


@dataclass(frozen=True)
class Program:
    """
    An equation with its intermediates as a list of operations, each done once however often it is written.

    Parameters
    ----------
    operations : tuple of (name, operands)
        ``("symbol", ())`` and ``("number", ())`` load; every other name is an operation of the grammar on the
        results of earlier operations.
    loads : tuple of (str or float or None)
        The symbol or number a load takes, ``None`` for other operations.
    names : mapping of str to int
        Which operation yields each intermediate and, last, the result.
    result : str
        Name of the result in ``names``.
    """

    operations: tuple[Operation, ...]
    loads: tuple[str | float | None, ...]
    names: Mapping[str, int]
    result: str

    @cached_property
    def symbols(self) -> frozenset[str]:
        """Symbols that must be given values."""
        return frozenset(load for load in self.loads if isinstance(load, str))

    def evaluate(self, values: Mapping[str, ArrayLike]) -> NDArray[Any]:
        """
        Evaluate the equation for a value or array of every symbol; shapes broadcast.

        Not finite where the equation has no value (the logarithm of a negative number, a division by zero).

        Raises
        ------
        BudgetError
            If a symbol has no value.
        """
        return np.asarray(self._run(values)[self.names[self.result]])

    def evaluate_all(self, values: Mapping[str, ArrayLike]) -> dict[str, NDArray[Any]]:
        """Evaluate the equation and return every intermediate and the result by name."""
        results = self._run(values, keep=frozenset(self.names.values()))
        return {name: np.asarray(results[index]) for name, index in self.names.items()}

    def with_constants(self, constants: Mapping[str, float]) -> Program:
        """Return the program with symbols replaced by numbers and everything computed that depends on them alone."""
        builder = _Builder()
        places: list[int] = []
        for (name, operands), load in zip(self.operations, self.loads, strict=True):
            places.append(builder.again(name, tuple(places[o] for o in operands), load, constants))
        names = {name: places[index] for name, index in self.names.items()}
        return Program(tuple(builder.operations), tuple(builder.loads), names, self.result)

    def all_results(self, values: Mapping[str, ArrayLike]) -> list[NDArray[Any]]:
        """Evaluate and return the result of every operation, in order."""
        results = self._run(values, keep=frozenset(range(len(self.operations))))
        return [np.asarray(result) for result in results]

    def _run(self, values: Mapping[str, ArrayLike], keep: frozenset[int] = frozenset()) -> list[Any]:
        missing = sorted(symbol for symbol in self.symbols if symbol not in values)
        if missing:
            raise BudgetError(f"equation: every symbol must have a value (got none for {', '.join(missing)})")
        results: list[Any] = []
        with np.errstate(all="ignore"):
            for (name, operands), load, spent in zip(self.operations, self.loads, self._spent, strict=True):
                if load is None:
                    results.append(OPERATIONS[name](*[results[operand] for operand in operands]))
                else:
                    results.append(_as_array(values[load]) if isinstance(load, str) else load)
                for operand in spent:  # give a buffer back as soon as nothing needs it: it stays in cache
                    if operand not in keep:
                        results[operand] = None
        return results

    @cached_property
    def reach(self) -> tuple[frozenset[str], ...]:
        """Symbols that each operation depends on."""
        found: list[frozenset[str]] = []
        for (_, operands), load in zip(self.operations, self.loads, strict=True):
            below = frozenset[str]().union(*(found[operand] for operand in operands))
            found.append(frozenset({load}) if isinstance(load, str) else below)
        return tuple(found)

    @cached_property
    def _spent(self) -> tuple[tuple[int, ...], ...]:
        """Operands of each operation that no later one needs."""
        needed, spent = {self.names[self.result]}, []
        for _, operands in reversed(self.operations):
            spent.append(tuple(set(operands) - needed))
            needed.update(operands)
        return tuple(reversed(spent))


def compile_program(intermediates: Sequence[tuple[str, str]], equation: str, result: str = "result") -> Program:
    """
    Turn an equation and the named steps (symbol, text) before it into a program; ``result`` names the last.

    Raises
    ------
    BudgetError
        If a text cannot be read or a step is named twice.

    Examples
    --------
    >>> program = compile_program([("w", "a + b")], "w * w / 2")
    >>> float(program.evaluate({"a": 1.0, "b": 3.0}))
    8.0
    """
    builder = _Builder()
    for symbol, text in intermediates:
        name = symbol_name(symbol)
        if name in builder.names or name == result:
            raise BudgetError(f"intermediate {symbol}: a symbol must be defined once (got it twice)")
        builder.names[name] = builder.add(syntax_tree(text, f"intermediate {symbol}"))
    builder.names[result] = builder.add(syntax_tree(equation, "equation"))
    return Program(tuple(builder.operations), tuple(builder.loads), dict(builder.names), result)


class _Builder:
    """Numbers the distinct operations of syntax trees, operands first."""

    def __init__(self) -> None:
        self.operations: list[Operation] = []
        self.loads: list[str | float | None] = []
        self.names: dict[str, int] = {}
        self._known: dict[tuple[Operation, str], int] = {}

    def add(self, tree: ast.expr) -> int:
        """Append a tree's operations and return the number of its root; without recursion."""
        order: list[ast.expr] = []
        pending = [tree]
        while pending:
            node = pending.pop()
            order.append(node)
            pending += _operands(node)
        numbers: dict[int, int] = {}
        for node in reversed(order):
            numbers[id(node)] = self._number(node, tuple(numbers[id(child)] for child in _operands(node)))
        return numbers[id(tree)]

    def again(
        self, name: str, operands: tuple[int, ...], load: str | float | None, constants: Mapping[str, float]
    ) -> int:
        """Append an operation of another program."""
        if isinstance(load, str) and load in constants:
            return self._append(("number", ()), float(constants[load]))
        if name in ("symbol", "number"):
            return self._append((name, ()), load)
        return self._apply(name, operands)

    def _number(self, node: ast.expr, operands: tuple[int, ...]) -> int:
        match node:
            case ast.Constant() | ast.Name():
                return self._leaf(node)
            case ast.Call(func=ast.Name(id=name)):
                return self._call(name, operands)
            case ast.UnaryOp(op=ast.UAdd()):
                return operands[0]
            case ast.UnaryOp():
                return self._apply("negative", operands)
            case ast.BinOp(op=operator):
                return self._apply(_BINARY[type(operator)], operands)
        raise BudgetError(f"equation: must use the grammar only (got {type(node).__name__})")

    def _leaf(self, node: ast.Constant | ast.Name) -> int:
        if isinstance(node, ast.Constant):
            return self._append(("number", ()), float(node.value))  # type: ignore[arg-type]
        if node.id == CONSTANT:
            return self._append(("number", ()), math.pi)
        return self.names[node.id] if node.id in self.names else self._append(("symbol", ()), node.id)

    def _call(self, name: str, operands: tuple[int, ...]) -> int:
        if name not in ("min", "max"):
            return self._apply(name, operands)
        result = operands[0]
        for operand in operands[1:]:
            result = self._apply(name, (result, operand))
        return result

    def _apply(self, name: str, operands: tuple[int, ...]) -> int:
        loads = [self.loads[operand] for operand in operands]
        if all(isinstance(load, float) for load in loads):
            with np.errstate(all="ignore"):
                value = float(OPERATIONS[name](*[np.float64(load or 0.0) for load in loads]))
            return self._append(("number", ()), value)
        if (name, loads[-1]) in _IDENTITIES:
            return operands[0]
        if name == "multiply" and loads[0] == 1.0:
            return operands[1]
        if name == "power" and isinstance(loads[1], float):
            return self._power(operands, loads[1])
        return self._append((name, operands), None)

    def _power(self, operands: tuple[int, ...], exponent: float) -> int:
        """Write small whole powers and square roots as cheaper operations."""
        if exponent in _POWERS:
            return self._append((_POWERS[exponent], operands[:1]), None)
        if exponent in (3.0, 4.0):
            square = self._append(("square", operands[:1]), None)
            other = operands[0] if exponent == 3.0 else square
            return self._append(("multiply", (square, other)), None)
        return self._append(("power", operands), None)

    def _append(self, operation: Operation, load: str | float | None) -> int:
        key = (operation, repr(load))  # 0.0 and -0.0 are equal but not the same number
        if key not in self._known:
            self._known[key] = len(self.operations)
            self.operations.append(operation)
            self.loads.append(load)
        return self._known[key]


def _operands(node: ast.expr) -> list[ast.expr]:
    match node:
        case ast.BinOp(left=left, right=right):
            return [left, right]
        case ast.UnaryOp(operand=operand):
            return [operand]
        case ast.Call(args=arguments):
            return arguments
        case _:
            return []


def _as_array(value: ArrayLike) -> NDArray[Any]:
    array = np.asarray(value)
    return array if array.dtype.kind in "fc" else array.astype(float)


_BINARY: Mapping[type[ast.AST], str] = MappingProxyType(
    {ast.Add: "add", ast.Sub: "subtract", ast.Mult: "multiply", ast.Div: "divide", ast.Pow: "power"}
)
_IDENTITIES = frozenset({("multiply", 1.0), ("divide", 1.0), ("subtract", 0.0), ("power", 1.0)})
"""Operations that leave their first operand as it is."""
_POWERS: Mapping[float, str] = MappingProxyType({2.0: "square", 0.5: "sqrt", -1.0: "reciprocal"})
OPERATIONS: Mapping[str, Callable[..., Any]] = MappingProxyType(
    {
        "add": np.add,
        "subtract": np.subtract,
        "multiply": np.multiply,
        "divide": np.divide,
        "power": np.power,
        "square": np.square,
        "reciprocal": np.reciprocal,
        "negative": np.negative,
        "sqrt": np.sqrt,
        "exp": np.exp,
        "log": np.log,
        "log10": np.log10,
        "sin": np.sin,
        "cos": np.cos,
        "tan": np.tan,
        "asin": np.arcsin,
        "acos": np.arccos,
        "atan": np.arctan,
        "atan2": np.arctan2,
        "abs": np.abs,
        "floor": np.floor,
        "ceil": np.ceil,
        "round": np.rint,
        "min": np.minimum,
        "max": np.maximum,
    }
)
"""What each operation of a program does to arrays."""
