"""Readings by the design of a plan: what the program rehearses, it evaluates without a false word."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from reports.command_line.cli import main

CONFIGS = Path(__file__).parents[3] / "configs"
BENCH = str(CONFIGS / "cupboard.toml")


@pytest.fixture(scope="module")
def folder(once: Callable[..., Path]) -> Path:
    """A plan of the cupboard, and rehearsals of two of its designs."""

    def fill(folder: Path) -> None:
        shared = ("--quiet", "--workers", "1", "--trials", "512", "--seed", "3")
        assert main(["plan", BENCH, "--out", str(folder / "plan"), *shared, "--pages", "risk"]) == 0
        for place in ("1", "2"):
            out = ("--out", str(folder / place))
            assert main(["rehearse", BENCH, *out, "--design", place, "--runs", "10", *shared]) == 0

    return once("plan-and-rehearsals", fill)


def evaluated(folder: Path, out: Path, sheet: str, *options: str, bench: str = BENCH) -> tuple[int, dict[str, Any]]:
    readings = str(folder / sheet / "readings.csv")
    status = main(
        ["evaluate", bench, readings, "--out", str(out), "--quiet", "--teacher", "--trials", "4096", *options]
    )
    file = out / "evaluate.json"
    return status, json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}


def codes(record: dict[str, Any]) -> list[str]:
    return [warning["code"] for warning in record["warnings"]]


@pytest.mark.parametrize(("place", "design"), [("1", ()), ("1", ("--design", "1")), ("2", ("--design", "2"))])
def test_a_rehearsed_design_is_evaluated_without_a_false_finding(
    folder: Path, tmp_path: Path, place: str, design: tuple[str, ...]
) -> None:
    plan = folder / "plan" / "plan.json"
    status, record = evaluated(folder, tmp_path, place, "--plan", str(plan), *design)
    ranked = json.loads(plan.read_text(encoding="utf-8"))["ranking"][int(place) - 1]

    assert status == 0
    assert codes(record) == []
    assert {group["procedure"] for group in record["groups"]} == {ranked["procedure"]}
    assert {group["correction"] for group in record["groups"]} == {ranked["correction"]}
    assert abs(record["difference_percent"]) < 4.0 * ranked["standard_uncertainty_percent"]


def test_readings_of_another_kit_are_an_impossible_finding_and_no_traceback(folder: Path, tmp_path: Path) -> None:
    status, record = evaluated(folder, tmp_path, "1", "--learn")

    assert status == 0
    assert {"outside_the_knowledge", "nothing_learned"} <= set(codes(record))


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--plan", "{plan}", "--design", "999"), "ranking: has no design 999"),
        (("--design", "1"), "--design: must come with --plan"),
        (("--plan", "no-such.json"), "no-such.json: does not exist"),
        (("--plan", "{sheet}"), "is broken JSON"),
        (("--plan", "{other}"), "is not a plan"),
        (("--plan", "{plan}", "--correction", "cooling"), "correction: the procedure"),
    ],
)
def test_a_plan_that_cannot_be_used_is_refused_with_file_key_and_remedy(
    folder: Path, tmp_path: Path, options: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    files = {
        "plan": folder / "plan" / "plan.json",
        "sheet": folder / "1" / "readings.csv",
        "other": folder / "1" / "rehearse.json",
    }
    status, _ = evaluated(folder, tmp_path, "1", *(option.format(**files) for option in options))

    assert status == 2
    assert said in capsys.readouterr().err


def test_the_plan_of_another_bench_is_refused(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan, other = folder / "plan" / "plan.json", str(CONFIGS / "altitude.toml")
    status, _ = evaluated(folder, tmp_path, "1", "--plan", str(plan), bench=other)

    assert status == 2
    assert 'bench: is a plan of another bench (got "Quarry Road School")' in capsys.readouterr().err


def test_an_item_that_was_changed_since_is_named_with_its_key(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = json.loads((folder / "plan" / "plan.json").read_text(encoding="utf-8"))
    name = record["recommended"]["items"]["balance"]
    balance = next(one for one in record["bench_file"]["balances"] if one["name"] == name)
    balance["resolution"] *= 2.0
    plan = tmp_path / "plan.json"
    plan.write_text(json.dumps(record), encoding="utf-8")
    status, _ = evaluated(folder, tmp_path / "out", "1", "--plan", str(plan))
    said = capsys.readouterr().err

    assert status == 2
    assert f'recommended.items.balance "{name}": has been changed since' in said
    assert "resolution = " in said
