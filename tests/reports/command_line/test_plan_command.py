"""Planning from the command line: many benches, stops by the keyboard, and going on from there."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from design.search.work import Store
from reports.command_line import cli, many_benches, output_folder
from reports.command_line.many_benches import summary_table

ROOT = Path(__file__).parents[3]
CONFIGS = ROOT / "configs"
INTERRUPTIBLE = """import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
from reports.command_line.cli import main
sys.exit(main())
"""
"""The command line, listening to the keyboard even where the tests run behind a shell that lets nobody listen."""


@pytest.fixture
def benches(tmp_path: Path) -> list[str]:
    """Two small benches, and one on which nothing is feasible: its lesson lasts eight minutes."""
    cupboard = (CONFIGS / "cupboard.toml").read_text(encoding="utf-8")
    names = ("north", "south", "short")
    for name in names:
        (tmp_path / f"{name}.toml").write_text(cupboard, encoding="utf-8")
    short = tmp_path / "short.toml"
    lines = short.read_text(encoding="utf-8").split("\n")
    short.write_text("\n".join('length = "8 min"' if line.startswith("length =") else line for line in lines), "utf-8")
    return [str(tmp_path / f"{name}.toml") for name in names]


def options(tmp_path: Path) -> list[str]:
    return ["--out", str(tmp_path / "out"), "--trials", "256", "--workers", "1", "--pages", "none"]


def test_many_benches_get_a_report_each_and_a_summary(
    benches: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = cli.main(["plan", *benches, *options(tmp_path)])
    out = tmp_path / "out"
    rows = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    page = BeautifulSoup((out / "summary.html").read_text(encoding="utf-8"), "html.parser")

    assert status == 0
    assert [row["folder"] for row in rows] == ["north", "south", "short"]
    assert [row["feasible"] > 0 for row in rows] == [True, True, False]
    assert "lesson" in rows[2]["not_feasible_because"]
    assert json.loads((out / "north" / "plan.json").read_text(encoding="utf-8"))["recommended"]
    assert not (out / "short").exists()
    assert [link["href"] for link in page.select("main ul a")] == ["north/report.html", "south/report.html"]
    assert len(list(csv.reader((out / "summary.csv").read_text(encoding="utf-8-sig").splitlines()))) == 4
    assert "nothing is feasible" in page.get_text()
    assert str(out / "summary.html") in capsys.readouterr().out
    assert not (tmp_path / "out-partial").exists()


@pytest.mark.slow
def test_a_plan_among_many_is_the_plan_alone(benches: list[str], tmp_path: Path) -> None:
    cli.main(["plan", *benches, *options(tmp_path), "--quiet"])
    cli.main(["plan", benches[0], "--out", str(tmp_path / "alone"), "--trials", "256", "--quiet"])

    assert (tmp_path / "out" / "north" / "plan.json").read_bytes() == (tmp_path / "alone" / "plan.json").read_bytes()


def test_many_benches_go_on_from_where_they_were_stopped(
    benches: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    planned: list[str] = []
    plan_one = many_benches.plan_one

    def stopped(job: many_benches.Job) -> dict[str, bytes]:
        if len(planned) == 1:
            raise KeyboardInterrupt
        planned.append(job.name)
        return plan_one(job)

    monkeypatch.setattr(many_benches, "plan_one", stopped)
    status = cli.main(["plan", *benches, *options(tmp_path)])
    partial = (tmp_path / "out-partial" / "summary.html").read_text(encoding="utf-8")
    told = capsys.readouterr().out
    monkeypatch.setattr(many_benches, "plan_one", plan_one)

    assert status == 130
    assert "Partial: stopped after 1 of 3 benches." in partial
    assert "Stopped after 1 of 3 benches" in told
    assert not (tmp_path / "out").exists()
    assert cli.main(["plan", *benches, *options(tmp_path)]) == 0
    assert "1 of 3 benches were done already" in capsys.readouterr().out
    assert (tmp_path / "out" / "south" / "report.html").exists()
    assert not (tmp_path / "out-partial").exists()


def test_where_no_bench_has_a_feasible_design_the_status_says_so(benches: list[str], tmp_path: Path) -> None:
    other = tmp_path / "shorter.toml"
    shutil.copy(benches[2], other)

    assert cli.main(["plan", benches[2], str(other), *options(tmp_path), "--quiet"]) == 2


def test_a_stopped_plan_leaves_a_partial_report_that_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from design.search import survey

    looked_at: list[int] = []
    look = survey.look_at_share

    def stopped(cells: object) -> object:
        looked_at.append(1)
        if len(looked_at) == 3:
            raise KeyboardInterrupt
        return look(cells)  # type: ignore[arg-type]

    monkeypatch.setattr(survey, "look_at_share", stopped)
    bench = str(CONFIGS / "low-voltage.toml")
    status = cli.main(["plan", bench, *options(tmp_path)])
    told = " ".join(capsys.readouterr().out.split())
    partial = tmp_path / "out-partial"
    monkeypatch.setattr(survey, "look_at_share", look)

    assert status == 130
    assert "Partial: the search was stopped after" in told
    assert "Partial: the search was stopped after" in (partial / "report.html").read_text(encoding="utf-8")
    assert json.loads((partial / "plan.json").read_text(encoding="utf-8"))["searched_share"] < 1.0
    assert not (tmp_path / "out").exists()
    assert cli.main(["plan", bench, *options(tmp_path)]) == 0
    assert "Went on from a search that was stopped" in " ".join(capsys.readouterr().out.split())
    assert json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))["searched_share"] == 1.0
    assert not partial.exists()


@pytest.mark.slow
def test_a_real_interrupt_while_workers_search_leaves_what_is_known(tmp_path: Path) -> None:
    large = CONFIGS / "large" / "bench.toml"
    options = ["--out", str(tmp_path / "out"), "--workers", "2"]
    command = [sys.executable, "-c", INTERRUPTIBLE, "plan", str(large), *options]
    store = Store(tmp_path / "out-partial" / output_folder.STORE)
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    while process.poll() is None and not store.path.exists():
        time.sleep(0.1)
    os.kill(process.pid, signal.SIGINT)
    out, _ = process.communicate(timeout=300)

    assert process.returncode == 130
    assert "Partial: the search was stopped after" in " ".join(out.split())
    assert (tmp_path / "out-partial" / "report.html").exists()
    assert store.path.exists()


def test_the_summary_writes_money_in_each_bench_s_own_currency() -> None:
    row = {
        "folder": "a", "bench": "A", "currency": "crowns", "considered": 10, "feasible": 1,
        "buy": [["meter", "Pulse", 2, 40.0]], "price": 40.0, "procedure": "series", "minutes": 40.0,
        "today_percent": None, "objective": "rms error", "objective_percent": 0.9, "tied": 2, "cheapest_price": 0.0,
        "not_feasible_because": "",
    }  # fmt: skip

    texts = summary_table([row]).texts()[0]

    assert "2 × Pulse" in texts
    assert any("40" in text and "crowns" in text for text in texts)
