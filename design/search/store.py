"""What a search has finished, kept in one small file so that a stopped search goes on from there."""

from __future__ import annotations

import hashlib
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from design.errors import DesignError

TABLE = "create table if not exists finished (search text, share integer, outcome blob, primary key (search, share))"
PATIENCE = 5.0
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
    """
    Digest of the program that stands in some folders: finished work of another program is not taken up.

    Parameters
    ----------
    folders : pathlib.Path
        Packages.

    Returns
    -------
    str
        Of every module's name and content.
    """
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

    def __init__(self, path: Path, patience: float = PATIENCE) -> None:
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

    def forget(self) -> None:
        """Take the file away."""
        self._waiting = []
        self.path.unlink(missing_ok=True)
