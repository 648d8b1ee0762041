from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from design.bench import Bench
from design.bench_files import reader as bench_file
from design.errors import DesignError
from design.search import planning as search
from design.search.plan import Plan
from reports.command_line import cli
from reports.command_line.console import progress_bar

Run = Callable[..., int]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, plan: Plan, bench: Bench) -> dict[str, Any]:
    """Put a plan made by hand in the place of the search, and keep what the search was asked for."""
    kept: dict[str, Any] = {}

    def plan_bench(bench: Bench, **options: Any) -> Plan:
        kept.update(options, bench=bench)
        options["progress"]("looking at kits", 1, 2)
        return plan

    monkeypatch.setattr(search, "plan_bench", plan_bench)
    monkeypatch.setattr(bench_file, "read_bench", lambda path: bench)
    return kept


def test_plan_writes_the_report_and_says_where_it_is(
    asked: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = cli.main(["plan", "b.toml", "--out", str(tmp_path / "r"), "--seed", "7", "--workers", "1"])

    out, err = capsys.readouterr()
    assert status == 0
    assert err == ""
    assert str(tmp_path / "r" / "report.html") in out
    assert "105.50" in out
    assert json.loads((tmp_path / "r" / "plan.json").read_text())["bench"] == "Invented college"
    assert (asked["seed"], asked["workers"], asked["trials"]) == (7, 1, search.DEFAULT_TRIALS)


def test_quiet_prints_nothing(asked: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["plan", "b.toml", "--out", str(tmp_path / "r"), "--quiet"]) == 0

    assert capsys.readouterr() == ("", "")
    assert (tmp_path / "r" / "report.html").exists()


def test_the_report_goes_to_a_folder_in_the_working_folder_unless_told(
    asked: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    assert cli.main(["plan", "b.toml", "--quiet"]) == 0
    assert (tmp_path / "boiloff-report" / "report.html").exists()


def test_options_reach_the_search(asked: dict[str, Any], tmp_path: Path) -> None:
    options = ["--trials", "512", "--coverage", "0.9", "--only-owned", "--quiet"]

    assert cli.main(["plan", "b.toml", "--out", str(tmp_path / "r"), *options]) == 0
    assert (asked["trials"], asked["only_owned"]) == (512, True)
    assert asked["bench"].search.coverage == 0.9


def test_nothing_feasible_says_what_would_help_and_writes_nothing(
    asked: dict[str, Any],
    infeasible_plan: Plan,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(search, "plan_bench", lambda bench, **options: infeasible_plan)

    status = cli.main(["plan", "b.toml", "--out", str(tmp_path / "r")])

    out, err = capsys.readouterr()
    assert status == 2
    assert out == ""
    assert "b.toml: nothing is feasible" in err
    assert "- takes longer than the lesson" in err
    assert "+ a lesson of 77 min, more power or fewer runs" in err
    assert list(tmp_path.iterdir()) == []


def test_a_fault_of_the_file_is_one_message_without_a_traceback(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(path: Path) -> Bench:
        raise DesignError('b.toml: lesson.length: is missing (got nothing); write "70 min"')

    monkeypatch.setattr(bench_file, "read_bench", refuse)
    status = cli.main(["plan", "b.toml", "--out", str(tmp_path / "r")])

    assert status == 2
    assert capsys.readouterr().err == 'boiloff: b.toml: lesson.length: is missing (got nothing); write "70 min"\n'
    assert list(tmp_path.iterdir()) == []


def test_an_output_path_that_is_a_file_is_refused_before_the_bench_is_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "r").write_text("mine")

    assert cli.main(["plan", "no-such-bench.toml", "--out", str(tmp_path / "r")]) == 2
    assert "is a file; give the name of a folder" in capsys.readouterr().err
    assert (tmp_path / "r").read_text() == "mine"


def test_a_fault_of_the_program_says_so_and_shows_where(
    asked: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(bench: Bench, **options: Any) -> Plan:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(search, "plan_bench", broken)
    status = cli.main(["plan", "b.toml", "--out", str(tmp_path / "r")])

    lines = capsys.readouterr().err.splitlines()
    assert status == 1
    assert lines[0] == "boiloff failed, this is a fault in the program: ZeroDivisionError: division by zero"
    assert lines[1].startswith("Traceback")


def test_an_interrupt_ends_with_a_plain_line(
    asked: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(bench: Bench, **options: Any) -> Plan:
        raise KeyboardInterrupt

    monkeypatch.setattr(search, "plan_bench", interrupted)

    assert cli.main(["plan", "b.toml", "--out", str(tmp_path / "r")]) == 130
    assert capsys.readouterr().err.strip() == "boiloff: stopped; nothing was written."


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--seed", "-1"], "'--seed': -1 is not a whole number from 0 to"),
        (["--seed", "x"], "'--seed': x is not a whole number"),
        (["--trials", "0"], "'--trials': 0 is not a whole number from 2 to"),
        (["--trials", "1.5"], "'--trials': 1.5 is not a whole number"),
        (["--coverage", "2"], "'--coverage': 2 is not a probability between 0 and 1"),
        (["--coverage", "0"], "'--coverage': 0 is not a probability"),
        (["--coverage", "nan"], "'--coverage': nan is not a probability"),
        (["--workers", "0"], "'--workers': 0 is not a whole number from 1 to"),
        (["--frobnicate"], "No such option: --frobnicate"),
    ],
)
def test_a_wrong_option_is_one_message(
    asked: dict[str, Any], arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["plan", "b.toml", *arguments]) == 2

    err = capsys.readouterr().err
    assert message in err
    assert "Traceback" not in err
    assert asked == {}


def test_a_command_without_its_file_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["plan"]) == 2
    assert "Missing argument" in capsys.readouterr().err


def test_the_version_is_that_of_the_installed_program(capsys: pytest.CaptureFixture[str]) -> None:
    from importlib.metadata import version

    assert cli.main(["--version"]) == 0
    assert capsys.readouterr().out == f"boiloff {version('boiloff')}\n"


def test_help_lists_the_commands() -> None:
    shown = CliRunner().invoke(cli.app, ["--help"])

    assert shown.exit_code == 0
    for command in ("plan", "check", "start"):
        assert command in shown.output


def test_help_loads_no_heavy_library() -> None:
    heavy = ["numpy", "pandas", "matplotlib", "scipy", "CoolProp", "SALib", "pydantic", "jinja2", "joblib"]
    start = "from reports.command_line import cli; cli.main(['--help'])"
    code = f"import sys; {start}; print([m for m in {heavy} if m in sys.modules])"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert shown.stdout.splitlines()[-1] == "[]"


def test_start_writes_a_bench_that_passes_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["start", str(tmp_path / "mine")]) == 0
    assert (tmp_path / "mine" / "bench.toml").read_text().startswith("#")

    assert cli.main(["check", str(tmp_path / "mine" / "bench.toml")]) == 0
    assert "a bench file that can be used" in capsys.readouterr().out


def test_start_writes_budget_files_that_say_what_each_key_is_and_can_be_worked_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["start", str(tmp_path)]) == 0
    written = sorted((tmp_path / "budgets").iterdir())

    assert [path.name for path in written] == ["lens.toml", "pendulum.toml", "wire.toml"]
    for path in written:
        assert path.read_text(encoding="utf-8").count("#") >= 4
        assert cli.main(["check", str(path)]) == 0
        assert cli.main(["budget", str(path), "--out", str(tmp_path / path.stem), "--trials", "4096"]) == 0
    said = capsys.readouterr().out
    assert said.count("a budget file that can be used") == 3
    assert "f = (100.7 ± 1.4)" in said


def test_start_does_not_overwrite(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bench.toml").write_text("mine")

    assert cli.main(["start", str(tmp_path)]) == 2
    assert "bench.toml would be overwritten" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["bench.toml"]
    assert (tmp_path / "bench.toml").read_text() == "mine"


def test_check_refuses_a_hundred_thousand_brackets_without_a_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "deep.toml"
    file.write_text("a=" + "[" * 100_000, encoding="utf-8")

    assert cli.main(["check", str(file)]) == 2
    assert "Traceback" not in (err := capsys.readouterr().err)
    assert str(file) in err


def test_check_refuses_a_file_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", "no-such-file.toml"]) == 2
    assert "no-such-file.toml" in capsys.readouterr().err


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_bar_shows_stage_and_time_left_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setenv("COLUMNS", "100")
    with progress_bar(quiet=False) as report:
        report("looking at kits", 1, 2)
        report("looking at kits", 2, 2)

    assert "looking at kits" in screen.getvalue()
    assert "100 %" in screen.getvalue()
    assert "left" in screen.getvalue()


def test_no_bar_is_shown_to_a_file(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    with progress_bar(quiet=False) as report:
        report("looking at kits", 1, 2)

    assert stream.getvalue() == ""
