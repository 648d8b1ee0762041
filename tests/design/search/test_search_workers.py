"""Shares of work done by other processes: when they are started, and what happens if one is killed."""

import operator
import os
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from design.search import work
from design.search.work import Workforce, in_order

FIRST = 2
"""Shares after which it shows how long one takes: what is loaded once falls on the first."""


def outcomes(shares: list[Callable[[], Any]]) -> list[Any]:
    return list(in_order(operator.call, shares, Workforce(2)))


def test_waiting_is_no_reason_to_start_other_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "WORTH_WORKERS", 0.5)

    found = outcomes([partial(time.sleep, 0.05)] * FIRST + [os.getpid] * 40)

    assert set(found[FIRST:]) == {os.getpid()}


def test_work_enough_is_done_by_other_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "WORTH_WORKERS", 0.5)
    busy = partial(sum, range(2_000_000))

    found = outcomes([busy] * FIRST + [os.getpid] * 40 + [busy])

    assert os.getpid() not in found
    assert found[-1] == found[0] == 1_999_999_000_000


def test_a_killed_process_leaves_what_is_left_to_this_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(work, "WORTH_WORKERS", 0.0)
    trace = tmp_path / "begun by another"
    text = f"getpid() == {os.getpid()} or (open(trace, 'x').close(), kill(getpid(), 9))"
    deadly = partial(eval, text, {"getpid": os.getpid, "kill": os.kill, "trace": str(trace)})

    found = outcomes(
        [partial(abs, -place) for place in range(4)] + [deadly] + [partial(abs, -place) for place in range(5, 9)]
    )

    assert trace.exists()
    assert found == [0, 1, 2, 3, True, 5, 6, 7, 8]
