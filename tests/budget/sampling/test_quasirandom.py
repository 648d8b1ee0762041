"""Direction numbers of Sobol' points against scipy's sequence, which uses the table of Joe and Kuo (2008)."""

import subprocess
import sys

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import qmc

from budget.errors import BudgetError
from budget.sampling.quasirandom import BITS, LARGEST_EXPONENT, direction_numbers


def points(columns: NDArray[np.uint64], places: NDArray[np.int_]) -> NDArray[np.float64]:
    """Points of the sequence at some places: the exclusive or of the columns that the place's Gray code picks."""
    picked = (places ^ (places >> 1))[:, None] >> np.arange(columns.shape[1]) & 1
    chosen = np.where(picked[:, None, :].astype(bool), columns, np.uint64(0))
    return np.asarray(np.bitwise_xor.reduce(chosen, axis=2) * 2.0**-BITS)


@pytest.mark.parametrize("dimension", [1, 2, 33, 300])
def test_the_sequence_is_scipys(dimension: int) -> None:
    theirs = qmc.Sobol(dimension, scramble=False, bits=BITS).random(1024)

    ours = points(direction_numbers(dimension), np.arange(1024))

    assert np.array_equal(ours, theirs)


@pytest.mark.parametrize("place", [65_537, 131_072, 200_001, 2**LARGEST_EXPONENT - 1])
def test_the_sequence_is_scipys_far_along(place: int) -> None:
    theirs = qmc.Sobol(300, scramble=False, bits=BITS).fast_forward(place).random(1)

    ours = points(direction_numbers(300), np.array([place]))

    assert np.array_equal(ours, theirs)


def test_more_inputs_than_the_table_has_rows_are_refused() -> None:
    with pytest.raises(BudgetError, match=r"inputs: must be at most 21201 \(got 21202\)"):
        direction_numbers(qmc.Sobol.MAXDIM + 1)


def test_a_sample_is_drawn_without_loading_the_statistics_library() -> None:
    drawing = "from budget.sampling.quasirandom import uniform_draws; uniform_draws(33, 64, 0)"
    program = f"import sys; {drawing}; print(*sys.modules)"

    loaded = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True).stdout

    assert "budget.sampling.quasirandom" in loaded.split()
    assert "scipy.stats" not in loaded.split()
