"""What the search makes small is the same to the last digit however many threads a library of numpy's starts."""

import os
import subprocess
import sys

PROGRAM = """
import numpy as np
from design.search.sample import Aim, objective_of

errors = np.random.default_rng(1).normal(0.01, 0.02, size=(3, 2**15))
for objective in ("rms error", "standard uncertainty", "expanded uncertainty", "worst error"):
    print(*(value.hex() for value in objective_of(errors, Aim(objective, 0.95)).tolist()))
    print(*(value.hex() for value in objective_of(errors[1:2], Aim(objective, 0.95)).tolist()))
"""


def told(threads: int) -> str:
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": str(threads), "MKL_NUM_THREADS": str(threads)}
    command = [sys.executable, "-c", PROGRAM]
    return subprocess.run(command, check=True, capture_output=True, text=True, env=environment).stdout


def test_long_samples_give_the_same_bytes_for_any_number_of_threads() -> None:
    alone = told(1)

    assert len(alone.split()) == 16
    assert told(2) == alone
    assert told(4) == alone


def test_a_setting_is_judged_alike_alone_and_among_others() -> None:
    lines = [line.split() for line in told(1).splitlines()]

    assert all(among[1] == alone[0] for among, alone in zip(lines[::2], lines[1::2], strict=True))
