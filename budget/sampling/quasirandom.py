"""Scrambled Sobol' points, addressable by block so that any worker can make any part of a sample."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from budget.arrays import FloatArray
from budget.errors import BudgetError

NUMBERS: tuple[tuple[int, tuple[int, ...]], ...] = (
    (3, (1,)), (7, (1, 3)), (11, (1, 3, 1)), (13, (1, 1, 1)), (19, (1, 1, 3, 3)), (25, (1, 3, 5, 13)),
    (37, (1, 1, 5, 5, 17)), (41, (1, 1, 5, 5, 5)), (47, (1, 1, 7, 11, 19)), (55, (1, 1, 5, 1, 1)),
    (59, (1, 1, 1, 3, 11)), (61, (1, 3, 5, 5, 31)), (67, (1, 3, 3, 9, 7, 49)), (91, (1, 1, 1, 15, 21, 21)),
    (97, (1, 3, 1, 13, 27, 49)), (103, (1, 1, 1, 15, 7, 5)), (109, (1, 3, 1, 15, 13, 25)),
    (115, (1, 1, 5, 5, 19, 61)), (131, (1, 3, 7, 11, 23, 15, 103)), (137, (1, 3, 7, 13, 13, 15, 69)),
    (143, (1, 1, 3, 13, 7, 35, 63)), (145, (1, 3, 5, 9, 1, 25, 53)), (157, (1, 3, 1, 13, 9, 35, 107)),
    (167, (1, 3, 1, 5, 27, 61, 31)), (171, (1, 1, 5, 11, 19, 41, 61)), (185, (1, 3, 5, 3, 3, 13, 69)),
    (191, (1, 1, 7, 13, 1, 19, 1)), (193, (1, 3, 7, 5, 13, 19, 59)), (203, (1, 1, 3, 9, 25, 29, 41)),
    (211, (1, 3, 5, 13, 23, 1, 55)), (213, (1, 3, 7, 3, 13, 59, 17)), (229, (1, 3, 1, 3, 5, 53, 69)),
    (239, (1, 1, 5, 5, 23, 33, 13)), (241, (1, 1, 7, 7, 1, 61, 123)), (247, (1, 1, 7, 9, 13, 61, 49)),
    (253, (1, 3, 3, 5, 3, 55, 33)), (285, (1, 3, 1, 15, 31, 13, 49, 245)), (299, (1, 3, 5, 15, 31, 59, 63, 97)),
    (301, (1, 3, 1, 11, 11, 11, 77, 249)), (333, (1, 3, 1, 11, 27, 43, 71, 9)), (351, (1, 1, 7, 15, 21, 11, 81, 45)),
    (355, (1, 3, 7, 3, 25, 31, 65, 79)), (357, (1, 3, 1, 1, 19, 11, 3, 205)), (361, (1, 1, 5, 9, 19, 21, 29, 157)),
    (369, (1, 3, 7, 11, 1, 33, 89, 185)), (391, (1, 3, 3, 3, 15, 9, 79, 71)), (397, (1, 3, 7, 11, 15, 39, 119, 27)),
    (425, (1, 1, 3, 1, 11, 31, 97, 225)), (451, (1, 1, 1, 3, 23, 43, 57, 177)), (463, (1, 3, 7, 7, 17, 17, 37, 71)),
    (487, (1, 3, 1, 5, 27, 63, 123, 213)), (501, (1, 1, 3, 5, 11, 43, 53, 133)),
)  # fmt: skip
"""For each dimension after the first: a primitive polynomial, its coefficients as binary digits, and the odd numbers
that its recurrence starts from [1]_; all polynomials up to the eighth degree.

.. [1] Joe, S. and Kuo, F. Y. (2008). Constructing Sobol sequences with better two-dimensional projections. SIAM J. Sci.
   Comput. 30, 2635-2654. Taken from scipy, which has them for 21201 dimensions.
"""
MOST_DIMENSIONS = 1 + len(NUMBERS)
"""Dimensions that there are numbers for."""


def direction_numbers(dimension: int, exponent: int, bits: int) -> NDArray[np.uint32]:
    """
    Direction numbers of Sobol' points.

    Parameters
    ----------
    dimension : int
        At most ``MOST_DIMENSIONS``.
    exponent : int
        Logarithm to base 2 of the number of points.
    bits : int
        Binary digits of a point, at most 32.

    Returns
    -------
    ndarray of uint32, shape (dimension, exponent)

    Examples
    --------
    >>> direction_numbers(2, 3, bits=3)
    array([[4, 2, 1],
           [4, 6, 5]], dtype=uint32)
    """
    starts = ((1, (1,) * exponent), *NUMBERS)[:dimension]
    rows = [_odd_numbers(polynomial, start, exponent) for polynomial, start in starts]
    places = np.arange(bits - 1, bits - 1 - exponent, -1, dtype=np.uint64)
    return (np.array(rows, dtype=np.uint64).reshape(dimension, exponent) << places).astype(np.uint32)


def _odd_numbers(polynomial: int, start: tuple[int, ...], count: int) -> list[int]:
    """Odd numbers by the recurrence over a polynomial: each below 2 to the power of its place."""
    numbers, degree = list(start), len(start)
    while len(numbers) < count:
        number = numbers[-degree]
        for back in range(1, degree + 1):
            if polynomial >> (degree - back) & 1:
                number ^= numbers[-back] << back
        numbers.append(number)
    return numbers[:count]


BITS = 32
BLOCK = 4096
"""Points made at a time: a block of every input stays in a core's cache."""
LARGEST_EXPONENT = 18
"""2 to this power is the size of the largest net; larger samples take several, scrambled independently."""


@dataclass(frozen=True)
class ScrambledNet:
    """
    A Sobol' net with a random linear scramble and digital shift.

    Parameters
    ----------
    columns : ndarray of uint32, shape (dimension, exponent)
        Scrambled generator columns.
    shift : ndarray of uint32, shape (dimension, 1)
        Digital shift.
    """

    columns: NDArray[np.uint32]
    shift: NDArray[np.uint32]

    @property
    def size(self) -> int:
        """Number of points of the net."""
        return 1 << int(self.columns.shape[1])

    def blocks(self) -> int:
        """Return the number of blocks."""
        return -(-self.size // BLOCK)

    def block(self, index: int) -> FloatArray:
        """
        Return one block of points.

        Returns
        -------
        ndarray, shape (dimension, points)
            Each row evenly spread over the open interval (0, 1).
        """
        low = min(int(self.columns.shape[1]), BLOCK.bit_length() - 1)
        inner = self.shift ^ _span(self.columns[:, :low])
        offset = np.zeros_like(self.shift)
        for bit in range(low, self.columns.shape[1]):
            if index >> (bit - low) & 1:
                offset ^= self.columns[:, bit : bit + 1]
        points = (inner ^ offset).astype(np.float64)
        points += 0.5
        points *= 2.0**-BITS
        return points


def scrambled_net(dimension: int, exponent: int, generator: np.random.Generator) -> ScrambledNet:
    """
    Return a net of 2^exponent points with a fresh scramble.

    Parameters
    ----------
    dimension : int
        Number of inputs.
    exponent : int
        Logarithm of the number of points to base 2, at most ``LARGEST_EXPONENT``.
    generator : numpy.random.Generator
        Source of the scramble.

    References
    ----------
    .. [1] Matoušek, J. (1998). On the L2-discrepancy for anchored boxes. J. Complexity 14, 527-556.
    """
    plain = _generator_columns(dimension, exponent)
    places = np.arange(BITS, dtype=np.uint32)[::-1]
    digits = ((plain[:, None, :] >> places[None, :, None]) & 1).astype(np.float64)  # most significant digit first
    lower = np.tril(generator.integers(0, 2, size=(dimension, BITS, BITS)), -1) + np.eye(BITS)
    mixed = np.matmul(lower, digits).astype(np.int64) & 1
    columns = np.sum(mixed.astype(np.uint64) << places.astype(np.uint64)[None, :, None], axis=1).astype(np.uint32)
    shift = generator.integers(0, 2**BITS, size=(dimension, 1), dtype=np.uint32)
    return ScrambledNet(columns, shift)


def uniform_draws(dimension: int, trials: int, seed: int) -> FloatArray:
    """
    Return a scrambled Sobol' sample of the unit cube.

    Parameters
    ----------
    dimension : int
        Number of inputs.
    trials : int
        Number of points; best a power of two.
    seed : int
        Seed of the scramble.

    Returns
    -------
    ndarray, shape (trials, dimension)
        In the open interval (0, 1); a column is contiguous in memory.

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
    if dimension == 0:
        return sample.T
    exponent = min(max(trials - 1, 1).bit_length(), LARGEST_EXPONENT)
    filled = 0
    for child in np.random.SeedSequence(seed).spawn(-(-trials >> exponent) if trials > 1 << exponent else 1):
        net = scrambled_net(dimension, exponent, np.random.default_rng(child))
        for index in range(net.blocks()):
            block = net.block(index)[:, : trials - filled]
            sample[:, filled : filled + block.shape[1]] = block
            filled += block.shape[1]
    return sample.T


def _span(columns: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """All exclusive-or combinations of the columns, in counting order; shape (dimension, 2^columns)."""
    points = np.zeros((columns.shape[0], 1), dtype=np.uint32)
    for bit in range(columns.shape[1]):
        points = np.concatenate([points, points ^ columns[:, bit : bit + 1]], axis=1)
    return points


@cache
def _generator_columns(dimension: int, exponent: int) -> NDArray[np.uint32]:
    """
    Generator columns of Sobol' points, read off scipy's sequence, which runs in Gray-code order.

    Point 2^(j+1) - 1 of that order is the one whose Gray code has bit j alone.
    """
    if dimension <= MOST_DIMENSIONS:  # as scipy has them, which takes long to load
        return direction_numbers(dimension, exponent, BITS)
    from scipy.stats import qmc

    if dimension > qmc.Sobol.MAXDIM:
        raise BudgetError(f"inputs: must be at most {qmc.Sobol.MAXDIM} (got {dimension})")
    engine = qmc.Sobol(dimension, scramble=False, bits=BITS)
    columns = np.empty((dimension, exponent), dtype=np.uint32)
    done = 0
    for bit in range(exponent):
        wanted = (2 << bit) - 1
        if wanted - done > 0:
            engine.fast_forward(wanted - done)
        columns[:, bit] = np.round(engine.random(1)[0] * 2.0**BITS).astype(np.uint64).astype(np.uint32)
        done = wanted + 1
    return columns
