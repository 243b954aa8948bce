"""The compiled loops: banded Cholesky, the march through a stage, lethality. Arrays and numbers only.

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


@compiled
def multiply(band, x, out):
    """Put the symmetric band matrix times ``x`` into ``out``."""
    n, width = band.shape[0], band.shape[1] - 1
    for i in range(n):
        out[i] = band[i, width] * x[i]
    for i in range(n):
        for k in range(max(0, width - i), width):
            element = band[i, k]
            if element != 0.0:
                j = i - width + k
                out[i] += element * x[j]
                out[j] += element * x[i]


@compiled
def march(
    band,
    reach,
    capacity,
    exchange,
    free,
    knots,
    medium,
    start,
    rate,
    first_step,
    largest_step,
    tolerance,
    a,
    embedded,
):
    """March C dT/dt = -K (T - T_medium) through one stage, the medium being linear between the knots.

    Parameters
    ----------
    band : (n, width + 1)
        K [W/K] with the rows and columns of held nodes empty.
    reach : (n,) of int
        How far left of the diagonal each row of K begins.
    capacity, exchange : (n,)
        C [J/K] (1 for held nodes) and K times one [W/K].
    free : (n,) of float
        1 for unknown nodes, 0 for those held at the medium's temperature (or that nothing conducts to).
    knots, medium : (m,)
        Times [s] and medium temperatures [degC].
    start, rate : (n,)
        Temperature [degC] and its rate [K/s] at the first knot.
    first_step, largest_step : float
        First step to try, and the largest allowed [s].
    tolerance : float
        Largest estimated error of a step [K].
    a, embedded
        Weights of the stages and of the embedded solution.

    Returns
    -------
    status : int
    count : int
        Entries used of the arrays that follow; each piece between knots has its own first and last entry.
    time, temperature, rates : (capacity,), (capacity, n), (capacity, n)
    heat : float
        Heat taken in by the free nodes [J].
    step : float
        The last step size that the error control chose [s].
    rejected : int
    """
    n, stages = start.size, a.shape[0]
    gamma = a[1, 1]
    room = 128 + 2 * knots.size
    times, temperatures, rates = np.empty(room), np.empty((room, n)), np.empty((room, n))
    count, rejected = 0, 0
    heat = 0.0
    matrix = np.empty_like(band)
    factored_for = -1.0
    width = band.shape[1] - 1
    k = np.zeros((stages, n))
    trial, right = np.empty(n), np.empty(n)
    stage_heat = np.empty(stages)
    u = (start - medium[0]) * free
    step = first_step
    slope = 0.0
    for piece in range(knots.size - 1):
        end = knots[piece + 1]
        time = knots[piece]
        old_slope = slope if piece > 0 else 0.0
        slope = (medium[piece + 1] - medium[piece]) / (end - time)
        for i in range(n):  # the rate of u = T - T_medium
            k[0, i] = (rate[i] - slope) * free[i] if piece == 0 else (k[0, i] + old_slope - slope) * free[i]
        fresh = True
        while True:
            # an entry of the history: where a piece begins, and after each step
            if count == times.size:
                more = 2 * count
                new_times, new_temperatures, new_rates = np.empty(more), np.empty((more, n)), np.empty((more, n))
                new_times[:count], new_temperatures[:count], new_rates[:count] = times, temperatures, rates
                times, temperatures, rates = new_times, new_temperatures, new_rates
            surrounding = medium[piece] + slope * (time - knots[piece])
            if not fresh and time == end:
                surrounding = medium[piece + 1]
            times[count] = time
            for i in range(n):
                temperatures[count, i] = u[i] + surrounding
                rates[count, i] = k[0, i] + slope
            count += 1
            fresh = False
            if time >= end:
                break

            while True:  # until a step is good enough
                left = end - time
                h, last = step, False
                if step >= left * (1.0 - 1e-9):
                    h, last = left, True
                elif 2.0 * step > left:
                    h = left / 2.0
                if abs(h - factored_for) > 1e-9 * h:
                    scale = gamma * h
                    for i in range(n):
                        for j in range(width - reach[i], width):
                            matrix[i, j] = scale * band[i, j]
                        matrix[i, width] = capacity[i] + scale * band[i, width]
                    if not factor(matrix, reach):
                        return NOT_FINITE, count, times, temperatures, rates, heat, step, rejected
                    factored_for = h
                total = 0.0
                for i in range(n):
                    total -= exchange[i] * u[i]
                stage_heat[0] = total
                for s in range(1, stages):
                    for i in range(n):
                        trial[i] = u[i]
                    for q in range(s):
                        weight = h * a[s, q]
                        if weight != 0.0:
                            for i in range(n):
                                trial[i] += weight * k[q, i]
                    shift = gamma * h * slope
                    for i in range(n):
                        right[i] = capacity[i] * (trial[i] - shift) * free[i]
                    solve(matrix, reach, right)
                    total = 0.0
                    for i in range(n):
                        k[s, i] = (right[i] - trial[i]) / (gamma * h)
                        total -= exchange[i] * right[i]
                    stage_heat[s] = total
                worst = 0.0
                for i in range(n):
                    error = 0.0
                    for s in range(stages):
                        error += (a[stages - 1, s] - embedded[s]) * k[s, i]
                    error = abs(h * error)
                    if not error <= worst:  # also true for NaN
                        worst = error
                if not math.isfinite(worst):
                    return NOT_FINITE, count, times, temperatures, rates, heat, step, rejected
                if worst <= tolerance:
                    break
                rejected += 1
                step = h * (0.5 if worst < 10.0 * tolerance else 0.25)
                if step < 1e-9 * max(1.0, abs(end)):
                    return STEP_TOO_SMALL, count, times, temperatures, rates, heat, step, rejected

            for s in range(stages):
                heat += h * a[stages - 1, s] * stage_heat[s]
            for i in range(n):  # the last stage is the step's end
                u[i] = right[i]
                k[0, i] = k[stages - 1, i]
            time = end if last else time + h
            # steps change by powers of two only, so that a factorisation serves many of them
            if h >= step * (1.0 - 1e-9):
                growth = 0.9 * (tolerance / max(worst, 1e-30)) ** 0.25
                if growth >= 4.0 and 4.0 * step <= largest_step:
                    step = 4.0 * step
                elif growth >= 2.0 and 2.0 * step <= largest_step:
                    step = 2.0 * step
    return DONE, count, times, temperatures, rates, heat, step, rejected


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
