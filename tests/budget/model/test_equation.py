"""Equations: the grammar, nothing beside it, and exact derivatives."""

from __future__ import annotations

import math
import time

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.errors import BudgetError
from budget.model.derivatives import taylor_coefficients
from budget.model.equation import compile_program
from budget.model.grammar import ARGUMENTS, symbol_name

numbers = st.floats(0.1, 0.9)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a + b * 2", 0.4 + 0.7 * 2),
        ("-a ** 2", -0.16),
        ("(a - b) / (a + b)", -0.3 / 1.1),
        ("2 ** -a", 2**-0.4),
        ("a ** 3 + b ** 4", 0.4**3 + 0.7**4),
        ("sqrt(a) + exp(b) + log(a) + log10(b)", 0.4**0.5 + math.exp(0.7) + math.log(0.4) + math.log10(0.7)),
        ("sin(a) + cos(b) + tan(a)", math.sin(0.4) + math.cos(0.7) + math.tan(0.4)),
        ("asin(a) + acos(b) + atan(a) + atan2(a, b)", math.asin(0.4) + math.acos(0.7) + math.atan(0.4) + math.atan2(0.4, 0.7)),  # noqa: E501
        ("abs(a - b) + min(a, b, 0.5) + max(a, b)", 0.3 + 0.4 + 0.7),
        ("floor(10*a) + ceil(10*b+0.5) + round(2.5) + round(3.5)", 4 + 8 + 2 + 4),
        ("pi * a", math.pi * 0.4),
        ("1.5e-3 * +a", 0.0006),
    ],
)  # fmt: skip
def test_an_equation_means_what_it_says(text: str, expected: float) -> None:
    assert float(compile_program([], text).evaluate({"a": 0.4, "b": 0.7})) == pytest.approx(expected, rel=1e-14)


@given(a=numbers, b=numbers, c=numbers)
def test_the_evaluator_agrees_with_python_on_arrays(a: float, b: float, c: float) -> None:
    text = "a * b ** 2 / (1 + c) - sqrt(a + b) * exp(-c) + max(a, b) * min(b, c)"
    expected = a * b**2 / (1 + c) - math.sqrt(a + b) * math.exp(-c) + max(a, b) * min(b, c)
    values = {"a": np.full((3, 1), a), "b": np.full((3, 4), b), "c": np.array(c)}
    result = compile_program([], text).evaluate(values)

    assert result.shape == (3, 4)
    assert result == pytest.approx(np.full((3, 4), expected), rel=1e-12)


def test_steps_are_computed_in_order_and_can_be_read() -> None:
    program = compile_program([("w", "a + b"), ("v", "w ** 2")], "v / w", result="y")

    assert program.symbols == {"a", "b"}
    assert {name: float(value) for name, value in program.evaluate_all({"a": 1.0, "b": 2.0}).items()} == {
        "w": 3.0,
        "v": 9.0,
        "y": 3.0,
    }


def test_constants_are_folded_without_changing_the_result() -> None:
    program = compile_program([("w", "a * n / 1.0")], "(w - b) ** 2 * n + 0 * b", result="y")
    folded = program.with_constants({"n": 3.0})
    values = {"a": np.array([1.0, 2.0]), "b": np.array(0.5)}

    assert folded.symbols == {"a", "b"}
    assert folded.evaluate(values) == pytest.approx(program.evaluate({**values, "n": np.array(3.0)}), rel=1e-15)


def test_letters_of_any_alphabet_name_symbols() -> None:
    assert compile_program([], "Δθ * α_1 + µ").symbols == {"Δθ", "α_1", symbol_name("µ")}


HOSTILE = [
    ("__import__('os').system('x')", "a multiplication must be written|must use the functions|got an attribute"),
    ("a.__class__", r"got an attribute"),
    ("[x for x in (1, 2)]", "got a loop"),
    ("(lambda: 1)()", "a multiplication must be written with"),
    ("a if b else c", "got a condition"),
    ("a < b", "got a comparison"),
    ("a and b", "got and/or"),
    ("open(a)", r"must use the functions .* \(got open\(…\)\)"),
    ("a[0]", "got square brackets"),
    ("'text'", "got the value 'text'"),
    ("True", "got the value 'True'"),
    ("1j", "got the value '1j'"),
    ("a ^ 2", r"got \^; powers are written \*\*"),
    ("3,5 * a", r"got a list \(a comma for the decimal point\?\)"),
    ("a % b", "got %"),
    ("(a := 1)", "got an assignment"),
    ("max(*a)", "got a star before a name"),
    ("f'{a}'", "got text in quotes"),
    ("sqrt", "sqrt must be followed by its argument in brackets"),
    ("atan2(a)", r"atan2 must have 2 argument\(s\) \(got 1\)"),
    ("exp(x=1)", r"exp must have 1 argument\(s\)"),
    ("a b", "must be one equation that can be read"),
    ("a # b", "must not contain a comment"),
    ("1e999", "a number must be below 1.8e308"),
    ("9" * 9000, "must be one equation that can be read"),
    ("(" * 10**6 + "a" + ")" * 10**6, "must be at most 10000 characters"),
    ("(" * 4000 + "a" + ")" * 4000, "brackets inside each other"),
    ("-" * 9000 + "a", "no long runs of signs"),
    ("a**" * 3000 + "a", "60 powers"),
    ("a+" * 4999 + "a", "must be one equation that can be read|must be shorter"),
    ("", "must be an equation in text"),
]


@pytest.mark.parametrize(("text", "message"), HOSTILE, ids=[f"{k} {text[:12]}" for k, (text, _) in enumerate(HOSTILE)])
def test_anything_but_the_grammar_is_refused_at_once(text: str, message: str) -> None:
    start = time.perf_counter()
    with pytest.raises(BudgetError, match=message):
        compile_program([], text)

    assert time.perf_counter() - start < 1.0


@given(st.text(max_size=60))
def test_no_text_whatever_gets_past_as_anything_but_an_equation_or_a_refusal(text: str) -> None:
    try:
        program = compile_program([], text)
    except BudgetError as fault:
        assert str(fault)  # noqa: PT017 either outcome is right, but no other
    else:
        program.evaluate(dict.fromkeys(program.symbols, 0.5))


@given(
    st.lists(st.sampled_from([*ARGUMENTS, "(", ")", "a", "b", "2", "+", "-", "*", "**", "/", ",", "."]), max_size=14)
)
def test_scrambled_grammar_is_read_or_refused(tokens: list[str]) -> None:
    try:
        program = compile_program([], " ".join(tokens))
    except BudgetError as fault:
        assert str(fault)  # noqa: PT017
    else:
        program.evaluate({"a": 0.4, "b": 0.7})


def test_a_huge_power_is_a_number_without_a_value_in_no_time() -> None:
    start = time.perf_counter()
    value = float(compile_program([], "9**9**9**9 + 0*a").evaluate({"a": 1.0}))

    assert math.isinf(value)
    assert time.perf_counter() - start < 1.0


@pytest.mark.parametrize("symbol", ["2a", "a b", "sqrt", "pi", "lambda", "a-b", ""])
def test_a_symbol_that_equations_cannot_carry_is_refused(symbol: str) -> None:
    with pytest.raises(BudgetError, match="symbol: must"):
        symbol_name(symbol)


FUNCTIONS = [
    "a * b + a / b", "a ** 3 * b ** -2", "a ** b", "sqrt(a * b)", "exp(a) * log(b)", "log10(a + b)", "sin(a) * cos(b)",
    "tan(a * b)", "asin(a) + acos(b)", "atan(a / b)", "atan2(a, b)", "atan2(a, -b)", "abs(a - 2) * b", "min(a, b + 1) * b",  # noqa: E501
    "max(a, b - 1) * a", "1 / (a + b ** 2)", "2 ** a", "a ** 2.5",
]  # fmt: skip


@pytest.mark.parametrize("text", FUNCTIONS)
def test_derivatives_to_third_order_are_those_of_forty_digit_arithmetic(text: str) -> None:
    mpmath.mp.dps = 40
    names = {
        "sqrt": mpmath.sqrt, "exp": mpmath.exp, "log": mpmath.log, "log10": mpmath.log10, "sin": mpmath.sin,
        "cos": mpmath.cos, "tan": mpmath.tan, "asin": mpmath.asin, "acos": mpmath.acos, "atan": mpmath.atan,
        "atan2": mpmath.atan2, "abs": abs, "min": min, "max": max,
    }  # fmt: skip
    code = compile(text, "test", "eval")

    def along(t: mpmath.mpf) -> mpmath.mpf:
        return eval(code, {"__builtins__": {}}, {**names, "a": mpmath.mpf("0.3") + t, "b": mpmath.mpf("0.7") - 2 * t})  # noqa: S307

    jet = taylor_coefficients(
        compile_program([], text), {"a": 0.3, "b": 0.7}, {"a": np.array([1.0]), "b": np.array([-2.0])}, 3
    )

    assert jet[:, 0] == pytest.approx([float(c) for c in mpmath.taylor(along, 0, 3)], rel=1e-11, abs=1e-12)


def test_a_kink_has_no_derivative() -> None:
    jet = taylor_coefficients(compile_program([], "abs(a)"), {"a": 0.0}, {"a": np.array([1.0])}, 1)

    assert np.isnan(jet[1, 0])
