"""The compiled march where properties change with temperature. Arrays and numbers only.

The state is each node's heat content H; its temperature follows from it. Flows are exchanged in pairs with one
conductivity each quadrilateral, so what leaves one node enters another, and the scheme keeps the sum of H.
Fields are flattened with the short grid direction running fastest, as in the kernels of constant properties.
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import DONE, NOT_FINITE, STEP_TOO_SMALL, compiled
from thermsim.solve.matrix.band_kernels import factor, solve

#: Corrections of a stage until it must have settled, and how much of the step's tolerance may be left then.
CORRECTIONS, SETTLED = 8, 0.03
#: Lead of a gap's lower face at which the heat across it flows upwards in full [K].
TURNED = 1.0
#: Departure of the medium from its course before a bend within the first step after it [K]: what a long step is off
#: between its ends, its error at the end does not tell.
BEND = 0.5
#: A factorisation is kept while every correction is less than this part of the one before.
WORN = 0.25
#: Part of a correction that the next one is taken to be, before there are two: as found last, and no less.
UNKNOWN, LEAST = 0.5, 1e-3


@compiled
def conductivities(temperature, cells, upwards, lookup, out):
    """Conductivity of some quadrilaterals at the mean of their corners' temperatures.

    Parameters
    ----------
    temperature : (n,)
    cells : (corner, material, which)
        (m, 4) nodes of each quadrilateral; (m,) its material; which of them to work out.
    upwards : float
        How far the conductivity is that for heat flowing upwards (1) or downwards (0).
    lookup : (first, spacing, up, down)
        The first tabulated temperature and their spacing [degC]; (materials, lines) conductivity [W/mK] where heat
        flows up, and where it flows down.
    out : (m,)
    """
    corner, material, which = cells
    first, spacing, up, down = lookup
    lines = up.shape[1]
    for q in which:
        mean = 0.0
        for c in range(4):
            mean += temperature[corner[q, c]] / 4.0
        place = (mean - first) / spacing
        k = min(max(int(place), 0), lines - 2)
        part = min(max(place - k, 0.0), 1.0)
        low, high = down[material[q]], up[material[q]]
        one = low[k] + part * (low[k + 1] - low[k])
        other = high[k] + part * (high[k + 1] - high[k])
        out[q] = one + upwards * (other - one)


@compiled
def changing(values):
    """Which rows (materials, lines) are not one value throughout."""
    found = np.zeros(values.shape[0], dtype=np.bool_)
    for m in range(values.shape[0]):
        for k in range(values.shape[1]):
            found[m] |= values[m, k] != values[m, 0]
    return found


@compiled
def dot(one, other):
    """Sum of the products of two arrays (n,)."""
    total = 0.0
    for i in range(one.size):
        total += one[i] * other[i]
    return total


@compiled
def direction(temperature, across):
    """Share of the upward conductivity in a gap, and its slope [1/K]: 1 where the lower face leads by TURNED or more.

    It is 0 as long as the upper face is the hotter one, so that what flows grows with the difference either way.
    ``across`` (n,) gives the mean temperature of the lower face less that of the upper one.
    """
    x = min(max(dot(across, temperature) / TURNED, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x), 6.0 * x * (1.0 - x) / TURNED


@compiled
def contents(temperature, which, volume, first, spacing, capacity, content, heat, slope):
    """Heat content [J] of each node's control volume above the first tabulated temperature, and its slope [J/K].

    ``which`` are the nodes whose slope has to be worked out; the others keep theirs. ``volume`` (n, materials) [m3],
    ``capacity`` and ``content`` (materials, lines): rho c [J/m3K] and its integral over temperature [J/m3]; beyond
    the table capacity stays as at its end.
    """
    lines = capacity.shape[1]
    for i in range(temperature.size):
        heat[i] = slope[i] * (temperature[i] - first)
    for i in which:
        place = (temperature[i] - first) / spacing
        k = min(max(int(math.floor(place)), 0), lines - 2)
        part = place - k
        heat[i], slope[i] = 0.0, 0.0
        for m in range(volume.shape[1]):
            v = volume[i, m]
            if v > 0.0:
                c0, c1 = capacity[m, k], capacity[m, k + 1]
                if part < 0.0:
                    here, gathered = c0, part * c0
                elif part > 1.0:
                    here, gathered = c1, (c0 + c1) / 2.0 + (part - 1.0) * c1
                else:
                    here = c0 + part * (c1 - c0)
                    gathered = part * (c0 + here) / 2.0
                heat[i] += v * (content[m, k] + spacing * gathered)
                slope[i] += v * here


@compiled
def flows(temperature, conductivity, pairs, share, exchange, medium, free, out):
    """Heat that flows into each free node [W]; returns what comes from the medium and from held nodes.

    ``pairs`` (p, 3) of int: the two nodes and the quadrilateral between them; ``share`` (p,) their conductance per
    unit of conductivity [m]; ``exchange`` (n,) the films' conductance [W/K]; ``medium`` the medium's temperature.
    """
    entering = 0.0
    for i in range(temperature.size):
        out[i] = exchange[i] * (medium - temperature[i]) * free[i]
        entering += out[i]
    for p in range(pairs.shape[0]):
        i, j = pairs[p, 0], pairs[p, 1]
        flow = share[p] * conductivity[pairs[p, 2]] * (temperature[j] - temperature[i])
        out[i] += flow * free[i]
        out[j] -= flow * free[j]
        # a held node stands at the medium's temperature: what it gives comes from outside
        entering += flow * (free[i] - free[j])
    return entering


@compiled
def turning(temperature, cells, lookup, pairs, share, exchange, free, conductivity, other, out):
    """Heat that flows more into each node where the gap conducts upwards than where it conducts downwards [W].

    ``conductivity`` (m,) and ``other`` (n,) are room to work in; the rest is that of :func:`flows`.
    """
    conductivities(temperature, cells, 0.0, lookup, conductivity)
    flows(temperature, conductivity, pairs, share, exchange, 0.0, free, other)
    conductivities(temperature, cells, 1.0, lookup, conductivity)
    flows(temperature, conductivity, pairs, share, exchange, 0.0, free, out)
    for i in range(out.size):
        out[i] -= other[i]


@compiled
def assemble(conductivity, pairs, share, exchange, free, slope, scale, band):
    """Put slope + scale * K into the band; K couples free nodes alone, held ones get a 1 on the diagonal."""
    width = band.shape[1] - 1
    band[:] = 0.0
    for i in range(slope.size):
        band[i, width] = slope[i] + scale * exchange[i] if free[i] > 0.0 else 1.0
    for p in range(pairs.shape[0]):
        i, j = pairs[p, 0], pairs[p, 1]
        conductance = scale * share[p] * conductivity[pairs[p, 2]]
        if free[i] > 0.0:
            band[i, width] += conductance
        if free[j] > 0.0:
            band[j, width] += conductance
        if free[i] > 0.0 and free[j] > 0.0:
            low, high = min(i, j), max(i, j)
            band[high, width - (high - low)] -= conductance


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
        The grid; see the functions above.
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
