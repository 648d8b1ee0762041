"""How sure the ranking is: which design is the best as the knowledge shared by all of them varies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

TIE = 1e-12
"""Mean square errors closer than this count as equal. [1]"""
DOUBT = 0.05
"""Probability of being the better one of a pair from which a design may not be ruled out."""


def best_probabilities(shared_errors: Sequence[FloatArray], scatter_variances: Sequence[float]) -> FloatArray:
    """
    Probability that each design is the best of them.

    Parameters
    ----------
    shared_errors : sequence of ndarray, shape (trials,)
        Relative error of each design without the scatter of single runs, all on the same draws of what they share.
    scatter_variances : sequence of float
        Variance that the scatter of single runs adds to each. [1]

    Returns
    -------
    ndarray, shape (designs,)
        Share of the draws in which the mean square error b² + s² of a design is the least; equal ones divide it.

    Examples
    --------
    >>> best_probabilities([np.array([0.01, 0.03]), np.array([0.02, 0.02])], [0.0, 0.0]).tolist()
    [0.5, 0.5]
    """
    squares = _squares(shared_errors, scatter_variances)
    best = squares <= squares.min(axis=0) + TIE
    return np.asarray((best / best.sum(axis=0)).mean(axis=1))


def near_best_probabilities(
    shared_errors: Sequence[FloatArray], scatter_variances: Sequence[float], margin: float
) -> FloatArray:
    """
    Probability that the error of each design is within a margin of the least of them.

    Parameters
    ----------
    shared_errors, scatter_variances
        As for ``best_probabilities``.
    margin : float
        Difference of root mean square errors that counts as none. [1]

    Returns
    -------
    ndarray, shape (designs,)

    Examples
    --------
    >>> near_best_probabilities([np.array([0.01, 0.03]), np.array([0.02, 0.02])], [0.0, 0.0], 0.01).tolist()
    [1.0, 1.0]
    """
    roots = np.sqrt(_squares(shared_errors, scatter_variances))
    return np.asarray((roots <= roots.min(axis=0) + margin + TIE).mean(axis=1))


def tied_with_first(
    shared_errors: Sequence[FloatArray],
    scatter_variances: Sequence[float],
    objectives: Sequence[float],
    margin: float,
) -> tuple[int, ...]:
    """
    Designs that cannot be told apart from the first.

    Parameters
    ----------
    shared_errors, scatter_variances
        As for ``best_probabilities``.
    objectives : sequence of float
        What was made small. [1]
    margin : float
        Difference of objectives that counts as none. [1]

    Returns
    -------
    tuple of int
        The first, and those within the margin of it that are the better one of the two with a probability of at
        least ``DOUBT``; the first alone where there is no tie.

    Examples
    --------
    >>> tied_with_first([np.array([0.01, 0.03]), np.array([0.02, 0.02])], [0.0, 0.0], [0.020, 0.021], 0.002)
    (0, 1)
    """
    squares = _squares(shared_errors, scatter_variances)
    better = (squares < squares[0] - TIE).mean(axis=1) + 0.5 * (np.abs(squares - squares[0]) <= TIE).mean(axis=1)
    within = np.asarray(objectives) <= objectives[0] + margin
    return tuple(int(row) for row in np.flatnonzero(within & (better >= DOUBT)))


def _squares(shared_errors: Sequence[FloatArray], scatter_variances: Sequence[float]) -> FloatArray:
    return np.asarray(np.square(np.asarray(shared_errors)) + np.asarray(scatter_variances)[:, None])
