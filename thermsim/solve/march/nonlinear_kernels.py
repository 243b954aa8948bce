"""The compiled march where properties change with temperature. Arrays and numbers only.

The state is each node's heat content H; its temperature follows from it. What leaves one node enters another, and the
scheme keeps the sum of H.
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import DONE, NOT_FINITE, STEP_TOO_SMALL, compiled
from thermsim.solve.march.exchange_kernels import (
    assemble,
    changing,
    conductivities,
    contents,
    direction,
    dot,
    flows,
    turning,
)
from thermsim.solve.matrix.band_kernels import factor, solve

#: Corrections of a stage until it must have settled, and how much of the step's tolerance may be left then.
CORRECTIONS, SETTLED = 8, 0.03
#: Departure of the medium from its course before a bend within the first step after it [K]: what a long step is off
#: between its ends, its error at the end does not tell.
BEND = 0.5
#: A factorisation is kept while every correction is less than this part of the one before.
WORN = 0.25
#: Part of a correction that the next one is taken to be, before there are two: as found last, and no less.
UNKNOWN, LEAST = 0.5, 1e-3


@compiled
def gone_on(first, between, last, middle, x):
    """Parabola through three values, at 0, ``middle`` and 1, at ``x``."""
    one = (x - middle) * (x - 1.0) * first / middle
    two = x * (x - 1.0) * between / (middle * (1.0 - middle))
    return one - two + x * (x - middle) * last / (1.0 - middle)


@compiled
def march_nonlinear(
    shape,
    tables,
    films,
    knots,
    medium,
    start,
    state,
    first_step,
    climbing,
    tolerance,
    a,
    embedded,
    ahead,
):
    """March dH/dt = flows(T(H)) through one stage, the medium being linear between the knots.

    Parameters
    ----------
    shape : (corner, material, pairs, share, volume, across, reach, width)
        The grid; see the functions of :mod:`thermsim.solve.march.exchange_kernels`.
    tables : (first, spacing, up, down, capacity, content)
    films : (exchange, free)
    knots, medium : (m,)
        Times [s] and medium temperatures [degC].
    start, state : (n,)
        Temperature [degC] and heat content [J] at the first knot.
    first_step : float
        First step to try [s].
    climbing : float
        Slope of the medium before the first knot [K/s]; NaN where nothing went before.
    tolerance : float
        Largest estimated error of a step [K].
    a, embedded, ahead
        Weights of the stages, of the embedded solution, and of the stages before it in what a stage begins with.

    Returns
    -------
    status, count, time, temperature, rates, state, heat, step, rejected, factorings
        As of the march with constant properties; ``state`` at the end, and how often a matrix was factored.
    """
    corner, material, pairs, share, volume, across, reach, width = shape
    first, spacing, up, down, capacity, content = tables
    lookup = (first, spacing, up, down)
    exchange, free = films
    n, stages = start.size, a.shape[0]
    # most of a body may be constant
    varies = changing(np.concatenate((up, down), axis=1))
    cells = (corner, material, np.flatnonzero(varies[material]))
    varies = changing(capacity)
    nodes = np.flatnonzero((volume * varies).sum(axis=1) > 0.0)
    gamma = a[1, 1]
    room = 128 + 2 * knots.size
    times, temperatures, rates = np.empty(room), np.empty((room, n)), np.empty((room, n))
    count, rejected, factorings = 0, 0, 0
    heat = 0.0
    matrix = np.zeros((n, width + 1))
    factored_for = -1.0
    worn, usual = False, UNKNOWN
    conductivity = np.empty(corner.shape[0])
    temperature, trial, content_now, slope = start.copy(), np.empty(n), np.empty(n), np.empty(n)
    right, correction, leaning, other = np.empty(n), np.empty(n), np.empty(n), np.empty(n)
    flow, reached = np.zeros((stages, n)), np.empty((stages, n))
    # the last step: its length, and temperatures at its start, at one of its stages, and at its end
    length, between, gone = 0.0, stages // 2, np.empty((3, n))
    middle = a[between].sum()
    entering = np.zeros(stages)
    step = first_step
    contents(temperature, np.arange(n), volume, first, spacing, capacity, content, content_now, slope)
    every = (corner, material, np.arange(material.size))
    conductivities(temperature, every, direction(temperature, across)[0], lookup, conductivity)
    entering[0] = flows(temperature, conductivity, pairs, share, exchange, medium[0], free, flow[0])
    for piece in range(knots.size - 1):
        end, time = knots[piece + 1], knots[piece]
        climb = (medium[piece + 1] - medium[piece]) / (end - time)
        if abs(climb - climbing) * step > BEND:
            step = BEND / abs(climb - climbing)
        climbing = climb
        while True:
            if count == times.size:
                more = 2 * count
                new_times, new_temperatures, new_rates = np.empty(more), np.empty((more, n)), np.empty((more, n))
                new_times[:count], new_temperatures[:count], new_rates[:count] = times, temperatures, rates
                times, temperatures, rates = new_times, new_temperatures, new_rates
            times[count] = time
            for i in range(n):
                temperatures[count, i] = temperature[i]
                rates[count, i] = flow[0, i] / slope[i] if free[i] > 0.0 else climb
            count += 1
            if time >= end:
                break
            while True:  # until a step is good enough
                left = end - time
                h, last = step, False
                if step >= left * (1.0 - 1e-9):
                    h, last = left, True
                elif 2.0 * step > left:
                    h = left / 2.0
                if worn or abs(h - factored_for) > 1e-9 * h:
                    conductivities(temperature, cells, direction(temperature, across)[0], lookup, conductivity)
                    contents(temperature, nodes, volume, first, spacing, capacity, content, content_now, slope)
                    assemble(conductivity, pairs, share, exchange, free, slope, gamma * h, matrix)
                    if not factor(matrix):
                        return NOT_FINITE, count, times, temperatures, rates, state, heat, step, rejected, factorings
                    factored_for, worn, usual = h, False, UNKNOWN
                    factorings += 1
                settled = True
                reached[0] = temperature
                for s in range(1, stages):
                    fraction = 0.0
                    for q in range(s + 1):
                        fraction += a[s, q]
                    surrounding = medium[piece] + climb * (time + fraction * h - knots[piece])
                    for i in range(n):
                        known = state[i]
                        for q in range(s):
                            known += h * a[s, q] * flow[q, i]
                        right[i] = known
                        trial[i] = 0.0
                        if s == 1 and length > 0.0:
                            x = 1.0 + fraction * h / length
                            trial[i] = gone_on(gone[0, i], gone[1, i], gone[2, i], middle, x)
                        else:
                            for q in range(s):
                                trial[i] += ahead[s, q] * reached[q, i]
                        if free[i] == 0.0:
                            trial[i] = surrounding
                    before = math.inf
                    settled = False
                    shrinks = usual
                    for _ in range(CORRECTIONS):
                        upwards, steepness = direction(trial, across)
                        conductivities(trial, cells, upwards, lookup, conductivity)
                        contents(trial, nodes, volume, first, spacing, capacity, content, content_now, slope)
                        entering[s] = flows(trial, conductivity, pairs, share, exchange, surrounding, free, flow[s])
                        worst = 0.0
                        for i in range(n):
                            correction[i] = (right[i] + gamma * h * flow[s, i] - content_now[i]) * free[i]
                        solve(matrix, reach, correction)
                        if steepness > 0.0:
                            # the heat is turning: what that adds to the matrix is of rank one (Sherman and Morrison)
                            turning(trial, cells, lookup, pairs, share, exchange, free, conductivity, other, leaning)
                            solve(matrix, reach, leaning)
                            weight = gamma * h * steepness
                            weight *= dot(across, correction) / (1.0 - weight * dot(across, leaning))
                            for i in range(n):
                                correction[i] += weight * leaning[i]
                        for i in range(n):
                            trial[i] += correction[i]
                            if not abs(correction[i]) <= worst:
                                worst = abs(correction[i])
                        if not math.isfinite(worst) or worst > 2.0 * before:
                            break
                        # what is left after this correction, as the corrections shrink
                        if before < math.inf:
                            shrinks = min(worst / before, UNKNOWN)
                            usual = max(shrinks, LEAST)
                        if worst > WORN * before:
                            worn = True
                        before = worst
                        if worst * shrinks <= SETTLED * tolerance:
                            settled = True
                            break
                    if not settled:
                        break
                    # what the last correction changes flows as the step's matrix has it: all heat goes somewhere, and
                    # none stays in a gas, where next to no heat capacity would make many kelvin of it
                    for i in range(n):
                        content_now[i] += slope[i] * correction[i]
                        more = ((content_now[i] - right[i]) / (gamma * h) - flow[s, i]) * free[i]
                        flow[s, i] += more
                        entering[s] += more
                    reached[s] = trial
                worst = math.inf
                if settled:
                    # through the step's matrix: a gas has next to no heat capacity, and what a stage has not settled
                    # to would be blown up by dividing by it (Hairer and Wanner, Solving ordinary differential
                    # equations II, section IV.8; from memory)
                    for i in range(n):
                        error = 0.0
                        for s in range(stages):
                            error += (a[stages - 1, s] - embedded[s]) * flow[s, i]
                        correction[i] = h * error * free[i]
                    solve(matrix, reach, correction)
                    worst = 0.0
                    for i in range(n):
                        if not abs(correction[i]) <= worst:
                            worst = abs(correction[i])
                    if not math.isfinite(worst):
                        return NOT_FINITE, count, times, temperatures, rates, state, heat, step, rejected, factorings
                    if worst <= tolerance:
                        break
                rejected += 1
                worn = worn or not settled
                step = h * (0.5 if worst < 10.0 * tolerance else 0.25)
                if step < 1e-12 * max(1.0, abs(end)):
                    return STEP_TOO_SMALL, count, times, temperatures, rates, state, heat, step, rejected, factorings

            for s in range(stages):
                heat += h * a[stages - 1, s] * entering[s]
            gone[0], gone[1], gone[2] = reached[0], reached[between], trial
            length = h
            for i in range(n):
                temperature[i] = trial[i]
                flow[0, i] = flow[stages - 1, i]
                if free[i] > 0.0:
                    state[i] = content_now[i]
            entering[0] = entering[stages - 1]
            contents(temperature, nodes, volume, first, spacing, capacity, content, content_now, slope)
            time = end if last else time + h
            if h >= step * (1.0 - 1e-9):
                growth = 0.9 * (tolerance / max(worst, 1e-30)) ** 0.25
                if growth >= 4.0:
                    step = 4.0 * step
                elif growth >= 2.0:
                    step = 2.0 * step
    return DONE, count, times, temperatures, rates, state, heat, step, rejected, factorings
