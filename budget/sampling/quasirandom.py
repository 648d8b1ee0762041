"""Scrambled Sobol' points, addressable by block so that any worker can make any part of a sample."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import scipy
from numpy.typing import NDArray

from budget.arrays import FloatArray
from budget.errors import BudgetError

BITS = 32
BLOCK = 4096
"""Points made at a time: a block of every input stays in a core's cache."""
LARGEST_EXPONENT = 18
"""2 to this power is the size of the largest net; larger samples take several, scrambled independently."""
_PLACES = np.arange(BITS, dtype=np.uint64)[::-1]
_DIRECTIONS = Path(scipy.__file__).parent / "stats" / "_sobol_direction_numbers.npz"


@dataclass(frozen=True)
class ScrambledNet:
    """
    A Sobol' net with a random linear scramble and digital shift.

    Parameters
    ----------
    columns : ndarray of uint32, shape (dimension, exponent)
        Scrambled direction numbers.
    shift : ndarray of uint32, shape (dimension, 1)
        Digital shift.
    """

    columns: NDArray[np.uint32]
    shift: NDArray[np.uint32]

    @property
    def blocks(self) -> int:
        """Number of blocks."""
        return -(-(1 << int(self.columns.shape[1])) // BLOCK)

    def block(self, index: int) -> FloatArray:
        """Return points of the open unit cube; shape (dimension, points)."""
        low = BLOCK.bit_length() - 1
        digits = self.shift
        for bit, column in enumerate(self.columns[:, low:].T):
            if index >> bit & 1:
                digits = digits ^ column[:, None]
        for column in self.columns[:, :low].T:
            digits = np.concatenate([digits, digits ^ column[:, None]], axis=1)
        points = digits.astype(np.float64)
        points += 0.5
        points *= 2.0**-BITS
        return points


def scrambled_net(dimension: int, exponent: int, generator: np.random.Generator) -> ScrambledNet:
    """
    Return a net of 2^exponent points, at most 2^``LARGEST_EXPONENT``, with a fresh scramble.

    References
    ----------
    .. [1] Matoušek, J. (1998). On the L2-discrepancy for anchored boxes. J. Complexity 14, 527-556.
    """
    plain = direction_numbers(dimension)[:, :exponent]
    digits = ((plain[:, None, :] >> _PLACES[:, None]) & 1).astype(np.float64)  # most significant digit first
    lower = np.tril(generator.integers(0, 2, size=(dimension, BITS, BITS)), -1) + np.eye(BITS)
    mixed = np.matmul(lower, digits).astype(np.uint64) & 1
    columns = np.sum(mixed << _PLACES[:, None], axis=1).astype(np.uint32)
    return ScrambledNet(columns, generator.integers(0, 2**BITS, size=(dimension, 1), dtype=np.uint32))


def uniform_draws(dimension: int, trials: int, seed: int) -> FloatArray:
    """
    Return a scrambled Sobol' sample of the open unit cube, shape (trials, dimension); its columns are contiguous.

    Parameters
    ----------
    dimension : int
        Number of inputs.
    trials : int
        Number of points; best a power of two.
    seed : int
        Seed of the scramble.

    Raises
    ------
    BudgetError
        If ``trials`` is less than 1 or ``dimension`` negative.

    Examples
    --------
    >>> uniform_draws(3, 1024, seed=1).mean(axis=0).round(3)
    array([0.5, 0.5, 0.5])
    """
    if trials < 1 or dimension < 0:
        raise BudgetError(f"trials: must be at least 1 (got {trials})")
    sample = np.empty((dimension, trials))
    exponent = min(max(trials - 1, 1).bit_length(), LARGEST_EXPONENT)
    seeds = np.random.SeedSequence(seed).spawn(-(-trials >> exponent) if trials > 1 << exponent else 1)
    for number, child in enumerate(seeds if dimension else ()):
        net = scrambled_net(dimension, exponent, np.random.default_rng(child))
        for index in range(net.blocks):
            start = (number << exponent) + index * BLOCK
            sample[:, start : start + BLOCK] = net.block(index)[:, : max(trials - start, 0)]
    return sample.T


@cache
def direction_numbers(dimension: int) -> NDArray[np.uint64]:
    """
    Return the direction numbers of Sobol' points, shape (dimension, 18).

    Taken from scipy's table [1]_, read as a file: loading ``scipy.stats`` takes longer than most samples.

    References
    ----------
    .. [1] Joe, S. and Kuo, F. Y. (2008). Constructing Sobol sequences with better two-dimensional projections.
       SIAM J. Sci. Comput. 30, 2635-2654.

    Examples
    --------
    >>> direction_numbers(2)[:, :3] >> np.uint64(29)
    array([[4, 2, 1],
           [4, 6, 5]], dtype=uint64)
    """
    with np.load(_DIRECTIONS) as table:
        if dimension > len(table["poly"]):
            raise BudgetError(f"inputs: must be at most {len(table['poly'])} (got {dimension})")
        starts = zip(table["poly"][:dimension].tolist(), table["vinit"][:dimension].tolist(), strict=True)
    rows = [
        _odd_numbers(polynomial, start) if row else [1] * LARGEST_EXPONENT
        for row, (polynomial, start) in enumerate(starts)
    ]
    return np.array(rows, dtype=np.uint64).reshape(dimension, -1) << _PLACES[:LARGEST_EXPONENT]


def _odd_numbers(polynomial: int, start: list[int]) -> list[int]:
    """Odd numbers by the recurrence over a primitive polynomial: each below 2 to the power of its place."""
    degree = polynomial.bit_length() - 1
    numbers = start[:degree]
    while len(numbers) < LARGEST_EXPONENT:
        number = numbers[-degree]
        for back in range(1, degree + 1):
            if polynomial >> (degree - back) & 1:
                number ^= numbers[-back] << back
        numbers.append(number)
    return numbers
