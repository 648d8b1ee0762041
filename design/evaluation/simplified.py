"""Equation texts made short: what is nought at the estimates drops out, and a step that only renames is left out."""

from __future__ import annotations

import ast
from collections.abc import Mapping

from budget.model.grammar import syntax_tree
from design.setting.equations import Steps

NOUGHT = ast.Constant(0)


def simplified(steps: Steps, nought: frozenset[str], kept: Mapping[str, str]) -> Steps:
    """
    Write steps without what is nought, under the names that a reader is to see.

    Parameters
    ----------
    steps : tuple of (str, str)
        Symbols and their equations, in order; the last one is the result.
    nought : frozenset of str
        Symbols whose estimate is 0.
    kept : mapping of str to str
        Names to be seen, by symbol; others keep their own.

    Examples
    --------
    >>> steps = (("E_read", "E_shown + k * d_count"), ("E_est", "E_read / (1 + e_meter)"), ("L", "E_est / m"))
    >>> simplified(steps, frozenset({"d_count", "e_meter"}), {"E_shown": "E"})
    (('L', 'E / m'),)
    """
    replaced: dict[str, ast.expr] = dict.fromkeys(nought, NOUGHT)
    shown: Steps = ()
    for place, (symbol, text) in enumerate(steps):
        tree = _Short(replaced, kept).visit(syntax_tree(text, f"step {symbol}"))
        if isinstance(tree, ast.Name | ast.Constant) and place < len(steps) - 1:
            replaced[symbol] = tree
        else:
            shown = (*shown, (kept.get(symbol, symbol), ast.unparse(tree)))
    return _used(shown)


def _used(steps: Steps) -> Steps:
    """Steps that the last one rests on."""
    wanted, used = {steps[-1][0]}, []
    for symbol, text in reversed(steps):
        if symbol in wanted:
            used.append((symbol, text))
            wanted |= names_in(text)
    return tuple(reversed(used))


def names_in(text: str) -> set[str]:
    """Symbols of an equation."""
    return {node.id for node in ast.walk(syntax_tree(text, "step")) if isinstance(node, ast.Name)}


class _Short(ast.NodeTransformer):
    """Put in what a symbol stands for, and take out sums with 0 and products with 0 and 1."""

    def __init__(self, replaced: Mapping[str, ast.expr], kept: Mapping[str, str]) -> None:
        self.replaced, self.kept = replaced, kept

    def visit_Name(self, node: ast.Name) -> ast.expr:
        known = self.replaced.get(node.id)
        return ast.Name(self.kept.get(node.id, node.id), ast.Load()) if known is None else known

    def visit_Call(self, node: ast.Call) -> ast.expr:
        return ast.Call(node.func, [self.visit(argument) for argument in node.args], [])

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.expr:
        operand: ast.expr = self.visit(node.operand)
        return operand if _is(operand, 0) else ast.UnaryOp(node.op, operand)

    def visit_BinOp(self, node: ast.BinOp) -> ast.expr:
        left, right = self.visit(node.left), self.visit(node.right)
        if isinstance(node.op, ast.Add | ast.Sub):
            return _sum(node.op, left, right)
        return _product(node.op, left, right)


def _sum(operator: ast.operator, left: ast.expr, right: ast.expr) -> ast.expr:
    if _is(right, 0):
        return left
    if _is(left, 0):
        return right if isinstance(operator, ast.Add) else ast.UnaryOp(ast.USub(), right)
    return ast.BinOp(left, operator, right)


def _product(operator: ast.operator, left: ast.expr, right: ast.expr) -> ast.expr:
    """Product, quotient or power; 0/x and 0**x are 0, as equations divide by and raise to what is not."""
    if _is(left, 0) or (isinstance(operator, ast.Mult) and _is(right, 0)):
        return NOUGHT
    if _is(right, 1):
        return left
    if _is(left, 1) and isinstance(operator, ast.Mult):
        return right
    return ast.BinOp(left, operator, right)


def _is(node: ast.expr, value: float) -> bool:
    return isinstance(node, ast.Constant) and node.value == value
