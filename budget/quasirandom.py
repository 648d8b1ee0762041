"""Scrambled Sobol' points, addressable by block so that any worker can make any part of a sample."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from budget.directions import MOST_DIMENSIONS, direction_numbers
from budget.errors import BudgetError
from budget.quantiles import Array

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

    def block(self, index: int) -> Array:
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


def uniform_draws(dimension: int, trials: int, seed: int) -> Array:
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
