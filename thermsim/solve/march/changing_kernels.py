"""The compiled stages of a step where properties change with temperature. Arrays and numbers only.

The state is each node's heat content H; its temperature follows from it. What leaves one node enters another, and the
scheme keeps the sum of H.
"""

from __future__ import annotations

import math

from thermsim.solve.compiled import compiled
from thermsim.solve.march.exchange_kernels import (
    assemble,
    conductivities,
    contents,
    direction,
    dot,
    flows,
    turned_to,
    turning,
)
from thermsim.solve.march.tableau import OF_LAST
from thermsim.solve.matrix.band_kernels import backward, factor, forward

#: Corrections of a stage until it must have settled, and how much of the step's tolerance may be left then.
CORRECTIONS, SETTLED = 8, 0.03
#: A step turns the heat in a gap by this part of the whole way at most: the estimated error does not see more.
TURN = 0.9
#: So many corrections cost what another factorisation costs; and the most that one is taken to be of that before it.
WORTH, NEARLY = 5.0, 0.98
#: A factorisation is kept while every correction is less than this part of the one before.
STALE = 0.25
#: Part of a correction that the next one is taken to be, before there are two: as found last, and no less.
UNKNOWN, LEAST = 0.5, 1e-3


@compiled
def weighted(rows, weights, out):
    """Put the sum of the rows (k, n) that have a weight (k,) into ``out`` (n,)."""
    for i in range(out.size):
        out[i] = 0.0
    for k in range(weights.size):
        if weights[k] != 0.0:
            for i in range(out.size):
                out[i] += weights[k] * rows[k, i]


@compiled
def largest(values, begin):
    """The largest of the absolute values (n,) from ``begin`` on; NaN if one is."""
    most = 0.0
    for i in range(begin, values.size):
        if not abs(values[i]) <= most:
            most = abs(values[i])
    return most


@compiled
def solve_stages(
    grid,
    which,
    tables,
    films,
    surroundings,
    start,
    length,
    tolerance,
    scheme,
    matrix,
    usual,
    at,
    went,
    room,
):
    """Work out the stages of a step of dH/dt = flows(T(H)), each by corrections with the matrix that is given.

    Parameters
    ----------
    grid : (corner, material, shares, volume, across, reach)
        See the functions of :mod:`thermsim.solve.march.exchange_kernels`.
    which : (cells, nodes, turn, since, turning_from)
        Quadrilaterals and nodes whose properties change; quadrilaterals that conduct otherwise downwards; the first
        node and the first quadrilateral of all, and the first node that has to do with what changes and the first
        quadrilateral that has such a node, (2, 2); the first node of those that conduct otherwise downwards.
    tables : (first, spacing, up, down, capacity, content)
    films : (exchange, free)
    surroundings : (stages,)
        The medium's temperature at the stages [degC].
    start : (temperature, heat)
        (n,) at the step's start [degC, J].
    length, tolerance : float
        The step's length [s], and the largest estimated error of a step [K].
    scheme : (before_it, leads, off, diagonal)
        Of :mod:`thermsim.solve.march.tableau`: weights of the stages before each; of the temperatures from which each
        begins (:func:`tableau.leads`); by what the embedded solution differs; a stage's own weight.
    matrix : (n, width + 1)
        The factor of dH/dT + gamma length K, made anew where it serves badly.
    usual : float
        What part of a correction the next one is.
    at : (temperature, conductivity, content, slope)
        Receive what the last stage ends with: (n,), (m,), (n,), (n,).
    went : (flow, entering, reached)
        (stages, n) flows [W], the first known; (stages,) what enters [W]; (OF_LAST + stages, n) temperatures at the
        last step's start and at one of its stages, and receives those of the stages.
    room : (4, n)
        To work in.

    Returns
    -------
    error, stale, usual
        The estimated error [K], ``inf`` if a stage does not settle, NaN if it is not finite; whether the matrix is to
        be factored again; the new ``usual``.
    """
    corner, material, shares, volume, across, reach = grid
    first, spacing, up, down, capacity, content = tables
    cells, lookup, nodes = (corner, material, which[0]), (first, spacing, up, down), which[1]
    turn, since, turning_from = which[2:]
    every, begin = since[0, 0], since[1, 0]
    exchange, free = films
    temperature, heat = start
    before_it, leads, off, diagonal = scheme
    trial, conductivity, content_now, slope = at
    flow, entering, reached = went
    right, correction, leaning, now = room[0], room[1], room[2], room[3]
    n, stages, gamma = temperature.size, leads.shape[0], diagonal * length
    stale = False
    # corrections of the nodes from ``begin`` on alone cost so much less, and so many more are worth it
    part = max(n - begin, 1) / n
    most_corrections, worth, slow = int(CORRECTIONS / part), WORTH / part, STALE**part
    for i in range(n):
        reached[OF_LAST, i] = temperature[i]
    least = most = direction(dot(across, temperature))
    for s in range(1, stages):
        weighted(flow, before_it[s], right)
        for i in range(n):
            right[i] = heat[i] + length * right[i]
        weighted(reached, leads[s], trial)
        for i in range(n):
            if free[i] == 0.0:
                trial[i] = surroundings[s]
        before, settled, shrinks, renew, renewed = math.inf, False, usual, False, False
        # before ``begin`` all is linear: one correction settles it, whatever follows from ``begin`` on; it is known
        # when that is
        at_node, at_cell = since[0]
        for _ in range(most_corrections):
            upwards = direction(dot(across, trial))
            conductivities(trial, cells, upwards, lookup, conductivity)
            contents(trial, nodes, volume, first, spacing, capacity, content, content_now, slope)
            gone, medium = flow[s] if at_node == every else now, surroundings[s]
            entered = flows(trial, conductivity, corner, shares, exchange, medium, free, gone, at_cell)
            if at_node == every:
                entering[s] = entered
            if renew:
                assemble(conductivity, corner, shares, exchange, free, slope, gamma, matrix)
                if not factor(matrix):
                    return math.nan, True, usual
                renew, renewed, stale, before = False, True, False, math.inf
            for i in range(at_node, n):
                correction[i] = (right[i] + gamma * gone[i] - content_now[i]) * free[i]
            forward(matrix, reach, correction, at_node)
            backward(matrix, reach, correction, begin, n)
            at_node, at_cell = since[1]
            lead = dot(across, trial) + dot(across, correction)
            if direction(lead) != upwards or 0.0 < upwards < 1.0:
                # the heat is turning: what a share more that conducts upwards changes goes in one direction
                turning(trial, (corner, material, turn), lookup, shares, free, conductivity, leaning)
                forward(matrix, reach, leaning, turning_from)
                backward(matrix, reach, leaning, begin, n)
                weight = gamma * (turned_to(upwards, lead, gamma * dot(across, leaning)) - upwards)
                for i in range(n):
                    correction[i] += weight * leaning[i]
            for i in range(begin, n):
                trial[i] += correction[i]
            worst = largest(correction, begin)
            if not math.isfinite(worst) or (worst > 2.0 * before and renewed):
                break
            # what is left after this correction, as the corrections shrink
            if before < math.inf:
                shrinks = min(worst / before, UNKNOWN)
                usual = max(shrinks, LEAST)
            if worst > slow * before:
                stale = True
                # a matrix of what the gap conducts now, where with the old one corrections would go on and on
                left = math.log(SETTLED * tolerance / worst) / math.log(min(worst / before, NEARLY))
                renew = not renewed and left > worth
            before = worst
            if worst * shrinks <= SETTLED * tolerance:
                settled = True
                break
        if not settled:
            return math.inf, True, usual
        backward(matrix, reach, correction, every, begin)
        for i in range(begin):
            trial[i] += correction[i]
        # what the last correction changes flows as the step's matrix has it: all heat goes somewhere, and none stays
        # in a gas, where next to no heat capacity would make many kelvin of it
        for i in range(n):
            content_now[i] += slope[i] * correction[i]
            more = ((content_now[i] - right[i]) / gamma - flow[s, i]) * free[i]
            flow[s, i] += more
            entering[s] += more
        for i in range(n):
            reached[s + OF_LAST, i] = trial[i]
        upwards = direction(dot(across, trial))
        least, most = min(least, upwards), max(most, upwards)
        if most - least > TURN:
            return math.inf, stale, usual
    # through the step's matrix: a gas has next to no heat capacity, and what a stage has not settled to would be
    # blown up by dividing by it (Hairer and Wanner, Solving ordinary differential equations II, section IV.8; from
    # memory)
    weighted(flow, off, correction)
    for i in range(n):
        correction[i] *= length * free[i]
    forward(matrix, reach, correction, every)
    backward(matrix, reach, correction, every, n)
    error = largest(correction, every)
    return error if math.isfinite(error) else math.nan, stale, usual
