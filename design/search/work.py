"""Shares of a search done by processes or a cluster, and kept for going on."""

from __future__ import annotations

import hashlib
import sqlite3
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from design.errors import DesignError

Share = TypeVar("Share")
Outcome = TypeVar("Outcome")

WORTH_WORKERS = 6.0
"""Seconds of processor time left from which it pays to start other processes: each takes one to load the program."""
CLUSTER_PATIENCE = "10s"
"""How long a scheduler may take to answer."""
WARM_UP = 2
"""Shares done before other processes are started; the last of them shows how long one takes."""


@dataclass(frozen=True)
class Workforce:
    """Who does the work: so many processes here, or the workers of a dask scheduler at an address."""

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

    options = {"batch_size": 1} if workforce.cluster else {
        "batch_size": 1, "n_jobs": workforce.workers, "pre_dispatch": "3*n_jobs",
    }  # fmt: skip
    with _on_cluster(workforce.cluster) if workforce.cluster else nullcontext():
        yield from Parallel(return_as="generator", **options)(delayed(work)(share) for share in shares)


@contextmanager
def _on_cluster(address: str) -> Iterator[None]:
    """Joblib on a dask cluster, from the extra ``cluster``."""
    from joblib import parallel_config

    try:
        from distributed import Client
    except ImportError as error:
        raise DesignError('--cluster: needs the extra "cluster": pip install "boiloff[cluster]"') from error
    try:
        client = Client(address, timeout=CLUSTER_PATIENCE)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise DesignError(f"--cluster {address}: no dask scheduler answers there ({error})") from error
    with closing(client), parallel_config("dask", client=client):
        yield


TABLE = "create table if not exists finished (search text, share integer, outcome blob, primary key (search, share))"
WRITING_PATIENCE = 5.0
"""Seconds for which finished work is only remembered: a search that ends sooner leaves no file."""


def fingerprint(*parts: object) -> str:
    """
    Digest of all that the outcome of a search depends on.

    Examples
    --------
    >>> fingerprint("bench", 1) == fingerprint("bench", 1)
    True
    """
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def program_in(*folders: Path) -> str:
    """Digest of every module in some packages: finished work of another program is not taken up."""
    files = sorted((file.relative_to(folder).as_posix(), file) for folder in folders for file in folder.rglob("*.py"))
    return fingerprint(*((name, file.read_bytes()) for name, file in files))


class Store:
    """
    Finished shares of work in one file; each is written whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
        File to use; made, with its folder, when the first share is written.
    patience : float
        Seconds for which finished shares are only remembered.
    """

    def __init__(self, path: Path, patience: float = WRITING_PATIENCE) -> None:
        self.path = path
        self._waiting: list[tuple[str, int, bytes]] = []
        self._due = time.monotonic() + patience

    def finished(self, search: str) -> dict[int, bytes]:
        """
        Shares of a search that are finished.

        Raises
        ------
        DesignError
            If the file is there but is no store.
        """
        if not self.path.exists():
            return {}
        try:
            with closing(sqlite3.connect(self.path)) as connection:
                connection.execute(TABLE)
                rows = connection.execute("select share, outcome from finished where search = ?", (search,)).fetchall()
        except sqlite3.DatabaseError as error:
            raise DesignError(
                f"{self.path}: is not what a stopped search leaves behind ({error}); move it away to start afresh"
            ) from error
        return {int(share): bytes(outcome) for share, outcome in rows}

    def keep(self, search: str, share: int, outcome: bytes) -> None:
        """Keep a finished share: in memory at first, in the file once the search has taken its time."""
        self._waiting.append((search, share, outcome))
        if time.monotonic() >= self._due:
            self.write()

    def write(self) -> None:
        """Write what is only remembered so far."""
        if not self._waiting:
            return
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with closing(sqlite3.connect(self.path)) as connection, connection:
            connection.execute(TABLE)
            connection.executemany("insert or replace into finished values (?, ?, ?)", self._waiting)
        self._waiting = []
