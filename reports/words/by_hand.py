"""Equations on one line, with numbers, as they are keyed into a pocket calculator; numbers as they are printed."""

from __future__ import annotations

import ast
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from budget.model.grammar import syntax_tree
from design.evaluation.working import clean, value_of
from reports.words import rounding
from reports.words.languages import ENGLISH, Language

if TYPE_CHECKING:
    from budget.arrays import FloatArray
    from design.evaluation.working import Working, WorkingStep

DIGITS, BUDGET_DIGITS = (5, 6, 7, 8, 9), (3, 4, 5, 6)
"""Significant digits in which estimates, and the numbers of a budget, are printed: the fewest that give the result."""
READ = 10
"""Significant digits of readings, which stand as they are."""
CLOSE = 0.1
"""Parts of the last printed digit by which the way by hand may miss the result."""
SUM, PRODUCT, SIGN, POWER, ATOM = range(5)
"""How tightly a piece of a line holds together."""
SIGNS: Mapping[type[ast.operator], tuple[str, int]] = {
    ast.Add: (" + ", SUM), ast.Sub: (f" {rounding.MINUS} ", SUM), ast.Mult: (" × ", PRODUCT), ast.Div: (" / ", PRODUCT),
}  # fmt: skip
SUPERSCRIPTS = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")


def on_one_line(text: str, written: Callable[[str], str], say: Language = ENGLISH) -> str:
    """
    Write an equation text on one line.

    Parameters
    ----------
    text : str
        In the grammar of `budget.model.grammar`.
    written : callable (symbol) -> str
        What stands for a symbol.
    say : Language
        Language whose decimal mark numbers get.

    Examples
    --------
    >>> on_one_line("(E - W * t) / (m * kappa)", {"E": "300", "W": "①", "t": "9", "m": "0.1", "kappa": "②"}.get)
    '(300 − ① × 9) / (0.1 × ②)'
    """
    return _piece(syntax_tree(text, "step"), written, say)[0]


def _piece(node: ast.expr, written: Callable[[str], str], say: Language) -> tuple[str, int]:
    match node:
        case ast.Constant():
            return say.number(f"{float(str(node.value)):.12g}"), ATOM
        case ast.Name():
            text = written(node.id)
            return text, SIGN if text.startswith(rounding.MINUS) else PRODUCT if "×" in text else ATOM
        case ast.UnaryOp():
            return f"{rounding.MINUS}{_held(node.operand, SIGN, written, say)}", SIGN
        case ast.Call(func=ast.Name(id=name)):
            arguments = "; ".join(_piece(argument, written, say)[0] for argument in node.args)
            return f"{'√' if name == 'sqrt' else name}({arguments})", ATOM
        case ast.BinOp(op=ast.Pow(), right=ast.Constant(value=int(power))):
            return f"{_held(node.left, ATOM, written, say)}{str(power).translate(SUPERSCRIPTS)}", POWER
        case ast.BinOp() if type(node.op) in SIGNS:
            sign, binding = SIGNS[type(node.op)]
            close = binding + (isinstance(node.op, ast.Sub | ast.Div))
            left, right = _held(node.left, binding, written, say), _held(node.right, close, written, say)
            return f"{left}{sign}{right}", binding
    raise TypeError(f"no piece of a line: {ast.unparse(node)}")


def _held(node: ast.expr, binding: int, written: Callable[[str], str], say: Language) -> str:
    text, own = _piece(node, written, say)
    return f"({text})" if own < binding or (own == SIGN and binding > SUM) else text


def circled(number: int) -> str:
    """Write the number of a step in a circle, by which later steps name its result."""
    for first, code in ((36, 0x32B1), (21, 0x3251), (1, 0x2460)):
        if number >= first:
            return chr(code + number - first)
    raise ValueError(f"steps are numbered from 1 (got {number})")


@dataclass(frozen=True)
class ByHand:
    """
    A working with its numbers as they are printed.

    Parameters
    ----------
    working : Working
        What is worked out.
    digits, budget_digits : int
        Significant digits of the estimates, and of the numbers of the budget.
    values : dict of str to float
        What each step gives from the printed numbers, by symbol. [SI]
    uncertainty : float
        Root of the sum of squares of the printed budget. [J/kg]
    """

    working: Working
    digits: int
    budget_digits: int
    values: dict[str, float]
    uncertainty: float

    def line(self, step: WorkingStep, say: Language = ENGLISH) -> str:
        """Equation of a step with numbers, results of earlier steps by their circled numbers."""
        places = {one.symbol: circled(place) for place, one in enumerate(self.working.steps, start=1)}
        estimates = {one.symbol: one.value for one in self.working.given}

        def written(symbol: str) -> str:
            if symbol in places:
                return places[symbol]
            if symbol in estimates:
                return number(estimates[symbol], self.digits, say)
            return number(self.working.readings[symbol], READ, say)

        return on_one_line(step.text, written, say)


def number(value: float, digits: int, say: Language = ENGLISH) -> str:
    """Write a number without closing zeros."""
    return say.in_unit(clean(value), "", digits)


def printed(value: float, digits: int) -> float:
    """Value of a number as it is printed."""
    return float(f"{clean(value):.{digits}g}")


def by_hand(working: Working, columns: Mapping[str, Mapping[str, FloatArray]]) -> ByHand:
    """
    Find the fewest digits with which the printed numbers give the printed result.

    Parameters
    ----------
    working : Working
        What is worked out.
    columns : mapping of str to mapping of str to ndarray
        Energy, mass and time at each mark, by the tail of a run's symbols and their letters. [SI]

    Raises
    ------
    ValueError
        If no number of digits will do.
    """
    outcome, last = working.outcome, working.steps[-1]
    off = CLOSE * last_place(outcome.standard_uncertainty)
    worked = ((digits, _worked(working, columns, digits)) for digits in DIGITS)
    found = next((one for one in worked if abs(one[1][last.symbol] - last.value) <= off), None)
    combined = ((digits, _combined(working, digits)) for digits in BUDGET_DIGITS)
    budget = next((one for one in combined if abs(one[1] - outcome.standard_uncertainty) <= off), None)
    if found is None or budget is None:
        raise ValueError(f"no printed digits give the result (wanted {last.value} ± {outcome.standard_uncertainty})")
    return ByHand(working, found[0], budget[0], found[1], budget[1])


def last_place(standard_uncertainty: float) -> float:
    """One unit in the second digit of an uncertainty."""
    if standard_uncertainty <= 0.0:
        return 1.0
    return float(10.0 ** (math.floor(math.log10(float(f"{standard_uncertainty:.1e}"))) - 1.0))


def _combined(working: Working, digits: int) -> float:
    """Root of the sum of squares of the printed contributions."""
    parts = [
        printed(line.sensitivity, digits) * printed(line.given.stated, digits) / line.given.divisor
        for line in working.lines
    ]
    return math.hypot(*parts, printed(working.others, digits))


def _worked(working: Working, columns: Mapping[str, Mapping[str, FloatArray]], digits: int) -> dict[str, float]:
    values = {one.symbol: printed(one.value, digits) for one in working.given}
    values |= {symbol: printed(value, READ) for symbol, value in working.readings.items()}
    for step in working.steps:
        if step.summed is None:
            values[step.symbol] = value_of(step.text, values)
            continue
        (first, second), tail = step.summed, step.symbol.removeprefix(f"S_{''.join(step.summed)}")
        x, y = ([printed(float(one), READ) for one in columns[tail][letter]] for letter in (first, second))
        values[step.symbol] = sum((one - sum(x) / len(x)) * other for one, other in zip(x, y, strict=True))
    return values
