"""Sensitivity coefficients: exact where the equation has a derivative, else a difference with its error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from budget.errors import BudgetError
from budget.jets import taylor_coefficients
from budget.model import MeasurementModel

STEPS = frozenset({"floor", "ceil", "round"})


@dataclass(frozen=True)
class Derivatives:
    """
    Partial derivatives of the measurand at the estimates.

    Parameters
    ----------
    values : dict of str to float
        Sensitivity coefficient of every input.
    differences : dict of str to float
        For the inputs whose coefficient is a finite difference (a kink, a step, no derivative): estimated
        error of the coefficient.
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
    stepped = _stepped_symbols(model)
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


def _stepped_symbols(model: MeasurementModel) -> set[str]:
    """Inputs that reach the measurand through a step."""
    reach: list[set[str]] = []
    stepped: set[str] = set()
    for (name, operands), load in zip(model.program.operations, model.program.loads, strict=True):
        below = set().union(*(reach[operand] for operand in operands))
        reach.append({load} if name == "symbol" and isinstance(load, str) else below)
        if name in STEPS:
            stepped |= below
    return stepped


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
