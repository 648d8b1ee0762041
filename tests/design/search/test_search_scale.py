"""Many hands, interruptions and many benches: the answer is the same, and nothing done is lost."""

import json
import os
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import joblib
import pytest

from design.bench import Bench
from design.errors import DesignError
from design.search import survey as survey_module
from design.search import work
from design.search.plan import Plan
from design.search.planning import plan_bench
from design.search.survey import STAGE
from design.search.work import Store
from reports.command_line.plan import plan_record
from reports.command_line.request import json_bytes
from tests.design.conftest import plan_once

TRIALS = 256


def recorded(plan: Plan) -> str:
    """Every number of a plan, as JSON."""
    return json_bytes(plan_record(plan, "0.0.0")).decode("utf-8")


def planned(bench: Bench, **options: Any) -> str:
    """Every number of a plan, as JSON."""
    return recorded(plan_bench(bench, seed=5, trials=TRIALS, **options))


def planned_alone(bench: Bench) -> Plan:
    """Plan of a bench by one process, without a stop; the same for all tests that compare with it."""
    return plan_once(bench, seed=5, trials=TRIALS)


@pytest.fixture
def wide_bench(bench: Bench) -> Bench:
    """The bench with more heaters and vessels, so that there are several shares of work."""
    vessels = tuple(
        replace(bench.vessels[0], name=f"beaker {place}", height=0.190 + 0.004 * place, price=3.0 * place)
        for place in range(4)
    )
    return bench.with_shelves(vessel=vessels)


def stop_after(shares: int) -> Callable[..., None]:
    """Progress that presses Ctrl-C when some shares of the work are done."""

    def progress(stage: str, done: int, total: int, note: str = "") -> None:
        if stage == STAGE and done == shares and total > shares:
            raise KeyboardInterrupt

    return progress


@pytest.mark.slow
def test_the_number_of_workers_does_not_change_a_byte(wide_bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    alone = recorded(planned_alone(wide_bench))
    monkeypatch.setattr(work, "WORTH_WORKERS", 0.0)

    assert planned(wide_bench, workers=2) == alone
    assert planned(wide_bench, workers=3) == alone


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
def test_a_cluster_that_loses_a_worker_gives_the_same_plan(wide_bench: Bench) -> None:
    from distributed import LocalCluster

    alone = recorded(planned_alone(wide_bench))
    killed: list[int] = []
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        victim = next(iter(cluster.workers.values())).pid

        def progress(stage: str, done: int, total: int, note: str = "") -> None:
            if stage == STAGE and done == 1 and not killed:
                os.kill(victim, signal.SIGKILL)
                killed.append(victim)

        assert planned(wide_bench, cluster=cluster.scheduler_address, progress=progress) == alone

    assert killed


def test_a_cluster_that_does_not_answer_is_named(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "CLUSTER_PATIENCE", "1s")

    with pytest.raises(DesignError, match=r"--cluster tcp://127\.0\.0\.1:9: no dask scheduler answers"):
        plan_bench(bench, trials=TRIALS, cluster="tcp://127.0.0.1:9")


def test_a_stopped_search_plans_with_what_it_has_seen_and_says_so(wide_bench: Bench) -> None:
    plan = plan_bench(wide_bench, seed=5, trials=TRIALS, progress=stop_after(2))
    whole = planned_alone(wide_bench)

    assert plan.searched_share < 1.0 == whole.searched_share
    assert plan.recommended is not None
    assert plan.considered < whole.considered
    assert plan.ranking[0].objective_percent >= whole.ranking[0].objective_percent


def test_a_search_stopped_before_anything_was_found_is_stopped(wide_bench: Bench) -> None:
    with pytest.raises(KeyboardInterrupt):
        plan_bench(wide_bench, seed=5, trials=TRIALS, progress=stop_after(0))


def test_a_stopped_search_goes_on_from_what_it_finished(wide_bench: Bench, tmp_path: Path) -> None:
    store = Store(tmp_path / "finished", patience=0.0)
    first = plan_bench(wide_bench, seed=5, trials=TRIALS, store=store, progress=stop_after(2))
    looked_at: list[int] = []

    def progress(stage: str, done: int, total: int, note: str = "") -> None:
        if stage == STAGE:
            looked_at.append(done)

    second = plan_bench(wide_bench, seed=5, trials=TRIALS, store=store, progress=progress)

    assert first.searched_share == pytest.approx(second.reused_share)
    assert second.reused_share > 0.0
    assert looked_at[0] == 2
    assert recorded(second) == recorded(planned_alone(wide_bench))


def test_what_another_bench_has_finished_is_not_taken_over(wide_bench: Bench, tmp_path: Path) -> None:
    store = Store(tmp_path / "finished", patience=0.0)
    plan_bench(wide_bench, seed=5, trials=TRIALS, store=store)
    longer = replace(wide_bench, lesson=replace(wide_bench.lesson, length=6000.0))

    plan = plan_bench(longer, seed=5, trials=TRIALS, store=store)

    assert plan.reused_share == 0.0
    assert recorded(plan) == planned(longer)


@pytest.mark.slow
def test_what_another_state_of_the_program_has_finished_is_not_taken_over(
    wide_bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = Store(tmp_path / "finished", patience=0.0)
    plan_bench(wide_bench, seed=5, trials=TRIALS, store=store)
    (tmp_path / "changed").mkdir()
    (tmp_path / "changed" / "losses.py").write_text("WALL = 1.25\n", encoding="utf-8")
    monkeypatch.setattr(survey_module, "PACKAGES", (tmp_path / "changed",))

    assert plan_bench(wide_bench, seed=5, trials=TRIALS, store=store).reused_share == 0.0
    assert plan_bench(wide_bench, seed=5, trials=TRIALS, store=store).reused_share == 1.0
    (tmp_path / "changed" / "losses.py").write_text("WALL = 1.26\n", encoding="utf-8")
    assert plan_bench(wide_bench, seed=5, trials=TRIALS, store=store).reused_share == 0.0


def test_a_short_search_leaves_no_file(bench: Bench, tmp_path: Path) -> None:
    plan_bench(bench, seed=5, trials=TRIALS, store=Store(tmp_path / "finished"))

    assert not list(tmp_path.iterdir())


def test_a_share_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def dies(outcome: object, file: Path, **_: object) -> None:
        file.write_bytes(b"half of " + str(outcome).encode())
        raise KeyboardInterrupt

    store = Store(tmp_path / "finished", patience=0.0)
    store.keep("a search", 0, "first")
    monkeypatch.setattr(joblib, "dump", dies)
    with pytest.raises(KeyboardInterrupt):
        store.keep("a search", 1, "second")

    assert store.finished("a search") == {0: "first"}


def test_a_file_that_holds_no_finished_work_is_named(wide_bench: Bench, tmp_path: Path) -> None:
    store = Store(tmp_path / "finished", patience=0.0)
    plan_bench(wide_bench, seed=5, trials=TRIALS, store=store)
    next(store.path.rglob("000001.done")).write_text("a shopping list, and nothing else" * 20)

    with pytest.raises(DesignError, match=r"000001\.done: is not what a stopped search leaves behind"):
        plan_bench(wide_bench, seed=5, trials=TRIALS, store=store)


def test_progress_tells_combinations_and_the_best_so_far(bench: Bench) -> None:
    notes: list[str] = []

    def progress(stage: str, done: int, total: int, note: str = "") -> None:
        assert 0 <= done <= total
        if stage == STAGE:
            notes.append(note)

    plan = plan_bench(bench, seed=5, trials=TRIALS, progress=progress)

    assert f"{plan.considered:_}".replace("_", " ") in notes[-1]
    assert "best so far" in notes[-1]
    assert json.loads(recorded(plan))["considered"] == plan.considered
