"""Derivatives of a measurement equation, exact to the third order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.model.equation import Program
from budget.model.measurement import MeasurementModel

Jet: TypeAlias = (
    FloatArray  # shape (order + 1, directions): Taylor coefficients f, f', f''/2, f'''/6 along each direction
)


def taylor_coefficients(
    program: Program, point: Mapping[str, float], directions: Mapping[str, FloatArray], order: int
) -> FloatArray:
    """
    Return Taylor coefficients of a program along straight lines through a point.

    Parameters
    ----------
    program : Program
        What to differentiate.
    point : mapping of str to float
        Value of every symbol at the point.
    directions : mapping of str to ndarray, shape (k,)
        Component of each of k directions in every symbol that varies.
    order : int
        Highest coefficient, 1 to 3.

    Returns
    -------
    ndarray, shape (order + 1, k)
        Coefficients of t⁰ … t^order of f(point + t·direction); not finite where f cannot be differentiated.
    """
    count = len(next(iter(directions.values())))
    jets: list[Jet] = []
    with np.errstate(all="ignore"):
        for (name, operands), load in zip(program.operations, program.loads, strict=True):
            if name == "symbol":
                jet = _constant(point[str(load)], order, count)
                if str(load) in directions:
                    jet[1] = directions[str(load)]
                jets.append(jet)
            elif name == "number":
                jets.append(_constant(float(load or 0.0), order, count))
            else:
                jets.append(_RULES[name](*[jets[operand] for operand in operands]))
    return jets[program.names[program.result]]


def _constant(value: float, order: int, count: int) -> Jet:
    jet = np.zeros((order + 1, count))
    jet[0] = value
    return jet


def _multiply(a: Jet, b: Jet) -> Jet:
    return np.stack([sum(a[i] * b[n - i] for i in range(n + 1)) for n in range(len(a))])


def _divide(a: Jet, b: Jet) -> Jet:
    c = np.empty_like(a)
    for n in range(len(a)):
        c[n] = (a[n] - sum((b[i] * c[n - i] for i in range(1, n + 1)), np.zeros_like(a[0]))) / b[0]
    return c


def _reciprocal(a: Jet) -> Jet:
    one = np.zeros_like(a)
    one[0] = 1.0
    return _divide(one, a)


def _compose(a: Jet, derivatives: list[FloatArray]) -> Jet:
    """Taylor coefficients of g(a) from g, g', g'', g''' at a₀ (Faà di Bruno, to third order)."""
    g = np.empty_like(a)
    g[0] = derivatives[0]
    g[1] = derivatives[1] * a[1]
    if len(a) > 2:
        g[2] = derivatives[1] * a[2] + derivatives[2] * a[1] ** 2 / 2.0
    if len(a) > 3:
        g[3] = derivatives[1] * a[3] + derivatives[2] * a[1] * a[2] + derivatives[3] * a[1] ** 3 / 6.0
    return g


def _chain(name: str) -> Callable[[Jet], Jet]:
    return lambda a: _compose(a, list(_CHAINS[name](a[0])))


def _power_of_number(a: Jet, p: FloatArray) -> Jet:
    """a^p for a constant exponent; falling factorials, so that whole powers of zero and negatives stay exact."""
    terms, factor = [], np.ones_like(p)
    for n in range(4):
        terms.append(np.where(factor == 0.0, 0.0, factor * np.power(a[0], p - n)))
        factor = factor * (p - n)
    return _compose(a, terms)


def _power(a: Jet, b: Jet) -> Jet:
    if not np.any(b[1:]):
        return _power_of_number(a, b[0])
    return _chain("exp")(_multiply(b, _chain("log")(a)))


def _atan2(y: Jet, x: Jet) -> Jet:
    steep = np.abs(y[0]) > np.abs(x[0])
    arc = _chain("atan")
    jet: Jet = np.where(steep, -arc(_divide(x, y)), arc(_divide(y, x)))  # both have the derivatives of the angle
    jet[0] = np.arctan2(y[0], x[0])
    return jet


def _step(function: Callable[[FloatArray], FloatArray]) -> Callable[[Jet], Jet]:
    def rule(a: Jet) -> Jet:
        jet = np.zeros_like(a)
        jet[0] = function(a[0])
        return jet

    return rule


def _absolute(a: Jet) -> Jet:
    jet: Jet = a * np.sign(a[0])
    jet[1:, (a[0] == 0.0) & np.any(a[1:] != 0.0, axis=0)] = np.nan  # a kink has no derivative
    return jet


def _choose(a: Jet, b: Jet, first: FloatArray) -> Jet:
    jet = np.asarray(np.where(first, a, b), dtype=float)
    jet[1:, (a[0] == b[0]) & np.any(a[1:] != b[1:], axis=0)] = np.nan
    return jet


def _logarithm(x: FloatArray) -> tuple[FloatArray, ...]:
    x = np.where(x > 0.0, x, np.nan)
    return np.log(x), 1 / x, -1 / x**2, 2 / x**3


def _tangent(x: FloatArray) -> tuple[FloatArray, ...]:
    t = np.tan(x)
    q = 1 + t**2
    return t, q, 2 * t * q, 2 * q * (q + 2 * t**2)


def _arc_sine(x: FloatArray) -> tuple[FloatArray, ...]:
    r = 1 - x**2
    return np.arcsin(x), r**-0.5, x * r**-1.5, (1 + 2 * x**2) * r**-2.5


def _arc_cosine(x: FloatArray) -> tuple[FloatArray, ...]:
    _, first, second, third = _arc_sine(x)
    return np.arccos(x), -first, -second, -third


def _arc_tangent(x: FloatArray) -> tuple[FloatArray, ...]:
    r = 1 + x**2
    return np.arctan(x), 1 / r, -2 * x / r**2, (6 * x**2 - 2) / r**3


_CHAINS: Mapping[str, Callable[[FloatArray], tuple[FloatArray, ...]]] = MappingProxyType(
    {
        "exp": lambda x: (np.exp(x),) * 4,
        "log": _logarithm,
        "sin": lambda x: (np.sin(x), np.cos(x), -np.sin(x), -np.cos(x)),
        "cos": lambda x: (np.cos(x), -np.sin(x), -np.cos(x), np.sin(x)),
        "tan": _tangent,
        "asin": _arc_sine,
        "acos": _arc_cosine,
        "atan": _arc_tangent,
    }
)
"""Functions of one quantity with their first three derivatives."""
_RULES: Mapping[str, Callable[..., Jet]] = MappingProxyType(
    {
        **{name: _chain(name) for name in _CHAINS},
        "add": np.add,
        "subtract": np.subtract,
        "multiply": _multiply,
        "divide": _divide,
        "power": _power,
        "square": lambda a: _multiply(a, a),
        "reciprocal": _reciprocal,
        "negative": np.negative,
        "sqrt": lambda a: _power_of_number(a, np.full_like(a[0], 0.5)),
        "log10": lambda a: _chain("log")(a) / np.log(10.0),
        "atan2": _atan2,
        "abs": _absolute,
        "floor": _step(np.floor),
        "ceil": _step(np.ceil),
        "round": _step(np.rint),
        "min": lambda a, b: _choose(a, b, a[0] < b[0]),
        "max": lambda a, b: _choose(a, b, a[0] > b[0]),
    }
)


STEPS = frozenset({"floor", "ceil", "round"})


@dataclass(frozen=True)
class Derivatives:
    """
    Sensitivity coefficient of every input at the estimates.

    ``differences`` has the estimated error of those that are finite differences (a kink, a step, no derivative).
    """

    values: dict[str, float]
    differences: dict[str, float]


def derivatives(model: MeasurementModel) -> Derivatives:
    """
    Return the sensitivity coefficients of every input at the estimates.

    Exact (automatic differentiation) where the equation has a derivative. Where it has none, and for inputs
    that go through a step (floor, ceil, round), whose derivative is zero though the quantity matters, the
    difference [f(x + u) - f(x - u)]/(2u) of JCGM 100, 5.1.3, note 2; its error is taken as the change of
    the coefficient when the step is halved.

    Raises
    ------
    BudgetError
        If a difference cannot be formed because the equation has no value there.
    """
    symbols = model.symbols
    directions = dict(zip(symbols, np.eye(len(symbols)), strict=True))
    jet = taylor_coefficients(model.program, model.estimates, directions, 1)
    program = model.program
    steps = [reach for (name, _), reach in zip(program.operations, program.reach, strict=True) if name in STEPS]
    stepped = frozenset[str]().union(*steps)
    values: dict[str, float] = {}
    differences: dict[str, float] = {}
    for symbol, exact in zip(symbols, jet[1], strict=True):
        if np.isfinite(exact) and symbol not in stepped:
            values[symbol] = float(exact)
        else:
            values[symbol], differences[symbol] = _difference(model, symbol)
    return Derivatives(values, differences)


def has_steps(model: MeasurementModel) -> bool:
    """Tell whether the equation jumps: whole counts by floor, ceil or round."""
    return any(name in STEPS for name, _ in model.program.operations)


def _difference(model: MeasurementModel, symbol: str) -> tuple[float, float]:
    centre = model.estimates
    width = model.distributions[symbol].standard_uncertainty or 1e-6 * max(abs(centre[symbol]), 1e-300)
    slopes = []
    for step in (width, 0.5 * width):
        ends = np.array([centre[symbol] - step, centre[symbol] + step])
        low, high = model.program.evaluate({**centre, symbol: ends}) + np.zeros(2)
        with np.errstate(all="ignore"):  # a slope that is not finite is refused below
            slopes.append(float((high - low) / (2.0 * step)))
    if not np.all(np.isfinite(slopes)):
        raise BudgetError(
            f"equation of {model.symbol}: must have a value within one standard uncertainty of the estimate of "
            f"{symbol} (got none at {symbol} = {centre[symbol]:g} ± {width:g})"
        )
    return slopes[0], abs(slopes[0] - slopes[1])
