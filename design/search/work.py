"""Shares of work done by processes or a cluster, kept in a folder, and taken up again where they were stopped."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from design.errors import DesignError

Share = TypeVar("Share")
Outcome = TypeVar("Outcome")

WORTH_WORKERS = 6.0
"""Seconds of processor time left from which it pays to start other processes: each takes one to load the program."""
CLUSTER_PATIENCE = "10s"
"""How long a scheduler may take to answer."""


@dataclass(frozen=True)
class Workforce:
    """
    Who does the work: so many processes here, or the workers of a dask scheduler at an address.

    Finished work is looked for and kept in the store, if there is one.
    """

    workers: int = 1
    cluster: str = ""
    store: Store | None = None


@dataclass(frozen=True)
class Finished(Generic[Outcome]):
    """What came out of the shares that were done, in their order; how many are taken over; whether it was stopped."""

    outcomes: dict[int, Outcome]
    reused: int
    stopped: bool


def carried_out(
    work: Callable[[Share], Outcome],
    shares: Sequence[Share],
    workforce: Workforce,
    search: str,
    told: Callable[..., None],
) -> Finished[Outcome]:
    """
    Do shares of work, go on from what an earlier run has finished, and keep what was done where the keyboard stops it.

    Parameters
    ----------
    work, shares, workforce
        As for ``in_order``.
    search : str
        Digest of all that the outcomes depend on, under which they are kept.
    told : callable (number, *outcomes)
        Told how many shares are done, and what came out of them since it was told last.

    Raises
    ------
    KeyboardInterrupt
        If it is stopped before a share is done.
    DesignError
        As for ``in_order``, or if what was kept cannot be read.
    """
    store, stopped = workforce.store, False
    done: dict[int, Outcome] = store.finished(search) if store else {}
    reused, left = len(done), [place for place in range(len(shares)) if place not in done]
    told(reused, *done.values())
    try:
        with closing(in_order(work, [shares[place] for place in left], workforce)) as outcomes:
            for place, outcome in zip(left, outcomes, strict=True):
                done[place] = outcome
                if store:
                    store.keep(search, place, outcome)
                told(len(done), outcome)
    except KeyboardInterrupt:
        if store:
            store.write()
        if not done:
            raise
        stopped = True
    return Finished(dict(sorted(done.items())), reused, stopped)


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
        Who does it; other processes are started only where those done so far show that it pays. If one of them is
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
        for place, share in enumerate(shares):  # what is loaded and worked out once falls on the first of them
            start = time.process_time()  # on a busy machine other processes would wait as this one does
            outcome = work(share)
            left.pop(0)
            spent += time.process_time() - start if place else 0.0
            yield outcome
            if workforce.workers > 1 and place and spent / place * len(left) >= WORTH_WORKERS:
                break
        if not left:
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
        "n_jobs": workforce.workers, "pre_dispatch": "3*n_jobs",
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
    Finished shares of work in a folder, a file each; each is written whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
        Folder to use; made when the first share is written.
    patience : float
        Seconds for which finished shares are only remembered.
    """

    def __init__(self, path: Path, patience: float = WRITING_PATIENCE) -> None:
        self.path = path
        self._waiting: dict[Path, Any] = {}
        self._due = time.monotonic() + patience

    def finished(self, search: str) -> dict[int, Any]:
        """
        Outcomes of a search that are kept, by the number of their share.

        Raises
        ------
        DesignError
            If a file is there but cannot be read.
        """
        return {int(file.stem): _read(file) for file in sorted((self.path / search).glob("*.done"))}

    def keep(self, search: str, share: int, outcome: object) -> None:
        """Keep a finished share: in memory at first, in its file once the search has taken its time."""
        self._waiting[self.path / search / f"{share:06}.done"] = outcome
        if time.monotonic() >= self._due:
            self.write()

    def write(self) -> None:
        """Write what is only remembered so far."""
        from joblib import dump

        for file, outcome in self._waiting.items():
            file.parent.mkdir(parents=True, exist_ok=True)
            dump(outcome, file.with_suffix(".part"))
            file.with_suffix(".part").replace(file)
        self._waiting = {}


def _read(file: Path) -> Any:
    from joblib import load

    try:
        return load(file)
    except Exception as error:  # whatever bytes that are none of ours may cause
        raise DesignError(
            f"{file}: is not what a stopped search leaves behind ({error}); move it away to start afresh"
        ) from error
