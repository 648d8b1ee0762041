"""What commands print: results to read, or JSON to pipe, and colour only where it is wanted."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from rich.console import Console

from design.bench import Bench
from design.bench_files import reader as bench_file
from design.search import planning as search
from design.search.plan import Plan
from reports.command_line import cli
from reports.command_line.console import data_table, facts, report_path, terminal
from reports.command_line.plan import show_plan
from reports.words.rounding import THIN

BUDGET = """
[measurand]
symbol = "R"
unit = "ohm"
equation = "V / I"
[[input]]
symbol = "V"
unit = "V"
distribution = "normal"
estimate = 6.1
standard_uncertainty = 0.02
[[input]]
symbol = "I"
unit = "A"
distribution = "rectangular"
estimate = 0.74
half_width = 0.01
"""


@pytest.fixture
def budget_file(tmp_path: Path) -> Path:
    path = tmp_path / "resistance.toml"
    path.write_text(BUDGET, encoding="utf-8")
    return path


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch, plan: Plan, bench: Bench) -> None:
    monkeypatch.setattr(search, "plan_bench", lambda bench, **options: plan)
    monkeypatch.setattr(bench_file, "read_bench", lambda path: bench)


def test_json_to_standard_output_is_the_file_of_the_folder_and_nothing_else(
    planned: None, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert cli.main(["plan", "b.toml", "--out", str(tmp_path / "r"), "--json", "-"]) == 0

    out, err = capfdbinary.readouterr()
    assert out == (tmp_path / "r" / "plan.json").read_bytes()
    assert json.loads(out)["bench"] == "Invented college"
    assert err == b""


def test_a_budget_can_be_piped_as_well(budget_file: Path, tmp_path: Path) -> None:
    command = [
        sys.executable,
        "-m",
        "reports.command_line.cli",
        "budget",
        str(budget_file),
        "--json",
        "-",
        "--trials",
        "4096",
    ]
    done = subprocess.run([*command, "--out", str(tmp_path / "r")], capture_output=True, check=True)

    assert json.loads(done.stdout)["measurand"] == "R"
    assert done.stdout == (tmp_path / "r" / "budget.json").read_bytes()
    assert done.stderr == b""


def test_json_may_go_to_a_file_of_its_own(planned: None, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "mine.json"

    assert cli.main(["plan", "b.toml", "--out", str(tmp_path / "r"), "--json", str(target)]) == 0
    assert json.loads(target.read_bytes())["seed"] == 7
    assert capsys.readouterr().out == ""


def test_json_into_a_folder_that_is_not_there_is_one_message(
    planned: None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "nowhere" / "mine.json"

    assert cli.main(["plan", "b.toml", "--out", str(tmp_path / "r"), "--json", str(target)]) == 2
    assert f"--json {target}: cannot be written" in capsys.readouterr().err


@pytest.mark.parametrize(("variable", "coloured"), [("", True), ("1", False)])
def test_no_color_takes_the_colour_away(
    monkeypatch: pytest.MonkeyPatch, plan: Plan, bench: Bench, variable: str, coloured: bool
) -> None:
    # no-color.org: a variable NO_COLOR that is present and not empty, whatever its value.
    monkeypatch.setenv("NO_COLOR", variable)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("COLORTERM", raising=False)
    screen = io.StringIO()
    show_plan(plan, Path("r/report.html"), Console(file=screen, force_terminal=True, width=100, highlight=False))

    assert ("\x1b[1;34m" in screen.getvalue()) is coloured
    assert "\x1b[34m" not in screen.getvalue()


def test_the_plan_shows_the_decision_the_best_of_the_ranking_and_the_path(plan: Plan, bench: Bench) -> None:
    screen = io.StringIO()
    console = Console(file=screen, width=100, highlight=False)
    show_plan(plan, Path("a rather long folder name") / ("deep" * 20) / "report.html", console)

    shown = screen.getvalue()
    assert "Compared with today" in shown
    assert "Ranking" in shown
    assert f"83.0{THIN}%" in shown
    assert f"0.04{THIN}%" in shown
    told = " ".join(shown.split())
    assert "“Nearly best”: in how many cases the error of the row is within 0.20 % of the least" in told
    assert "“Costs” is how much more than the least its error then is" in told
    assert f"Report: {Path('a rather long folder name') / ('deep' * 20) / 'report.html'}\n" in shown


def test_nothing_is_wider_than_the_terminal_but_the_path(plan: Plan, bench: Bench) -> None:
    screen = io.StringIO()
    show_plan(plan, Path("report.html"), Console(file=screen, width=80, highlight=False))

    assert max(len(line) for line in screen.getvalue().splitlines()) <= 80


def test_the_console_of_a_pipe_writes_plain_text(capsys: pytest.CaptureFixture[str], plan: Plan) -> None:
    from reports.tables.search import search_tables

    console = terminal()
    facts(console, [("Label", "value")])
    data_table(console, search_tables(plan)["ties"], ("procedure", "price"), rows=1)
    report_path(console, Path("report.html"))

    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert out.count("kept on") == 1
    assert out.endswith("Report: report.html\n")


@pytest.mark.parametrize("command", ["plan", "budget", "compare", "evaluate", "rehearse"])
def test_every_command_that_writes_a_report_can_be_quiet_and_can_write_json(command: str) -> None:
    shown = subprocess.run(
        [sys.executable, "-m", "reports.command_line.cli", command, "--help"],
        capture_output=True, text=True, check=True, env={**os.environ, "COLUMNS": "200"},
    ).stdout  # fmt: skip

    assert "--quiet" in shown
    assert "--json" in shown
