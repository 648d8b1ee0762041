"""How sure the ranking is: which design is the best as the knowledge shared by all of them varies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

TIE = 1e-12
"""Mean square errors closer than this count as equal. [1]"""


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
    squares = np.square(np.asarray(shared_errors)) + np.asarray(scatter_variances)[:, None]
    best = squares <= squares.min(axis=0) + TIE
    return np.asarray((best / best.sum(axis=0)).mean(axis=1))
