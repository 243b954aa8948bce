# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of a reduced basis: how it decays, and passes between grids. Arrays and numbers only."""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled


@compiled
def decay(rates, ones, knots, medium, start, at_knots, gathered):
    """Follow modes exactly: da/dt = -rate a - ones dT_medium/dt, the medium linear between knots.

    ``at_knots`` (m, modes) receives a at each knot, ``gathered`` (modes,) its integral over all of them.

    Where the medium jumps a knot stands twice.
    """
    for k in range(rates.size):
        value, total, rate = start[k], 0.0, rates[k]
        at_knots[0, k] = value
        for piece in range(knots.size - 1):
            h = knots[piece + 1] - knots[piece]
            x = rate * h
            kept = math.exp(-x)
            # (1 - e^-x)/x and (1 - that)/x
            one = -math.expm1(-x) / x if x > 1e-12 else 1.0 - x / 2.0
            two = (1.0 - one) / x if x > 1e-3 else 0.5 - x / 6.0 + x * x / 24.0
            drive = ones[k] * (medium[piece + 1] - medium[piece])
            total += h * (one * value - two * drive)
            value = kept * value - one * drive
            at_knots[piece + 1, k] = value
        gathered[k] = total


@compiled
def follow(rates, ones, settled_from, knots, medium, at_knots, time, piece, out, change, course):
    """Look at what :func:`decay` follows between its knots.

    Parameters
    ----------
    rates, ones : (modes,)
        As of :func:`decay`.
    settled_from : float
        Modes that decay faster [1/s] count as settled: without what lasts but an instant after a jump.
    knots, medium, at_knots : (m,), (m,), (m, modes)
        As of :func:`decay`.
    time, piece : (n,)
        When to look [s], and behind which knot each of these times lies.
    out, change : (n, modes)
        Receive the modes' coordinates and their rates of change.
    course : (n, 2)
        Receives the medium's temperature [degC] and its rate [K/s].
    """
    for i in range(time.size):
        p = piece[i]
        length = knots[p + 1] - knots[p]
        since, climb = time[i] - knots[p], medium[p + 1] - medium[p]
        course[i, 0], course[i, 1] = medium[p] + since / length * climb, climb / length
        slope = climb / length
        for k in range(rates.size):
            rate = rates[k]
            if rate > settled_from:
                value = -slope * ones[k] / rate
            else:
                x = rate * since
                kept = math.exp(-x)
                # the time that the medium's slope has acted for: (1 - e^-x)/rate
                acted = (1.0 - kept) / rate if x > 1e-3 else since * (1.0 - x / 2.0 + x * x / 6.0)
                value = kept * at_knots[p, k] - acted * slope * ones[k]
            out[i, k], change[i, k] = value, -rate * value - slope * ones[k]


@compiled
def carry(fields, rows, columns, factor, first_r, along_r, first_z, along_z, out):
    """Interpolate fields to a finer grid and add them, times a factor, to ``out`` (m, A, B).

    Parameters
    ----------
    fields : (m, ., .)
        Of the coarser grid, or of one that has its nodes among its own.
    rows, columns : (a,), (b,) of int
        Where the coarser grid's nodes stand among those of ``fields``.
    factor : float
    first_r, along_r, first_z, along_z : (A,), (A, k), (B,), (B, l)
        Weights each way, no more than four, from a first node of the coarser grid on.
    """
    width = along_z.shape[1]
    # nodes in common are copied, those between them summed; numbers without sign, as none is looked at from behind
    source, copied = np.empty(first_z.size, dtype=np.uint64), np.empty(first_z.size, dtype=np.uint64)
    around, summed = np.empty((first_z.size, 4), dtype=np.uint64), np.empty(first_z.size, dtype=np.uint64)
    weights = np.zeros((first_z.size, 4))
    common, others = 0, 0
    for j in range(first_z.size):
        if along_z[j].max() == 1.0:
            source[common], copied[common] = columns[first_z[j] + along_z[j].argmax()], j
            common += 1
            continue
        for k in range(4):
            around[others, k] = columns[first_z[j] + min(k, width - 1)]
            if k < width:
                weights[others, k] = factor * along_z[j, k]
        summed[others] = j
        others += 1
    between = np.empty((rows.size, first_z.size))
    for m in range(fields.shape[0]):
        for i in range(rows.size):
            old, row = fields[m, rows[i]], between[i]
            for q in range(common):
                row[copied[q]] = factor * old[source[q]]
            for q in range(others):
                row[summed[q]] = (
                    weights[q, 0] * old[around[q, 0]]
                    + weights[q, 1] * old[around[q, 1]]
                    + weights[q, 2] * old[around[q, 2]]
                    + weights[q, 3] * old[around[q, 3]]
                )
        for i in range(first_r.size):
            new = out[m, i]
            for k in range(along_r.shape[1]):
                weight = along_r[i, k]
                if weight != 0.0:
                    row = between[first_r[i] + k]
                    for j in range(new.size):
                        new[j] += weight * row[j]


@compiled
def carry_to(fields, first_r, along_r, first_z, along_z, rows, columns, out):
    """Interpolate fields (m, a, b) to some nodes of a finer grid, by their numbers (p,): ``out`` (m, p)."""
    for m in range(fields.shape[0]):
        for p in range(rows.size):
            i, j = rows[p], columns[p]
            total = 0.0
            for k in range(along_r.shape[1]):
                part = 0.0
                for q in range(along_z.shape[1]):
                    part += along_z[j, q] * fields[m, first_r[i] + k, first_z[j] + q]
                total += along_r[i, k] * part
            out[m, p] = total
