"""Direction numbers of the first dimensions of Sobol' points: a sample of them needs no statistics library."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
