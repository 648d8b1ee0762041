"""Exact derivatives of a program: Taylor coefficients to third order, carried through every operation."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

from budget.equation import Program
from budget.quantiles import Array

Jet: TypeAlias = Array  # shape (order + 1, directions): Taylor coefficients f, f', f''/2, f'''/6 along each direction


def taylor_coefficients(
    program: Program, point: Mapping[str, float], directions: Mapping[str, Array], order: int
) -> Array:
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


def _compose(a: Jet, derivatives: list[Array]) -> Jet:
    """Taylor coefficients of g(a) from g, g', g'', g''' at a₀ (Faà di Bruno, to third order)."""
    g = np.empty_like(a)
    g[0] = derivatives[0]
    g[1] = derivatives[1] * a[1]
    if len(a) > 2:
        g[2] = derivatives[1] * a[2] + derivatives[2] * a[1] ** 2 / 2.0
    if len(a) > 3:
        g[3] = derivatives[1] * a[3] + derivatives[2] * a[1] * a[2] + derivatives[3] * a[1] ** 3 / 6.0
    return g


def _exp(a: Jet) -> Jet:
    return _compose(a, [np.exp(a[0])] * 4)


def _log(a: Jet) -> Jet:
    x = np.where(a[0] > 0.0, a[0], np.nan)
    return _compose(a, [np.log(x), 1 / x, -1 / x**2, 2 / x**3])


def _power_of_number(a: Jet, p: Array) -> Jet:
    """a^p for a constant exponent; falling factorials, so that whole powers of zero and negatives stay exact."""
    terms, factor = [], np.ones_like(p)
    for n in range(4):
        terms.append(np.where(factor == 0.0, 0.0, factor * np.power(a[0], p - n)))
        factor = factor * (p - n)
    return _compose(a, terms)


def _power(a: Jet, b: Jet) -> Jet:
    if not np.any(b[1:]):
        return _power_of_number(a, b[0])
    return _exp(_multiply(b, _log(a)))


def _sin(a: Jet) -> Jet:
    s, c = np.sin(a[0]), np.cos(a[0])
    return _compose(a, [s, c, -s, -c])


def _cos(a: Jet) -> Jet:
    s, c = np.sin(a[0]), np.cos(a[0])
    return _compose(a, [c, -s, -c, s])


def _tan(a: Jet) -> Jet:
    t = np.tan(a[0])
    q = 1 + t**2
    return _compose(a, [t, q, 2 * t * q, 2 * q * (q + 2 * t**2)])


def _asin(a: Jet) -> Jet:
    x = a[0]
    r = 1 - x**2
    return _compose(a, [np.arcsin(x), r**-0.5, x * r**-1.5, (1 + 2 * x**2) * r**-2.5])


def _acos(a: Jet) -> Jet:
    jet = -_asin(a)
    jet[0] = np.arccos(a[0])
    return jet


def _atan(a: Jet) -> Jet:
    x = a[0]
    r = 1 + x**2
    return _compose(a, [np.arctan(x), 1 / r, -2 * x / r**2, (6 * x**2 - 2) / r**3])


def _atan2(y: Jet, x: Jet) -> Jet:
    steep = np.abs(y[0]) > np.abs(x[0])
    jet: Jet = np.where(steep, -_atan(_divide(x, y)), _atan(_divide(y, x)))  # both have the derivatives of the angle
    jet[0] = np.arctan2(y[0], x[0])
    return jet


def _step(function: Callable[[Array], Array]) -> Callable[[Jet], Jet]:
    def rule(a: Jet) -> Jet:
        jet = np.zeros_like(a)
        jet[0] = function(a[0])
        return jet

    return rule


def _absolute(a: Jet) -> Jet:
    jet: Jet = a * np.sign(a[0])
    jet[1:, (a[0] == 0.0) & np.any(a[1:] != 0.0, axis=0)] = np.nan  # a kink has no derivative
    return jet


def _choose(a: Jet, b: Jet, first: Array) -> Jet:
    jet = np.asarray(np.where(first, a, b), dtype=float)
    jet[1:, (a[0] == b[0]) & np.any(a[1:] != b[1:], axis=0)] = np.nan
    return jet


_RULES: Mapping[str, Callable[..., Jet]] = MappingProxyType(
    {
        "add": np.add,
        "subtract": np.subtract,
        "multiply": _multiply,
        "divide": _divide,
        "power": _power,
        "square": lambda a: _multiply(a, a),
        "reciprocal": _reciprocal,
        "negative": np.negative,
        "sqrt": lambda a: _power_of_number(a, np.full_like(a[0], 0.5)),
        "exp": _exp,
        "log": _log,
        "log10": lambda a: _log(a) / np.log(10.0),
        "sin": _sin,
        "cos": _cos,
        "tan": _tan,
        "asin": _asin,
        "acos": _acos,
        "atan": _atan,
        "atan2": _atan2,
        "abs": _absolute,
        "floor": _step(np.floor),
        "ceil": _step(np.ceil),
        "round": _step(np.rint),
        "min": lambda a, b: _choose(a, b, a[0] < b[0]),
        "max": lambda a, b: _choose(a, b, a[0] > b[0]),
    }
)
