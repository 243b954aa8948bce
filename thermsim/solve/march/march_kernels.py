# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled march through a stage. Arrays and numbers only."""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import DONE, NOT_FINITE, STEP_TOO_SMALL, compiled
from thermsim.solve.matrix.matrix_kernels import factorise, solve_one


@compiled
def march(
    banded,
    dissected,
    factors,
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
    banded, dissected
        K [W/K] with the rows and columns of held nodes empty, as for
        :func:`thermsim.solve.matrix.matrix_kernels.factorise`.
    factors
        Room for a factor, which is overwritten.
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
    factored_for = -1.0
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
                    if not factorise(banded, dissected, gamma * h, capacity, 1.0, factors):
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
                    solve_one(factors, banded, dissected, right)
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
                if step < 1e-12 * max(1.0, abs(end)):
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
