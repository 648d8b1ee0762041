"""Direction numbers of Sobol' points against scipy's sequence, which uses the table of Joe and Kuo (2008)."""

import subprocess
import sys

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import qmc

from budget.sampling.quasirandom import BITS, LARGEST_EXPONENT, MOST_DIMENSIONS, direction_numbers, uniform_draws


def points(columns: NDArray[np.uint32], places: NDArray[np.int_]) -> NDArray[np.float64]:
    """Points of the sequence at some places: the exclusive or of the columns that the place's Gray code picks."""
    picked = (places ^ (places >> 1))[:, None] >> np.arange(columns.shape[1]) & 1
    chosen = np.where(picked[:, None, :].astype(bool), columns, np.uint32(0))
    return np.asarray(np.bitwise_xor.reduce(chosen, axis=2) * 2.0**-BITS)


@pytest.mark.parametrize("dimension", [1, 2, 33, MOST_DIMENSIONS])
def test_the_sequence_is_scipys(dimension: int) -> None:
    theirs = qmc.Sobol(dimension, scramble=False, bits=BITS).random(1024)

    ours = points(direction_numbers(dimension, 10, BITS), np.arange(1024))

    assert np.array_equal(ours, theirs)


@pytest.mark.parametrize("place", [65_537, 131_072, 200_001, 2**LARGEST_EXPONENT - 1])
def test_the_sequence_is_scipys_far_along(place: int) -> None:
    theirs = qmc.Sobol(MOST_DIMENSIONS, scramble=False, bits=BITS).fast_forward(place).random(1)

    ours = points(direction_numbers(MOST_DIMENSIONS, LARGEST_EXPONENT, BITS), np.array([place]))

    assert np.array_equal(ours, theirs)


def test_more_dimensions_go_on_where_the_table_ends() -> None:
    few, many = (uniform_draws(dimension, 256, seed=3) for dimension in (MOST_DIMENSIONS, MOST_DIMENSIONS + 1))

    assert few.shape == (256, MOST_DIMENSIONS)
    assert many.shape == (256, MOST_DIMENSIONS + 1)
    for column in many.T:
        assert np.array_equal(np.sort(np.floor(column * 256)), np.arange(256))


def test_a_sample_is_drawn_without_loading_the_statistics_library() -> None:
    drawing = "from budget.sampling.quasirandom import uniform_draws; uniform_draws(33, 64, 0)"
    program = f"import sys; {drawing}; print(*sys.modules)"

    loaded = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True).stdout

    assert "budget.sampling.quasirandom" in loaded.split()
    assert "scipy.stats" not in loaded.split()
