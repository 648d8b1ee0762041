"""The changed setting in Debian's chromium: the page reckons as Python does, and anyone can work it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from budget.errors import BudgetError
from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.quantities.distributions import Constant, Normal
from budget.quantities.inputs import Correlation, InputQuantity
from design.bench import Bench
from design.chosen import Design
from design.dials.what_if import WhatIf, what_if
from design.search.plan import Plan
from design.search.ranking import walk
from reports.pages.plan_page import plan_page
from reports.pages.what_if import asset, model_record
from reports.rendering import Origin
from tests.reports.conftest import altered

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SETTINGS = 200
AGREEMENT = 1e-6
READ = """settings => settings.map(setting => {
  for (const [symbol, text] of Object.entries(setting)) {
    const box = document.getElementById('box-' + symbol);
    box.value = text;
    box.dispatchEvent(new Event('input', {bubbles: true}));
  }
  const figures = id => [...document.querySelectorAll('#' + id + ' td[data-live] data')].map(f => Number(f.value));
  const sources = Object.fromEntries([...document.querySelectorAll('#what-if-sources tbody tr')].map(row =>
    [row.dataset.symbol, [...row.querySelectorAll('data')].map(f => Number(f.value))]));
  const kept = [...document.querySelectorAll('#what-if-limits tbody tr')].map(row => !row.classList.contains('broken'));
  return {result: figures('what-if-result'), limits: figures('what-if-limits'), sources, kept,
          order: Object.values(sources).map(figures => figures[0])};
})"""


def written(folder: Path, plan: Plan, bench: Bench) -> str:
    path = folder / "report.html"
    path.write_text(plan_page(plan, bench, Origin("0.0.0", "2026-03-04")), encoding="utf-8")
    return path.as_uri()


def way(plan: Plan, procedure: str, correction: str, powers: tuple[float, ...]) -> Plan:
    assert plan.recommended is not None
    ranked = altered(
        plan.recommended,
        procedure=procedure,
        correction=correction,
        powers_W=powers,
        mass_kg=0.25,
        repeats=2,
    )
    return dataclasses.replace(plan, recommended=ranked)


def settings_of(found: WhatIf, number: int) -> list[dict[str, str]]:
    """Random settings as a reader would type them, in the units that the page shows."""
    factors = {"power": 1.0, "mass": 1000.0, "loss": 1.0, "carry_over": 100.0, "step_energy": 1.0, "repeats": 1.0}
    random = np.random.default_rng(200)
    settings = []
    for _ in range(number):
        typed = {}
        for dial in found.dials:
            low, high = dial.low, dial.high
            if dial.steps == "whole":
                typed[dial.symbol] = str(random.integers(int(low), int(high) + 1))
                continue
            even = dial.steps == "even"
            value = random.uniform(low, high) if even else math.exp(random.uniform(math.log(low), math.log(high)))
            typed[dial.symbol] = f"{value * factors[dial.kind]:.6g}"
        settings.append(typed)
    return settings


def constants_of(found: WhatIf, typed: dict[str, str], *, follow: bool) -> dict[str, float]:
    factors = {"mass": 1000.0, "carry_over": 100.0}
    values = {dial.symbol: float(typed[dial.symbol]) / factors.get(dial.kind, 1.0) for dial in found.dials}
    for dial in found.dials:
        if dial.follower:
            values[dial.follower] = values[dial.symbol] if follow else dial.value
    return values


def with_constants(model: MeasurementModel, constants: dict[str, float]) -> MeasurementModel:
    inputs = tuple(
        dataclasses.replace(q, distribution=Constant(constants[q.symbol])) if q.symbol in constants else q
        for q in model.inputs
    )
    return dataclasses.replace(model, inputs=inputs)


def agrees(got: float, expected: float, scale: float = 0.0) -> bool:
    return math.isclose(got, expected, rel_tol=AGREEMENT, abs_tol=1e-12 * max(scale, 1.0))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("method", "powers", "follow", "number"),
    [
        (("fixed-mass-restart", "none"), (1400.0,), True, SETTINGS),
        (("series", "calculated"), (1400.0,), True, SETTINGS),
        (("two-powers", "calculated"), (1400.0, 700.0), True, SETTINGS),
        (("whole-counts", "none"), (1150.0,), True, 50),
        (("series", "calculated"), (1400.0, 900.0, 500.0), True, 50),
        (("fixed-mass-kept-on", "cooling-run"), (1400.0,), False, 50),
    ],
)
def test_the_page_agrees_with_python_at_random_settings(
    browser: Browser,
    tmp_path: Path,
    plan: Plan,
    bench: Bench,
    method: tuple[str, str],
    powers: tuple[float, ...],
    follow: bool,
    number: int,
) -> None:
    chosen = way(plan, *method, powers)
    assert chosen.recommended is not None
    found = what_if(chosen.recommended.design)
    page = browser.new_page()
    page.goto(written(tmp_path, chosen, bench))
    if not follow:
        page.uncheck("#what-if-follow")
    settings = settings_of(found, number)
    seen = page.evaluate(READ, settings)
    page.close()

    assert len(seen) == number
    for typed, shown in zip(settings, seen, strict=True):
        model = with_constants(found.model, constants_of(found, typed, follow=follow))
        same_as_python(model, found, shown)


def same_as_python(model: MeasurementModel, found: WhatIf, shown: dict[str, Any]) -> None:
    propagation = propagate(model)
    steps = {symbol: float(value) for symbol, value in model.evaluate_all(model.estimates).items()}
    values = {**model.estimates, **steps}
    reference = values["L_ref"]
    bias, spread = propagation.estimate / reference - 1, propagation.standard_uncertainty / reference

    assert agrees(shown["result"][0], propagation.estimate)
    assert agrees(shown["result"][1], bias)
    assert agrees(shown["result"][2], spread)
    assert agrees(shown["result"][3], math.hypot(bias, spread))
    follows = [values[symbol] for symbol in ("mass_1", "counts_1", "time_1", "fill")]
    assert all(agrees(got, expected) for got, expected in zip(shown["result"][4:], follows, strict=True))
    limits = [values[one.value] for one in found.allowances]
    assert all(agrees(got, expected) for got, expected in zip(shown["limits"], limits, strict=True))
    bounds = [(values[one.value], values[one.bound], one.at_least) for one in found.allowances]
    assert shown["kept"] == [value >= bound if least else value <= bound for value, bound, least in bounds]
    for symbol, (share, contribution, _) in shown["sources"].items():
        assert agrees(share, propagation.variance_shares[symbol])
        assert agrees(contribution, abs(propagation.contributions[symbol]) / reference)
    assert shown["order"] == sorted(shown["order"], reverse=True)


def test_the_bias_of_each_source_is_its_step_of_the_walk(
    browser: Browser, tmp_path: Path, plan: Plan, bench: Bench
) -> None:
    chosen = way(plan, "fixed-mass-restart", "none", (1400.0,))
    assert chosen.recommended is not None
    found = what_if(chosen.recommended.design)
    page = browser.new_page()
    page.goto(written(tmp_path, chosen, bench))
    typed = {
        dial.symbol: f"{dial.value * {'mass': 1000, 'carry_over': 100}.get(dial.kind, 1):.9g}" for dial in found.dials
    }
    typed |= {"P_set": "910", "mass": "180", "N": "4"}
    (shown,) = page.evaluate(READ, [typed])
    page.close()
    ranked = altered(chosen.recommended, powers_W=(910.0,), mass_kg=0.18, repeats=4)
    steps = own_walk(ranked.design)

    assert shown["sources"]
    for symbol, (_, _, bias) in shown["sources"].items():
        assert bias == pytest.approx(steps[symbol.removeprefix("x_")], rel=1e-5, abs=1e-9)


def own_walk(ranked: Design) -> dict[str, float]:
    """The walk of the search itself, at a setting."""
    return dict(walk(ranked.program, ranked.terms))


LEAVES = ("a", "b", "c", "2", "0.5", "1e-1", "3.", "pi")
ONE = ("sqrt", "exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan", "abs", "floor", "ceil", "round")


def any_text(random: np.random.Generator, depth: int) -> str:
    """An equation text of the grammar, anywhere in it."""
    if depth == 0 or random.random() < 0.15:
        return str(random.choice(LEAVES))

    def part() -> str:
        return any_text(random, depth - 1)

    makers: tuple[Callable[[], str], ...] = (
        lambda: f"({part()} {random.choice(['+', '-', '*', '/'])} {part()})",
        lambda: f"{part()} {random.choice(['+', '-', '*', '/'])} {part()}",
        lambda: f"({part()})**{random.choice(['2', '3', '-1', '0.5'])}",
        lambda: f"(1 + abs({part()}))**({random.choice(['a', 'b'])} / 3)",
        lambda: f"{random.choice(ONE)}({part()})",
        lambda: f"-{part()}",
        lambda: f"{random.choice(['min', 'max'])}({part()}, {part()}, {part()})",
        lambda: f"atan2({part()}, {part()})",
    )
    return makers[random.integers(len(makers))]()


WRITTEN = (
    "1_000 * a", "0x1F + a", "0b11 * a", ".5 * a", "1. * a", "2**-1 * a", "-2**2 + a", "2**3**2 * a", "max(1, 2, a,)",
    "- -a", "+a", "a*-b", "pi*a", "a - b - c", "a / b / c", "round(2.5) + round(-0.5) + round(3.5) + a", "1E+2*a",
    "  ( a )\n* b ", "atan2(a, -b)", "atan2(-a, -b)", "min(a, a)", "abs(-a)", "(-a)**3", "a**0", "exp(-a**2)",
)  # fmt: skip


def in_page(page: Page, cases: list[dict[str, Any]]) -> list[dict[str, Any]]:
    code = f"""cases => {{ {asset("equations.js")}
      return cases.map(model => {{
        const found = equations.propagate(equations.read({{...model, partners: {{}}}}));
        const parts = Object.fromEntries(found.contributions);
        return {{estimate: found.estimate, uncertainty: found.uncertainty, parts}};
      }}); }}"""
    answers: list[dict[str, Any]] = page.evaluate(code, cases)
    return answers


def model_of(text: str) -> MeasurementModel:
    known = (("a", 1.3, 0.02), ("b", 0.7, 0.05), ("c", 2.6, 0.1))
    inputs = tuple(InputQuantity(symbol, Normal(value, spread)) for symbol, value, spread in known)
    # Every input is used once more, without effect, as a model asks that each is used.
    return MeasurementModel(
        "y", "any", "1", inputs, (("z", text),), "z + 0 * (a + b + c)", (Correlation(("a", "c"), 0.3),)
    )


def test_both_evaluators_read_the_same_grammar(browser: Browser) -> None:
    random = np.random.default_rng(5)
    models, expected = [], []
    for text in (*WRITTEN, *(any_text(random, 4) for _ in range(600))):
        try:
            model = model_of(text)
            with np.errstate(all="ignore"):
                expected.append(propagate(model))
        except BudgetError:  # it has no value there, and Python says so
            continue
        models.append(model)
    page = browser.new_page()
    answers = in_page(page, [model_record(model) for model in models])
    page.close()

    assert len(models) > 300
    for model, answer, propagation in zip(models, answers, expected, strict=True):
        said = model.intermediates[0][1]
        size = abs(propagation.estimate)
        assert agrees(answer["estimate"], propagation.estimate, size), said
        assert agrees(answer["uncertainty"], propagation.standard_uncertainty, size), said
        for symbol, part in answer["parts"].items():
            assert agrees(part, propagation.contributions[symbol], size), (said, symbol)


def test_letters_of_other_alphabets_are_read_as_python_reads_them(browser: Browser) -> None:
    # The micro sign U+00B5 is the Greek letter U+03BC in Unicode form NFKC, as in Python's names.
    model = MeasurementModel("y", "any", "1", (InputQuantity("\u00b5", Normal(2.0, 0.1)),), (), "3 * \u00b5")
    page = browser.new_page()
    (answer,) = in_page(page, [model_record(model)])
    page.close()

    assert answer["estimate"] == pytest.approx(propagate(model).estimate, rel=1e-12)
    assert answer["uncertainty"] == pytest.approx(0.3, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["a b", "2a", "a^b", "f(a)", "sqrt", "a(b)", "a < b", "a.b", "a[0]", "a, b", "min()", "atan2(a)", "(a", "a)"],
)
def test_what_is_no_equation_for_python_is_none_for_the_page(browser: Browser, text: str) -> None:
    from budget.model.equation import compile_program

    page = browser.new_page()
    refused = page.evaluate(
        f"""text => {{ {asset("equations.js")}
        try {{ equations.compile(text); return ''; }} catch (fault) {{ return fault.message; }} }}""",
        text,
    )
    page.close()

    assert refused.startswith("equation: ")
    with pytest.raises(BudgetError):
        compile_program([], text)
