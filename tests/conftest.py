"""For all tests: what is made once for the whole run, and a machine that is busy."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

# A busy machine does not make a property wrong.
settings.register_profile("boiloff", deadline=None)
settings.load_profile("boiloff")

# Tests run two at a time: libraries that numpy calls would only wait for each other's threads. Read as numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

Once = Callable[[str, Callable[[Path], object]], Path]
LONGEST = 600.0
"""Longest wait for another worker to make what is shared. [s]"""


@pytest.fixture(scope="session")
def once(tmp_path_factory: pytest.TempPathFactory) -> Once:
    """Make a folder of files once for the whole run, whichever worker asks first: its name, and what fills it."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base

    def make(name: str, fill: Callable[[Path], object]) -> Path:
        folder, done = shared / name, shared / f"{name}.done"
        try:
            folder.mkdir()
        except FileExistsError:
            latest = time.monotonic() + LONGEST
            while not done.exists() and time.monotonic() < latest:
                time.sleep(0.05)
            return folder
        try:
            fill(folder)
        finally:
            done.touch()
        return folder

    return make
