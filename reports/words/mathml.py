"""Equation texts of the budget grammar as MathML: fractions, roots, indices and powers as they are written by hand."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from xml.sax.saxutils import escape

from budget.model.grammar import syntax_tree
from reports.words.languages import ENGLISH, Language

GREEK: Mapping[str, str] = MappingProxyType(
    {
        "alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "epsilon": "ε", "zeta": "ζ", "eta": "η", "theta": "θ",
        "kappa": "κ", "lambda": "λ", "mu": "μ", "nu": "ν", "xi": "ξ", "rho": "ρ", "sigma": "σ", "tau": "τ",
        "phi": "φ", "chi": "χ", "psi": "ψ", "omega": "ω", "Delta": "Δ", "Omega": "Ω", "pi": "π",
    }
)  # fmt: skip
FUNCTION_NAMES: Mapping[str, str] = MappingProxyType(
    {"log": "ln", "log10": "lg", "asin": "arcsin", "acos": "arccos", "atan": "arctan"}
)
"""Functions whose name in writing differs from that of the grammar (ISO 80000-2, clause on functions, from memory)."""
FENCES: Mapping[str, tuple[str, str]] = MappingProxyType({"abs": ("|", "|"), "floor": ("⌊", "⌋"), "ceil": ("⌈", "⌉")})
ESTIMATE = "_est"
"""Ending of the symbols by which a correction stands for a quantity; written with a hat."""
SUM, PRODUCT, SIGN, POWER, ATOM = range(5)
"""How tightly a piece of an equation holds together."""


@dataclass(frozen=True)
class _Piece:
    markup: str
    binding: int


def equation(symbol: str, text: str, say: Language = ENGLISH, *, display: bool = True) -> str:
    """
    Write ``symbol = text`` as a MathML element.

    Parameters
    ----------
    symbol : str
        Left-hand side.
    text : str
        Right-hand side in the grammar of `budget.model.grammar`.
    say : Language
        Language whose decimal mark numbers get.
    display : bool
        Whether the equation stands on a line of its own.

    Returns
    -------
    str
        Markup, everything escaped.

    Raises
    ------
    BudgetError
        If the text is not an equation of the grammar.
    """
    tree = syntax_tree(text, f"equation of {symbol}")
    body = f"{name_markup(symbol)}<mo>=</mo>{_Writer(say).piece(tree).markup}"
    block = ' display="block"' if display else ""
    return f"<math{block}><mrow>{body}</mrow></math>"


def name_markup(symbol: str) -> str:
    """Write a symbol: what follows its first underscore as an index, an estimate with a hat, Greek names as letters."""
    stem = symbol.removesuffix(ESTIMATE)
    base, _, index = stem.partition("_")
    if not base:
        base, index = stem, ""
    letter = f"<mi>{escape(GREEK.get(base, base))}</mi>"
    if stem != symbol:
        letter = f'<mover accent="true">{letter}<mo>^</mo></mover>'
    if not index:
        return letter
    return f"<msub>{letter}{_index(index)}</msub>"


def _index(index: str) -> str:
    words = index.replace("_", ",\u2009")
    tag = "mn" if re.fullmatch(r"\d+", words) else "mi" if len(words) == 1 else "mtext"
    return f"<{tag}>{escape(words)}</{tag}>"


@dataclass(frozen=True)
class _Writer:
    say: Language

    def piece(self, node: ast.expr) -> _Piece:
        match node:
            case ast.Constant():
                return self._number(node)
            case ast.Name():
                return _Piece(name_markup(node.id), ATOM)
            case ast.UnaryOp():
                return self._signed(node)
            case ast.BinOp():
                return _BINARY[type(node.op)](self, node)
            case ast.Call():
                return self._call(node)
        raise TypeError(f"no piece of an equation: {type(node).__name__}")

    def _number(self, node: ast.Constant) -> _Piece:
        mantissa, _, exponent = repr(node.value).partition("e")
        digits = f"<mn>{self.say.number(mantissa.removesuffix('.0'))}</mn>"
        if not exponent:
            return _Piece(digits, ATOM)
        power = str(int(exponent)).replace("-", "\u2212")
        return _Piece(f"<mrow>{digits}<mo>·</mo><msup><mn>10</mn><mn>{power}</mn></msup></mrow>", PRODUCT)

    def _signed(self, node: ast.UnaryOp) -> _Piece:
        sign = "\u2212" if isinstance(node.op, ast.USub) else "+"
        return _Piece(f"<mrow><mo>{sign}</mo>{self._held(node.operand, SIGN)}</mrow>", SIGN)

    def _sum(self, node: ast.BinOp) -> _Piece:
        minus = isinstance(node.op, ast.Sub)
        left, right = self._held(node.left, SUM), self._held(node.right, PRODUCT, signed=False)
        return _Piece(f"<mrow>{left}<mo>{chr(0x2212) if minus else '+'}</mo>{right}</mrow>", SUM)

    def _product(self, node: ast.BinOp) -> _Piece:
        left, right = self._held(node.left, PRODUCT), self._held(node.right, PRODUCT, signed=False)
        return _Piece(f"<mrow>{left}<mo>·</mo>{right}</mrow>", PRODUCT)

    def _fraction(self, node: ast.BinOp) -> _Piece:
        return _Piece(f"<mfrac>{_row(self.piece(node.left))}{_row(self.piece(node.right))}</mfrac>", PRODUCT)

    def _power(self, node: ast.BinOp) -> _Piece:
        return _Piece(f"<msup>{self._held(node.left, ATOM)}{_row(self.piece(node.right))}</msup>", POWER)

    def _call(self, node: ast.Call) -> _Piece:
        name = node.func.id if isinstance(node.func, ast.Name) else ""
        arguments = [self.piece(argument).markup for argument in node.args]
        if name == "sqrt":
            return _Piece(f"<msqrt>{arguments[0]}</msqrt>", ATOM)
        if name in FENCES:
            opening, closing = FENCES[name]
            fence = '<mo fence="true" stretchy="true">'
            return _Piece(f"<mrow>{fence}{opening}</mo>{arguments[0]}{fence}{closing}</mo></mrow>", ATOM)
        separated = "<mo>;</mo>".join(arguments)
        word = f"<mi>{FUNCTION_NAMES.get(name, name)}</mi>"
        return _Piece(f"<mrow>{word}<mo>&#x2061;</mo>{_bracketed(separated)}</mrow>", ATOM)

    def _held(self, node: ast.expr, binding: int, *, signed: bool = True) -> str:
        """Write a part so that it holds together: in brackets where it binds more loosely than its surroundings."""
        piece = self.piece(node)
        loose = piece.binding < binding or (piece.binding == SIGN and (not signed or binding > SUM))
        return _bracketed(piece.markup) if loose else piece.markup


def _row(piece: _Piece) -> str:
    return f"<mrow>{piece.markup}</mrow>"


def _bracketed(markup: str) -> str:
    return f'<mrow><mo fence="true">(</mo>{markup}<mo fence="true">)</mo></mrow>'


_BINARY: Mapping[type[ast.operator], Callable[[_Writer, ast.BinOp], _Piece]] = MappingProxyType(
    {
        ast.Add: _Writer._sum,  # noqa: SLF001 - one class in this file
        ast.Sub: _Writer._sum,  # noqa: SLF001
        ast.Mult: _Writer._product,  # noqa: SLF001
        ast.Div: _Writer._fraction,  # noqa: SLF001
        ast.Pow: _Writer._power,  # noqa: SLF001
    }
)
