"""The compiled loops: banded Cholesky, lethality; what all compiled loops share. Arrays and numbers only.

Fields are flattened with the short grid direction running fastest, so the matrix is banded with that many
sub-diagonals. Band storage is by rows: ``band[i, width - k]`` holds the element (i, i - k), k = 0 ... width.
"""

from __future__ import annotations

import math
from typing import Any

import numba
import numpy as np

#: Sums may be reordered (so that they vectorise); infinities and NaN keep their meaning.
_FAST = {"reassoc", "contract"}


def compiled(function: Any) -> Any:
    """Compile on first use and keep the machine code on disk, where there is a place to keep it."""
    jit: Any = numba.njit  # numba describes its types only from some version on
    try:
        return jit(cache=True, nogil=True, fastmath=_FAST)(function)
    except RuntimeError:  # no folder that could be written: compile anew in every process
        return jit(nogil=True, fastmath=_FAST)(function)


DONE, STEP_TOO_SMALL, NOT_FINITE = 0, 1, 2


@compiled
def eliminate(band, reach, i, begin, stop):
    """Work out the elements of row i from column ``begin`` up to ``stop``; those left of them are there."""
    width = band.shape[1] - 1
    row = band[i]
    for j in range(begin, stop):
        other = band[j]
        start = max(i - reach[i], j - reach[j])
        left, right = row[width - i + start : width - i + j], other[width - j + start : width]
        dot = 0.0
        for k in range(left.size):
            dot += left[k] * right[k]
        row[width - i + j] = (row[width - i + j] - dot) * other[width]


@compiled
def eliminate_four(band, reach, top, begin):
    """The same for four rows from ``top`` on, from a column that all of them reach up to ``top``.

    Each earlier row is fetched once for all four.
    """
    width = band.shape[1] - 1
    one, two, three, four = band[top], band[top + 1], band[top + 2], band[top + 3]
    for j in range(begin, top):
        other, low = band[j], j - reach[j]
        start = max(begin, low)
        here, size = width - top + start, j - start
        a, b = one[here : here + size], two[here - 1 : here - 1 + size]
        c, d = three[here - 2 : here - 2 + size], four[here - 3 : here - 3 + size]
        right = other[width - j + start : width]
        of_a, of_b, of_c, of_d = 0.0, 0.0, 0.0, 0.0
        for k in range(size):
            value = right[k]
            of_a += a[k] * value
            of_b += b[k] * value
            of_c += c[k] * value
            of_d += d[k] * value
        # what some of the rows have left of where all four begin
        for k in range(max(low, top - reach[top]), start):
            of_a += one[width - top + k] * other[width - j + k]
        for k in range(max(low, top + 1 - reach[top + 1]), start):
            of_b += two[width - top - 1 + k] * other[width - j + k]
        for k in range(max(low, top + 2 - reach[top + 2]), start):
            of_c += three[width - top - 2 + k] * other[width - j + k]
        for k in range(max(low, top + 3 - reach[top + 3]), start):
            of_d += four[width - top - 3 + k] * other[width - j + k]
        at, scale = width - top + j, other[width]
        one[at] = (one[at] - of_a) * scale
        two[at - 1] = (two[at - 1] - of_b) * scale
        three[at - 2] = (three[at - 2] - of_c) * scale
        four[at - 3] = (four[at - 3] - of_d) * scale


@compiled
def factor(band, reach):
    """Replace a symmetric positive definite band matrix by its Cholesky factor, in place.

    ``reach`` (n,) says how far left of the diagonal each row begins; nothing fills in beyond it. The diagonal of the
    factor is stored inverted. Returns False if the matrix is not positive definite.
    """
    n, width = band.shape[0], band.shape[1] - 1
    for top in range(0, n, 4):
        stop = min(top + 4, n)
        common = 0
        for i in range(top, stop):
            common = max(common, i - reach[i])
        together = stop == top + 4 and common < top
        if together:
            for i in range(top, stop):
                eliminate(band, reach, i, i - reach[i], common)
            eliminate_four(band, reach, top, common)
        for i in range(top, stop):
            row = band[i]
            eliminate(band, reach, i, max(top, i - reach[i]) if together else i - reach[i], i)
            dot = 0.0
            for k in range(width - reach[i], width):
                dot += row[k] * row[k]
            pivot = row[width] - dot
            if not pivot > 0.0:
                return False
            row[width] = 1.0 / math.sqrt(pivot)
    return True


@compiled
def solve(band, reach, x):
    """Solve with the factor that :func:`factor` left, overwriting the right-hand side ``x``."""
    n, width = band.shape[0], band.shape[1] - 1
    for i in range(n):
        first = i - reach[i]
        left, right = band[i, width - reach[i] : width], x[first:i]
        dot = 0.0
        for k in range(left.size):
            dot += left[k] * right[k]
        x[i] = (x[i] - dot) * band[i, width]
    for i in range(n - 1, -1, -1):
        first = i - reach[i]
        value = x[i] * band[i, width]
        x[i] = value
        left, right = band[i, width - reach[i] : width], x[first:i]
        for k in range(left.size):
            right[k] -= left[k] * value


#: Gauss-Legendre places and weights on [0, 1]: exact for polynomials of degree 7.
_PLACES, _WEIGHTS = np.polynomial.legendre.leggauss(4)
_PLACES, _WEIGHTS = (_PLACES + 1.0) / 2.0, _WEIGHTS / 2.0


#: Columns whose lethality is gathered together, and the degree of the polynomial for what the rate does in a panel.
_TOGETHER, _DEGREE = 64, 9
_FACTORS = np.array([1.0 / math.factorial(k) for k in range(_DEGREE + 1)])


@compiled
def accumulate(time, temperature, rate, columns, reference, z, total):
    """Integrate 10^((T - reference)/z) over time at the chosen columns, T being cubic between the entries.

    ``total`` (n_t, n_columns) receives the lethality gathered up to each entry, in the unit of ``time``.
    """
    scale = math.log(10.0) / z
    t0, t1, d0, d1 = np.empty(_TOGETHER), np.empty(_TOGETHER), np.empty(_TOGETHER), np.empty(_TOGETHER)
    before, begun, gathered = np.empty(_TOGETHER), np.empty(_TOGETHER), np.empty(_TOGETHER)
    total[0] = 0.0
    for step in range(time.size - 1):
        h = time[step + 1] - time[step]
        if h <= 0.0:
            total[step + 1] = total[step]
            continue
        for first in range(0, columns.size, _TOGETHER):
            count = min(_TOGETHER, columns.size - first)
            most = 0.0
            for c in range(count):
                i = columns[first + c]
                t0[c], t1[c] = temperature[step, i], temperature[step + 1, i]
                d0[c], d1[c] = h * rate[step, i], h * rate[step + 1, i]
                most = max(most, abs(t1[c] - t0[c]), abs(d0[c]), abs(d1[c]))
                gathered[c] = 0.0
            # where the rate would span more than a factor of ten the step is cut
            panels = 1 + int(min(most / z, 100.0))
            for panel in range(panels):
                x = panel / panels
                y = 1.0 - x
                for c in range(count):
                    before[c] = y * y * ((1.0 + 2.0 * x) * t0[c] + x * d0[c]) + x * x * (
                        (1.0 + 2.0 * y) * t1[c] - y * d1[c]
                    )
                    begun[c] = math.exp(scale * (before[c] - reference)) / panels
                for g in range(4):
                    x = (panel + _PLACES[g]) / panels
                    y = 1.0 - x
                    of_t0, of_d0 = y * y * (1.0 + 2.0 * x), y * y * x
                    of_t1, of_d1 = x * x * (1.0 + 2.0 * y), x * x * y
                    for c in range(count):
                        value = of_t0 * t0[c] + of_d0 * d0[c] + of_t1 * t1[c] - of_d1 * d1[c]
                        # the rate over that at the panel's begin: the exponential's series at an eighth, three times
                        # squared, is right to 1e-8 over the whole range of a panel
                        part = scale * (value - before[c]) / 8.0
                        grown = _FACTORS[_DEGREE]
                        for k in range(_DEGREE - 1, -1, -1):
                            grown = grown * part + _FACTORS[k]
                        grown *= grown
                        grown *= grown
                        gathered[c] += _WEIGHTS[g] * begun[c] * grown * grown
            for c in range(count):
                total[step + 1, first + c] = total[step, first + c] + h * gathered[c]
