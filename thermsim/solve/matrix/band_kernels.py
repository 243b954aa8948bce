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

    Four columns are worked out, then taken from all rows to their right, two rows at a time: whatever is fetched
    serves several times.
    """
    n, width = band.shape[0], band.shape[1] - 1
    block = min(4, width)
    below = np.zeros((4, width + 4))
    one, two, three, four = below[0], below[1], below[2], below[3]
    for j in range(0, n, block):
        stop = min(j + block, n)
        for i in range(j, stop):
            for k in range(j, i):
                value = band[i, width - i + k]
                for q in range(j, k):
                    value -= band[i, width - i + q] * band[k, width - k + q]
                band[i, width - i + k] = value * band[k, width]
            pivot = band[i, width]
            for q in range(j, i):
                pivot -= band[i, width - i + q] * band[i, width - i + q]
            if not pivot > 0.0:
                return False
            band[i, width] = 1.0 / math.sqrt(pivot)
        end = min(n, stop + width)
        for i in range(stop, end):
            for q in range(block):
                value = 0.0
                if j + q < stop and i - j - q <= width:
                    value = band[i, width - i + j + q]
                    for p in range(q):
                        value -= below[p, i - stop] * band[j + q, width - q + p]
                    value *= band[j + q, width]
                    band[i, width - i + j + q] = value
                below[q, i - stop] = value
        for i in range(stop, end - 1, 2):
            t = i - stop
            a0, a1, a2, a3 = one[t], two[t], three[t], four[t]
            b0, b1, b2, b3 = one[t + 1], two[t + 1], three[t + 1], four[t + 1]
            row, other = band[i, width - t : width + 1], band[i + 1, width - t - 1 : width]
            for k in range(t + 1):
                x0, x1, x2, x3 = one[k], two[k], three[k], four[k]
                row[k] -= a0 * x0 + a1 * x1 + a2 * x2 + a3 * x3
                other[k] -= b0 * x0 + b1 * x1 + b2 * x2 + b3 * x3
            band[i + 1, width] -= b0 * b0 + b1 * b1 + b2 * b2 + b3 * b3
        if (end - stop) % 2 == 1:
            t = end - 1 - stop
            row = band[end - 1, width - t : width + 1]
            for k in range(t + 1):
                row[k] -= one[t] * one[k] + two[t] * two[k] + three[t] * three[k] + four[t] * four[k]
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


@compiled
def solve(band, reach, x):
    """Solve with the factor and its transpose, overwriting the right-hand side ``x``."""
    forward(band, reach, x, 0)
    backward(band, reach, x, 0, x.size)
