"""The verdict on agreement: none while a strong slip stands, nothing said where the uncertainty is too wide."""

from collections.abc import Callable
from typing import Any, get_args

import pytest

from design.evaluation.evaluate import EvaluationRequest, evaluate
from design.evaluation.verdict import TOO_WIDE, Verdict, verdict_of
from reports.words.evaluate import verdict_text
from reports.words.languages import LANGUAGES, language

Rows = list[dict[str, str]]


@pytest.mark.parametrize(
    ("agrees", "width", "codes", "verdict"),
    [
        (True, 0.03, [], "agrees"),
        (True, 0.03, ["step_too_small"], "agrees"),
        (False, 0.03, [], "differs"),
        (False, 2.0 * TOO_WIDE, [], "differs"),
        (True, 2.0 * TOO_WIDE, [], "says_nothing"),
        (True, 0.03, ["unit_slip"], "withheld"),
        (False, 2.0 * TOO_WIDE, ["step_too_small", "mass_runs_backwards"], "withheld"),
    ],
)
def test_a_verdict_is_given_where_there_is_something_to_say(
    agrees: bool, width: float, codes: list[str], verdict: Verdict
) -> None:
    assert verdict_of(agrees=agrees, width=width, codes=codes) == verdict


def test_a_slip_in_one_group_withholds_its_verdict_and_that_of_the_class(
    two_runs: Rows, make_sheet: Callable[..., Any], demo_bench: Any
) -> None:
    rows = [{**row, "group": name} for name in "AB" for row in two_runs]
    rows[-1]["mass_g"] = "0.12"
    found = evaluate(demo_bench, make_sheet(rows), EvaluationRequest())
    good, bad = found.groups

    assert good.verdict in {"agrees", "differs"}
    assert bad.verdict == "withheld"
    assert {bad.school_verdict(school) for school in bad.presets} == {"withheld"}
    assert found.verdict == "withheld"


def test_every_verdict_has_its_words_in_every_language() -> None:
    said = {
        (code, verdict): verdict_text(verdict, language(code)) for code in LANGUAGES for verdict in get_args(Verdict)
    }

    assert len(set(said.values())) == len(said)
    assert "10" in said["en", "says_nothing"]
