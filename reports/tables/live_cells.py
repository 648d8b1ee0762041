"""Cells of a workbook that calculate, each with the value that a viewer shows which does not calculate."""

from __future__ import annotations

import ast
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from budget.model.grammar import syntax_tree
from reports.tables.files import guarded

if TYPE_CHECKING:
    from xlsxwriter import Workbook

OPERATORS: dict[type[ast.operator], str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "^"}
FUNCTIONS = {
    "sqrt": "SQRT", "abs": "ABS", "exp": "EXP", "log": "LN", "log10": "LOG10", "max": "MAX", "min": "MIN",
}  # fmt: skip
"""Functions of equations by their names in a spreadsheet."""


@dataclass(frozen=True)
class Live:
    """A formula, without the sign of equality, and its value."""

    formula: str
    value: float | str


Content = Live | str | float | int | None


@dataclass
class LiveSheet:
    """
    A sheet that is written row by row.

    Parameters
    ----------
    sheet : Worksheet
        Of the library that writes it.
    bold : Format
        Of headings.
    row : int
        Number of the next row, as formulas name it.
    """

    sheet: Any
    bold: Any = field(repr=False)
    row: int = 1

    def write(self, *cells: Content, bold: bool = False) -> int:
        """Write a row; its number is returned."""
        form = self.bold if bold else None
        for column, cell in enumerate(cells):
            place = (self.row - 1, column)
            if isinstance(cell, Live):
                self.sheet.write_formula(*place, f"={cell.formula}", form, cell.value)
            elif isinstance(cell, str):
                self.sheet.write_string(*place, guarded(cell), form)
            elif cell is not None:
                self.sheet.write_number(*place, cell, form)
        self.row += 1
        return self.row - 1

    def widths(self, *sizes: float) -> None:
        """Set the widths of the columns, in characters."""
        for column, size in enumerate(sizes):
            self.sheet.set_column(column, column, size)


@dataclass(frozen=True)
class LiveBook:
    """A workbook that is written into memory."""

    book: Workbook
    buffer: io.BytesIO
    bold: Any

    def sheet(self, title: str) -> LiveSheet:
        """Add a sheet."""
        return LiveSheet(self.book.add_worksheet(title), self.bold)

    def content(self) -> bytes:
        """Finish the workbook."""
        self.book.close()
        return self.buffer.getvalue()


def live_book(date: str) -> LiveBook:
    """Begin a workbook of a date, ISO 8601; nothing else tells when it was written."""
    from xlsxwriter import Workbook

    buffer = io.BytesIO()
    book = Workbook(buffer, {"in_memory": True})
    book.set_properties({"author": "boiloff", "created": datetime.fromisoformat(date)})
    return LiveBook(book, buffer, book.add_format({"bold": True}))


def formula_of(text: str, cell: Callable[[str], str]) -> str:
    """
    Write an equation text as a formula.

    Parameters
    ----------
    text : str
        In the grammar of `budget.model.grammar`.
    cell : callable (symbol) -> str
        Cell of a symbol.

    Examples
    --------
    >>> formula_of("(E - W * t) / sqrt(m**2)", lambda symbol: f"${symbol}$1")
    '(($E$1-($W$1*$t$1))/SQRT(($m$1^2)))'
    """
    return _piece(syntax_tree(text, "step"), cell)


def _piece(node: ast.expr, cell: Callable[[str], str]) -> str:
    match node:
        case ast.Constant():
            return repr(node.value)
        case ast.Name():
            return cell(node.id)
        case ast.UnaryOp():
            sign = "-" if isinstance(node.op, ast.USub) else "+"
            return f"({sign}{_piece(node.operand, cell)})"
        case ast.BinOp():
            return f"({_piece(node.left, cell)}{OPERATORS[type(node.op)]}{_piece(node.right, cell)})"
        case ast.Call(func=ast.Name(id=name)):
            arguments: Sequence[str] = [_piece(argument, cell) for argument in node.args]
            return f"{FUNCTIONS[name]}({','.join(arguments)})"
    raise TypeError(f"no piece of a formula: {ast.unparse(node)}")
