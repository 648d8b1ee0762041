"""What is written into the page for the changed setting: numbers in full, and tables that stand without scripts."""

from __future__ import annotations

import json
import re

import pytest
from bs4 import BeautifulSoup

from budget.model.measurement import MeasurementModel
from budget.propagation import propagate
from budget.quantities.distributions import Normal
from budget.quantities.inputs import Correlation, InputQuantity
from design.bench import Bench
from design.dials.what_if import what_if
from design.search.plan import Plan
from reports.pages.what_if import as_script_data, limits_table, model_record, result_table, what_if_section
from reports.rendering import Origin
from tests.reports.conftest import altered

ORIGIN = Origin("0.0.0", "2026-03-04")


def test_the_page_carries_the_equation_text_and_every_input_in_full(plan: Plan, bench: Bench) -> None:
    section = what_if_section(plan)
    assert section is not None
    assert plan.recommended is not None
    model = what_if(plan.recommended.design).model
    written = json.loads(section.data)["model"]

    assert written["equation"] == model.equation
    assert [tuple(step) for step in written["intermediates"]] == list(model.intermediates)
    assert [one["symbol"] for one in written["inputs"]] == list(model.symbols)
    for one in written["inputs"]:
        assert one["estimate"] == model.distributions[one["symbol"]].mean
        assert one["uncertainty"] == model.distributions[one["symbol"]].standard_uncertainty


def test_correlated_inputs_are_written_as_correlated() -> None:
    model = MeasurementModel(
        symbol="y",
        name="sum",
        unit="1",
        inputs=(InputQuantity("a", Normal(1.0, 0.1)), InputQuantity("b", Normal(2.0, 0.1))),
        intermediates=(),
        equation="a + b",
        correlations=(Correlation(("a", "b"), 0.5),),
    )

    assert model_record(model)["correlations"] == [["a", "b", 0.5]]


def test_nothing_in_the_data_can_end_the_script_element() -> None:
    text = as_script_data({"name": "</script><script>alert(1)</script>\u2028"})

    assert "<" not in text
    assert "\u2028" not in text
    assert json.loads(text) == {"name": "</script><script>alert(1)</script>\u2028"}


def test_a_number_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        as_script_data({"value": float("nan")})


def test_no_script_of_the_page_ends_early(example_page: str) -> None:
    scripts = [str(script.string) for script in BeautifulSoup(example_page, "html5lib").find_all("script")]

    assert len(scripts) == 4
    assert all(len(script) > 500 and "</" not in script for script in scripts)


def test_without_scripts_the_recommended_values_are_those_of_the_law_of_propagation(plan: Plan, bench: Bench) -> None:
    assert plan.recommended is not None
    found = what_if(plan.recommended.design)
    propagation = propagate(found.model)
    reference = found.model.estimates["L_ref"]
    told = {row[0]: row[1].replace("\u202f", " ") for row in result_table(found).texts()}

    bias = 100 * (propagation.estimate / reference - 1)
    spread = 100 * propagation.standard_uncertainty / reference
    assert told["Bias"] == f"+{bias:.{2 if bias < 0.995 else 1}f} %"
    assert told["Standard uncertainty"] == f"{spread:.{2 if spread < 0.995 else 1}f} %"
    assert told["Expected result"].startswith(f"{propagation.estimate / 1000:.0f} kJ/kg (u = ")


def test_the_limits_say_what_is_allowed_and_whether_it_is_kept(plan: Plan, bench: Bench) -> None:
    assert plan.recommended is not None
    rows = {row[0]: row[1:] for row in limits_table(what_if(plan.recommended.design)).texts()}
    too_much = altered(plan.recommended, powers_W=(3500.0,))
    broken = {row[0]: row[1:] for row in limits_table(what_if(too_much.design)).texts()}

    assert [cell.replace("\u202f", " ") for cell in rows["Current on the circuit"]] == [
        "at most 13 A",
        "6.09 A",
        "✓ kept",
    ]
    assert broken["Current on the circuit"][-1] == "✗ broken"


def test_every_control_has_a_label_and_a_range(example_page: str) -> None:
    soup = BeautifulSoup(example_page, "html5lib")
    labels = {label["for"] for label in soup.find_all("label")}
    controls = soup.select("#what-if-section input")

    assert len(controls) == 12
    for control in controls:
        assert control["id"] in labels or control["aria-label"]
        assert float(str(control["min"])) < float(str(control["max"]))


def test_the_words_scripts_need_are_all_there(plan: Plan, bench: Bench, example_page: str) -> None:
    section = what_if_section(plan)
    assert section is not None
    used = set(re.findall(r"\bwords\.(\w+)", section.script))

    assert used <= set(json.loads(section.data)["words"])
    ranking = BeautifulSoup(example_page, "html5lib").find(id="ranking-data")
    assert ranking is not None
    assert len(json.loads(str(ranking.string))["rows"]) == len(plan.ranking)
