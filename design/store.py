"""What a search has finished, kept in one small file so that a stopped search goes on from there."""

from __future__ import annotations

import hashlib
import io
import json
import sqlite3
from contextlib import closing
from dataclasses import fields
from pathlib import Path

import numpy as np

from design.bench import Bench
from design.combinations import Columns, Combinations
from design.errors import DesignError
from design.expectation import Aim, Sample

TABLE = "create table if not exists finished (search text, share integer, outcome blob, primary key (search, share))"


def fingerprint(bench: Bench, sample: Sample, aim: Aim, version: str) -> str:
    """Digest of all that the outcome of a search depends on."""
    return hashlib.sha256(repr((bench, sample, aim, version)).encode()).hexdigest()


class Store:
    """
    Finished shares of searches in one file; each is written whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
        File to use; made, with its folder, when the first share is written.

    Raises
    ------
    DesignError
        If the file is there but is no store.
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def finished(self, search: str) -> dict[int, Combinations]:
        """Shares of a search that are finished."""
        if not self.path.exists():
            return {}
        try:
            with closing(sqlite3.connect(self.path)) as connection:
                connection.execute(TABLE)
                rows = connection.execute("select share, outcome from finished where search = ?", (search,)).fetchall()
            return {int(share): unpacked(outcome) for share, outcome in rows}
        except (sqlite3.DatabaseError, ValueError, KeyError) as error:
            raise DesignError(
                f"{self.path}: is not what a stopped search leaves behind ({error}); move it away to start afresh"
            ) from error

    def keep(self, search: str, share: int, outcome: Combinations) -> None:
        """Write down a finished share."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with closing(sqlite3.connect(self.path)) as connection, connection:
            connection.execute(TABLE)
            connection.execute("insert or replace into finished values (?, ?, ?)", (search, share, packed(outcome)))

    def forget(self) -> None:
        """Take the file away."""
        self.path.unlink(missing_ok=True)


def packed(outcome: Combinations) -> bytes:
    """Outcome of a share as bytes that hold numbers only."""
    counts = {"considered": outcome.considered, "feasible": outcome.feasible, "rejected": dict(outcome.rejected)}
    buffer = io.BytesIO()
    arrays = {field.name: getattr(outcome.columns, field.name) for field in fields(Columns)}
    np.savez(buffer, allow_pickle=False, counts=np.frombuffer(json.dumps(counts).encode(), dtype=np.uint8), **arrays)
    return buffer.getvalue()


def unpacked(content: bytes) -> Combinations:
    """Outcome of a share from its bytes."""
    with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
        counts = json.loads(arrays["counts"].tobytes())
        columns = Columns(**{field.name: arrays[field.name] for field in fields(Columns)})
    return Combinations(counts["considered"], counts["feasible"], counts["rejected"], columns)
