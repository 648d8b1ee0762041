"""Shares of work done in order, by one process or many: what comes out does not depend on how many there are."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import AbstractContextManager, closing, nullcontext
from dataclasses import dataclass
from typing import Any, TypeVar

from design.errors import DesignError

Share = TypeVar("Share")
Outcome = TypeVar("Outcome")

WORTH_WORKERS = 6.0
"""Seconds of processor time left from which it pays to start other processes: each takes one to load the program."""
PATIENCE = "10s"
"""How long a scheduler may take to answer."""
WARM_UP = 2
"""Shares done before other processes are started; the last of them shows how long one takes."""


@dataclass(frozen=True)
class Workforce:
    """
    Who does the work.

    Parameters
    ----------
    workers : int
        Processes on this machine.
    cluster : str
        Address of a dask scheduler whose workers are used instead; empty for none.
    """

    workers: int = 1
    cluster: str = ""


def in_order(work: Callable[[Share], Outcome], shares: Sequence[Share], workforce: Workforce) -> Generator[Outcome]:
    """
    Do shares of work and yield what comes out in the order of the shares.

    Parameters
    ----------
    work : callable
        Function of a share, importable by other processes.
    shares : sequence
        What to work on.
    workforce : Workforce
        Who does it; other processes are started only where the first shares show that it pays. If one of them is
        killed, this one does what is left.

    Raises
    ------
    DesignError
        If the cluster cannot be reached or the extra ``cluster`` is not installed.
    """
    left = list(shares)
    if not workforce.cluster:
        if not left:
            return
        spent = 0.0
        for _ in range(min(WARM_UP, len(left))):  # what is loaded and worked out once falls on the first of them
            start = time.process_time()  # on a busy machine other processes would wait as this one does
            outcome = work(left.pop(0))
            spent = time.process_time() - start
            yield outcome
        if workforce.workers == 1 or spent * len(left) < WORTH_WORKERS:
            yield from map(work, left)
            return
    done = 0
    try:
        with closing(_by_others(work, left, workforce)) as outcomes:
            for outcome in outcomes:
                done += 1
                yield outcome
    except BrokenExecutor:  # one was killed, most often for want of memory: with one at work there is more of it
        yield from map(work, left[done:])


def _by_others(work: Callable[[Share], Outcome], shares: Sequence[Share], workforce: Workforce) -> Generator[Outcome]:
    from joblib import Parallel, delayed

    with _backend(workforce) as options:
        yield from Parallel(return_as="generator", **options)(delayed(work)(share) for share in shares)


def _backend(workforce: Workforce) -> AbstractContextManager[dict[str, Any]]:
    if workforce.cluster:
        return _Cluster(workforce.cluster)
    return nullcontext({"n_jobs": workforce.workers, "batch_size": 1, "pre_dispatch": "3*n_jobs"})


class _Cluster(AbstractContextManager["dict[str, Any]"]):
    """Joblib on a dask cluster, from the extra ``cluster``."""

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError as error:
            raise DesignError('--cluster: needs the extra "cluster": pip install "boiloff[cluster]"') from error
        try:
            self._client = Client(address, timeout=PATIENCE)  # type: ignore[no-untyped-call]
        except (OSError, ValueError) as error:
            raise DesignError(f"--cluster {address}: no dask scheduler answers there ({error})") from error

    def __enter__(self) -> dict[str, Any]:
        from joblib import parallel_config

        self._config = parallel_config("dask", client=self._client)
        self._config.__enter__()
        return {"batch_size": 1}

    def __exit__(self, *reason: object) -> None:
        self._config.unregister()
        self._client.close()  # type: ignore[no-untyped-call]
