"""Correlation matrices: built from pairs, checked, and split for sampling."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from budget.arrays import FloatArray
from budget.errors import BudgetError
from budget.quantities.inputs import Correlation

TOLERANCE = 1e-9
LEAST_PIVOT = 1e-14
"""Share of a variance that is rounding and no more."""


def correlation_matrix(symbols: Sequence[str], correlations: Sequence[Correlation]) -> FloatArray:
    """
    Return the correlation matrix of the named inputs, in their order; pairs with other symbols are left out.

    Raises
    ------
    BudgetError
        If no joint distribution has these coefficients: the matrix is not positive semi-definite. The
        pair that has to change is named.
    """
    place = {symbol: index for index, symbol in enumerate(symbols)}
    matrix = np.eye(len(symbols))
    for correlation in correlations:
        a, b = correlation.between
        if a in place and b in place:
            matrix[place[a], place[b]] = matrix[place[b], place[a]] = correlation.coefficient
    if len(symbols) and np.linalg.eigvalsh(matrix)[0] < -TOLERANCE:
        _refuse(symbols, matrix)
    return matrix


def _refuse(symbols: Sequence[str], matrix: FloatArray) -> None:
    """Name the first pair, in order of entry, that the coefficients before it do not allow, and what they allow."""
    for size in range(2, len(symbols) + 1):
        if np.linalg.eigvalsh(matrix[:size, :size])[0] >= -TOLERANCE:
            continue
        last = size - 1
        row = max(range(last), key=lambda i: _repair(matrix[:size, :size], i, last))
        low, high = _allowed(matrix[:size, :size], row, last)
        allowed = f"between {low:.3g} and {high:.3g}" if low <= high else "nearer to the others"
        raise BudgetError(
            f"correlation between {symbols[row]} and {symbols[last]}: coefficient must lie {allowed}, as the other "
            f"coefficients leave no room for more: the matrix is not positive semi-definite "
            f"(got {matrix[row, last]:g})"
        )


def _allowed(matrix: FloatArray, row: int, last: int) -> tuple[float, float]:
    """Range of one coefficient that keeps the matrix positive semi-definite, the others being as they are."""
    grid = np.linspace(-1.0, 1.0, 4001)
    trials = np.repeat(matrix[None], grid.size, axis=0)
    trials[:, row, last] = trials[:, last, row] = grid
    good = grid[np.linalg.eigvalsh(trials)[:, 0] >= -TOLERANCE]
    return (float(good[0]), float(good[-1])) if good.size else (1.0, -1.0)


def _repair(matrix: FloatArray, row: int, last: int) -> float:
    """Say how far the smallest eigenvalue rises when one coefficient is taken away."""
    without = matrix.copy()
    without[row, last] = without[last, row] = 0.0
    return float(np.linalg.eigvalsh(without)[0]) + (0.0 if matrix[row, last] else -2.0)


def square_root(matrix: FloatArray) -> FloatArray:
    """
    Return C with C·Cᵀ = matrix, which must be positive semi-definite.

    Cholesky's method with the largest pivot next, which is stable where the matrix is singular or nearly so
    (Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed. 2002, section 10.3, from memory).
    """
    size = len(matrix)
    root, left, remaining = np.zeros((size, size)), np.diag(matrix).astype(np.float64), list(range(size))
    for column in range(size):
        row = max(remaining, key=lambda index: left[index])
        if left[row] <= LEAST_PIVOT:
            break
        remaining.remove(row)
        root[row, column] = np.sqrt(left[row])
        root[remaining, column] = (matrix[remaining, row] - root[remaining] @ root[row]) / root[row, column]
        left[remaining] -= root[remaining, column] ** 2
    return root


def groups(matrix: FloatArray) -> list[list[int]]:
    """Return the sets of inputs that hang together by correlation, each in order."""
    left = list(range(len(matrix)))
    found = []
    while left:
        group, pending = [], [left[0]]
        while pending:
            index = pending.pop()
            if index in left:
                left.remove(index)
                group.append(index)
                pending += [int(j) for j in np.flatnonzero(matrix[index]) if int(j) in left]
        found.append(sorted(group))
    return found
