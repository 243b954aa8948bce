"""Compiled loops of a banded Cholesky factor, for the march of changing properties. Arrays and numbers only.

Fields are flattened with the short grid direction running fastest, so the matrix is banded with that many
sub-diagonals. Band storage is by rows: ``band[i, width - k]`` holds the element (i, i - k), k = 0 ... width.
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled


@compiled
def factor(band):
    """Replace a symmetric positive definite band matrix by its Cholesky factor, in place.

    What of the band lies left of a row's first element must be zero, and stays so. The diagonal of the factor is
    stored inverted. Returns False if the matrix is not positive definite.

    Two columns are worked out, then taken from all rows to their right: whatever is fetched serves twice.
    """
    n, width = band.shape[0], band.shape[1] - 1
    one, two = np.zeros(width), np.zeros(width)
    for j in range(0, n, 2):
        if not band[j, width] > 0.0:
            return False
        band[j, width] = 1.0 / math.sqrt(band[j, width])
        if j + 1 == n:
            break
        between = band[j + 1, width - 1] * band[j, width]
        band[j + 1, width - 1] = between
        pivot = band[j + 1, width] - between * between
        if not pivot > 0.0:
            return False
        band[j + 1, width] = 1.0 / math.sqrt(pivot)
        below = j + 2
        rows = min(width, n - below)
        for i in range(rows):
            one[i] = 0.0
            if i < width - 1:  # the last of the rows reaches the second column alone
                one[i] = band[below + i, width - 2 - i] * band[j, width]
                band[below + i, width - 2 - i] = one[i]
            two[i] = (band[below + i, width - 1 - i] - one[i] * between) * band[j + 1, width]
            band[below + i, width - 1 - i] = two[i]
        for i in range(rows):
            by_one, by_two, row = one[i], two[i], band[below + i, width - i :]
            for k in range(i + 1):
                row[k] -= by_one * one[k] + by_two * two[k]
    return True


@compiled
def forward(band, reach, x, begin):
    """Solve with the factor that :func:`factor` left, in place, from row ``begin`` on: those before it are solved."""
    n, width = band.shape[0], band.shape[1] - 1
    for i in range(begin, n):
        first = i - reach[i]
        left, right = band[i, width - reach[i] : width], x[first:i]
        dot = 0.0
        for k in range(left.size):
            dot += left[k] * right[k]
        x[i] = (x[i] - dot) * band[i, width]


@compiled
def backward(band, reach, x, begin, end):
    """Solve with its transpose, in place, rows ``begin`` to ``end``: what those after them add to it is known.

    What these add to the rows before ``begin`` is taken off there.
    """
    width = band.shape[1] - 1
    for i in range(end - 1, begin - 1, -1):
        first = i - reach[i]
        value = x[i] * band[i, width]
        x[i] = value
        left, right = band[i, width - reach[i] : width], x[first:i]
        for k in range(left.size):
            right[k] -= left[k] * value
