"""Equations as MathML: what is written means what is computed, checked by reading the markup back."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from budget.errors import BudgetError
from budget.model.equation import compile_program
from reports.words.languages import Language
from reports.words.mathml import equation, name_markup

VALUES = {"a": 1.7, "b": 0.6, "c": 2.3, "W_wall": 3.1, "x_est": 1.9}
FUNCTIONS = {
    "ln": math.log, "lg": math.log10, "exp": math.exp, "sin": math.sin, "cos": math.cos, "tan": math.tan,
    "arctan": math.atan, "min": min, "max": max, "atan2": math.atan2,
}  # fmt: skip


def read_back(element: ET.Element) -> str:
    """Turn Presentation MathML into Python text, by the meaning of its elements alone (MathML 3, chapter 3)."""
    tag = element.tag.rpartition("}")[2]
    parts = [] if tag in {"msub", "mover"} else [read_back(child) for child in element]
    text = (element.text or "").strip()
    if tag in {"msub", "mover"}:
        return "V[" + repr("_".join(spelled(element))) + "]"
    if tag in {"mi", "mn", "mo"}:
        return LEAVES[tag](text)
    return LAYOUTS.get(tag, "{all}").format(*parts, all=fenced("".join(parts)))


def identifier(text: str) -> str:
    return "math.pi" if text == "π" else f"F[{text!r}]" if text in FUNCTIONS else f"V[{text!r}]"


LAYOUTS = {"mfrac": "(({0})/({1}))", "msup": "(({0})**({1}))", "msqrt": "math.sqrt({all})"}
SIGNS = {"·": "*", "\u2212": "-", "\u2061": "", ";": ",", "=": "=="}
LEAVES: dict[str, Callable[[str], str]] = {
    "mi": identifier,
    "mn": lambda text: text.replace("\u2212", "-"),
    "mo": lambda text: SIGNS.get(text, text),
}


def fenced(text: str) -> str:
    return re.sub(r"^\|(.*)\|$", r"abs(\1)", text)


def spelled(element: ET.Element) -> list[str]:
    tag = element.tag.rpartition("}")[2]
    if tag == "mover":
        return [*spelled(next(iter(element))), "est"]
    if tag == "msub":
        base, index = list(element)
        hat = spelled(base)
        return [hat[0], (index.text or "").replace(",\u2009", "_"), *hat[1:]]
    return [(element.text or "").strip()]


def value_of(markup: str) -> float:
    root = ET.fromstring(markup)
    right = read_back(root).partition("==")[2]
    return float(eval(right, {"math": math, "V": VALUES, "F": FUNCTIONS, "abs": abs}))  # noqa: S307 - text we made


def computed(text: str) -> float:
    program = compile_program((), text)
    return float(program.evaluate({symbol: VALUES[symbol] for symbol in program.symbols}))


@pytest.mark.parametrize(
    "text",
    [
        "a - (b - c)",
        "a - b - c",
        "a / b / c",
        "a / (b / c)",
        "(a + b) * c",
        "a * (b - c) / (a + b)",
        "-(a + b) * c",
        "(-a) ** 2",
        "-a ** 2",
        "(a / b) ** c",
        "(a ** b) ** c",
        "a ** b ** c",
        "a ** -b",
        "2.5e-3 * a + 4500 * b",
        "(2.5e-3) ** 2 * a",
        "a - -b",
        "a * -b",
        "sqrt(a + b) * exp(-c)",
        "log(a) + log10(b + 1) + atan(c)",
        "abs(b - c) * pi",
        "min(a, b) + max(a, b, c)",
        "W_wall * x_est / (a + b)",
    ],
)
def test_the_markup_means_what_the_text_says(text: str) -> None:
    assert value_of(equation("y", text)) == pytest.approx(computed(text), rel=1e-12)


def trees() -> st.SearchStrategy[str]:
    leaves = st.sampled_from([*VALUES, "2", "0.5", "1e-3"])
    return st.recursive(
        leaves,
        lambda inner: st.one_of(
            st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
            inner.map(lambda text: f"(-{text})"),
            inner.map(lambda text: f"({text})**2"),
            inner.map(lambda text: f"abs({text})"),
        ),
        max_leaves=10,
    )


@settings(max_examples=150, deadline=None)
@given(trees())
def test_any_equation_keeps_its_meaning(text: str) -> None:
    expected = computed(text)
    if not math.isfinite(expected):
        return

    assert value_of(equation("y", text)) == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_a_number_has_the_decimal_mark_of_the_language() -> None:
    assert "<mn>0,25</mn>" in equation("y", "0.25 * a", Language("de"))
    assert "<mn>0.25</mn>" in equation("y", "0.25 * a")


def test_arguments_are_kept_apart_by_semicolons_so_that_decimal_commas_stay_readable() -> None:
    assert "<mo>;</mo>" in equation("y", "min(a, 0.9)", Language("fr"))


@pytest.mark.parametrize(
    ("symbol", "markup"),
    [
        ("L", "<mi>L</mi>"),
        ("rho", "<mi>ρ</mi>"),
        ("W_wall", "<msub><mi>W</mi><mtext>wall</mtext></msub>"),
        ("E_1", "<msub><mi>E</mi><mn>1</mn></msub>"),
        ("a_A", "<msub><mi>a</mi><mi>A</mi></msub>"),
        ("e_lead_est", '<msub><mover accent="true"><mi>e</mi><mo>^</mo></mover><mtext>lead</mtext></msub>'),
    ],
)
def test_a_symbol_is_written_as_by_hand(symbol: str, markup: str) -> None:
    assert name_markup(symbol) == markup


def test_what_is_no_equation_is_refused() -> None:
    with pytest.raises(BudgetError, match="equation of y"):
        equation("y", "a[0]")
