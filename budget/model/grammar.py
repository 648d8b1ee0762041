"""The grammar of equation texts: what may stand in an equation, checked before anything is computed."""

from __future__ import annotations

import ast
import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from budget.errors import BudgetError

MAXIMUM_LENGTH = 10_000
MAXIMUM_DEPTH = 60
_ONE_ARGUMENT = (
    "sqrt", "exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan", "abs", "floor", "ceil", "round",
)  # fmt: skip
ARGUMENTS: Mapping[str, tuple[int, int]] = MappingProxyType(
    {
        **dict.fromkeys(_ONE_ARGUMENT, (1, 1)),
        "atan2": (2, 2),
        "min": (1, 100),
        "max": (1, 100),
    }
)
"""Functions of the grammar with the least and the greatest number of their arguments."""
CONSTANT = "pi"
RESERVED = frozenset({*ARGUMENTS, CONSTANT})
_OPERATORS: Mapping[type[ast.AST], str] = MappingProxyType(
    {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**", ast.UAdd: "+", ast.USub: "-"}
)
_KINDS: Mapping[type[ast.AST], str] = MappingProxyType(
    {
        ast.Attribute: "an attribute (a dot behind a name)",
        ast.Subscript: "square brackets",
        ast.Compare: "a comparison",
        ast.IfExp: "a condition",
        ast.BoolOp: "and/or",
        ast.Lambda: "a definition",
        ast.ListComp: "a loop",
        ast.SetComp: "a loop",
        ast.DictComp: "a loop",
        ast.GeneratorExp: "a loop",
        ast.Tuple: "a list (a comma for the decimal point?)",
        ast.List: "a list",
        ast.Dict: "braces",
        ast.Set: "braces",
        ast.NamedExpr: "an assignment",
        ast.Starred: "a star before a name",
        ast.JoinedStr: "text in quotes",
        ast.Await: "an unknown word",
    }
)


@lru_cache(maxsize=4096)
def symbol_name(text: str) -> str:
    """
    Return a symbol as equations carry it (Unicode form NFKC, as Python reads names).

    Raises
    ------
    BudgetError
        If it is no name of letters, digits and underscores, or is a word of the grammar.
    """
    name = unicodedata.normalize("NFKC", text.strip())
    if name in RESERVED:
        raise BudgetError(f"symbol: must not be a function or constant of equations (got {text!r})")
    if not name.isidentifier() or _is_python_word(name):
        raise BudgetError(
            f"symbol: must be letters, digits and underscores, not beginning with a digit, and no reserved word "
            f"(got {text!r})"
        )
    return name


@lru_cache(maxsize=1024)
def syntax_tree(text: str, where: str) -> ast.expr:
    """
    Return the checked syntax tree of an equation: numbers, symbols, operators and functions of the grammar only.

    Raises
    ------
    BudgetError
        If anything but the grammar stands in the text, or it is too long or too deeply nested; ``where`` is what the
        message calls it.
    """
    if not isinstance(text, str) or not text.strip():
        raise BudgetError(f"{where}: must be an equation in text, such as 'm * (t - t0)' (got {text!r})")
    if len(text) > MAXIMUM_LENGTH:
        raise BudgetError(f"{where}: must be at most {MAXIMUM_LENGTH} characters (got {len(text)})")
    _refuse_depth(text, where)
    if "#" in text or "\x00" in text:
        raise BudgetError(f"{where}: must not contain a comment or control character (got {_short(text)})")
    try:
        tree = ast.parse(" ".join(text.split()), mode="eval").body
    except (SyntaxError, ValueError, MemoryError, RecursionError) as fault:
        reason = getattr(fault, "msg", None) or "too deeply nested"
        raise BudgetError(f"{where}: must be one equation that can be read (got {_short(text)}: {reason})") from None
    _check(tree, where)
    return tree


def _refuse_depth(text: str, where: str) -> None:
    """Refuse deep brackets and long runs of signs before Python's parser, which recurses, sees them."""
    depth = deepest = 0
    for character in text:
        depth += (character in "([{") - (character in ")]}")
        deepest = max(deepest, depth)
    if deepest > MAXIMUM_DEPTH or re.search(r"(?:[-+~]\s*){20,}", text) or text.count("**") > MAXIMUM_DEPTH:
        raise BudgetError(
            f"{where}: must have at most {MAXIMUM_DEPTH} brackets inside each other, {MAXIMUM_DEPTH} powers and no "
            f"long runs of signs (got {_short(text)})"
        )


def _check(tree: ast.expr, where: str) -> None:
    pending: list[tuple[ast.AST, int]] = [(tree, 0)]
    while pending:
        node, depth = pending.pop()
        if depth > 20 * MAXIMUM_DEPTH:
            raise BudgetError(f"{where}: must be shorter; name its parts as intermediates (got {depth} steps deep)")
        pending += [(child, depth + 1) for child in _children(node, where)]


def _children(node: ast.AST, where: str) -> list[ast.expr]:
    """Return the operands of a node of the grammar; refuse every other node."""
    match node:
        case ast.Constant(value=value) if type(value) in (int, float):
            _refuse_infinite(value, where)
            return []
        case ast.Name():
            if node.id in ARGUMENTS:
                raise BudgetError(
                    f"{where}: {node.id} must be followed by its argument in brackets (got {node.id} alone)"
                )
            return []
        case ast.BinOp() if type(node.op) in _OPERATORS:
            return [node.left, node.right]
        case ast.UnaryOp() if type(node.op) in _OPERATORS:
            return [node.operand]
        case ast.Call():
            return _arguments(node, where)
        case _:
            raise BudgetError(
                f"{where}: must use numbers, symbols, + - * / ** and {_functions()} only (got {_said(node)})"
            )


def _refuse_infinite(value: Any, where: str) -> None:
    try:
        number = float(value)
    except OverflowError:
        number = float("inf")
    if abs(number) == float("inf"):
        raise BudgetError(f"{where}: a number must be below 1.8e308 (got a larger one)")


def _arguments(node: ast.Call, where: str) -> list[ast.expr]:
    if not isinstance(node.func, ast.Name):
        raise BudgetError(f"{where}: a multiplication must be written with * (got brackets behind brackets)")
    name = node.func.id
    if name not in ARGUMENTS:
        raise BudgetError(f"{where}: must use the functions {_functions()} only, and * between factors (got {name}(…))")
    least, most = ARGUMENTS[name]
    if node.keywords or not least <= len(node.args) <= most:
        expected = str(least) if least == most else f"{least} to {most}"
        raise BudgetError(
            f"{where}: {name} must have {expected} argument(s) (got {len(node.args) + len(node.keywords)})"
        )
    return list(node.args)


def _functions() -> str:
    return ", ".join(ARGUMENTS)


def _said(node: ast.AST) -> str:
    if isinstance(node, ast.BinOp | ast.UnaryOp):
        signs: dict[type[ast.AST], str] = {ast.BitXor: "^; powers are written **", ast.Mod: "%", ast.FloorDiv: "//"}
        sign = signs.get(type(node.op))
        return sign or f"the operator {type(node.op).__name__}"
    if isinstance(node, ast.Constant):
        return f"the value {str(node.value)[:40]!r}"
    return _KINDS.get(type(node), type(node).__name__)


def _short(text: str) -> str:
    return repr(text if len(text) <= 60 else f"{text[:57]}…")


def _is_python_word(name: str) -> bool:
    try:
        return not isinstance(ast.parse(name, mode="eval").body, ast.Name)
    except SyntaxError:
        return True
