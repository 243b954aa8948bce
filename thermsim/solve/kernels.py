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


def compiled(function: Any, **more: Any) -> Any:
    """Compile on first use and keep the machine code on disk, where there is a place to keep it."""
    jit: Any = numba.njit  # numba describes its types only from some version on
    try:
        return jit(cache=True, nogil=True, fastmath=_FAST, **more)(function)
    except RuntimeError:  # no folder that could be written: compile anew in every process
        return jit(nogil=True, fastmath=_FAST, **more)(function)


def inlined(function: Any) -> Any:
    """The same for a part of larger loops: it is put into each as it stands, and not compiled by itself as well."""
    return compiled(function, inline="always")


DONE, STEP_TOO_SMALL, NOT_FINITE = 0, 1, 2


@inlined
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


@inlined
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


#: Gauss-Legendre places and weights on [0, 1], exact for polynomials of degree 7, and the end.
_PLACES, _WEIGHTS = (np.append(part, 1.0) for part in np.polynomial.legendre.leggauss(4))
_PLACES, _WEIGHTS = (_PLACES + 1.0) / 2.0, np.append(_WEIGHTS[:4] / 2.0, 0.0)


#: After so many steps rates are worked out anew, so that the rounding of series does not add up.
_AFRESH = 8

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
    rates = np.empty(columns.size)
    for c in range(columns.size):
        total[0, c] = 0.0
    since = 0
    for step in range(time.size - 1):
        h = time[step + 1] - time[step]
        if h <= 0.0:
            since = 0  # temperatures may jump
            for c in range(columns.size):
                total[step + 1, c] = total[step, c]
            continue
        for first in range(0, columns.size, _TOGETHER):
            count = min(_TOGETHER, columns.size - first)
            most = 0.0
            for c in range(count):
                i = columns[first + c]
                t0[c], t1[c] = temperature[step, i], temperature[step + 1, i]
                d0[c], d1[c] = h * rate[step, i], h * rate[step + 1, i]
                most = max(most, abs(t1[c] - t0[c]), abs(d0[c]), abs(d1[c]))
                gathered[c], before[c], begun[c] = 0.0, t0[c], rates[first + c]
            if since == 0:
                for c in range(count):
                    begun[c] = math.exp(scale * (t0[c] - reference))
            # where the rate would span more than a factor of ten the step is cut
            panels = 1 + int(min(most / z, 100.0))
            for panel in range(panels):
                # four places for the integral, and the panel's end, where the next one begins
                for g in range(5):
                    x = (panel + _PLACES[g]) / panels
                    y = 1.0 - x
                    of_t0, of_d0 = y * y * (1.0 + 2.0 * x), y * y * x
                    of_t1, of_d1 = x * x * (1.0 + 2.0 * y), x * x * y
                    weight = _WEIGHTS[g] / panels
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
                        grown *= grown * begun[c]
                        gathered[c] += weight * grown
                        if g == 4:
                            before[c], begun[c] = value, grown
            for c in range(count):
                total[step + 1, first + c] = total[step, first + c] + h * gathered[c]
                rates[first + c] = begun[c]
        since = (since + 1) % _AFRESH
