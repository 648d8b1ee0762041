"""Draws for which an equation has no value: how often, in which operation, through which inputs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from budget.model import MeasurementModel
from budget.quantiles import Array

_NEEDS: Mapping[str, str] = {
    "log": "log needs a positive number",
    "log10": "log10 needs a positive number",
    "sqrt": "sqrt needs a number that is not negative",
    "asin": "asin needs a number between -1 and 1",
    "acos": "acos needs a number between -1 and 1",
    "divide": "a divisor must not be zero",
    "reciprocal": "a divisor must not be zero",
    "power": "a fractional power needs a positive number",
}


@dataclass(frozen=True)
class Fault:
    """Why an equation has no value: the operation's need, and the inputs that reach the operand."""

    need: str
    symbols: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.need}, not met through {', '.join(self.symbols)}"


def find_fault(model: MeasurementModel, draws: Mapping[str, Array]) -> Fault:
    """
    Return the first operation without a value among draws that have none.

    Parameters
    ----------
    model : MeasurementModel
        The model.
    draws : mapping of str to ndarray, shape (n,)
        Draws of the uncertain inputs for which the result is not finite.
    """
    program = model.program
    values: dict[str, ArrayLike] = {**model.constants, **draws}
    reach: list[set[str]] = []
    results = program.all_results(values)
    for index, (name, operands) in enumerate(program.operations):
        load = program.loads[index]
        below = set().union(*(reach[operand] for operand in operands))
        reach.append({load} if name == "symbol" and isinstance(load, str) else below)
        if name in ("symbol", "number") or np.all(np.isfinite(results[index])):
            continue
        symbols = reach[operands[-1]] if name in ("divide", "power") else below
        need = _NEEDS.get(name, f"{name} must not overflow")
        return Fault(need, tuple(s for s in model.symbols if s in (symbols or below)))
    return Fault("every value must be finite", model.uncertain)
