# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of a reduced basis: how it grows, decays, and passes between grids. Arrays and numbers only."""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled, inlined
from thermsim.solve.matrix import front_kernels, lane_kernels
from thermsim.solve.matrix.lane_kernels import LANES


@inlined
def remove(vectors, count, new):
    """Take from a vector what it has in common with the first ``count``; returns the square of what is left.

    Four vectors at a time, so that the new one is fetched less often.
    """
    for k in range(0, count - count % 4, 4):
        a, b, c, d = vectors[k], vectors[k + 1], vectors[k + 2], vectors[k + 3]
        of_a, of_b, of_c, of_d = 0.0, 0.0, 0.0, 0.0
        for i in range(new.size):
            value = new[i]
            of_a += a[i] * value
            of_b += b[i] * value
            of_c += c[i] * value
            of_d += d[i] * value
        for i in range(new.size):
            new[i] -= of_a * a[i] + of_b * b[i] + of_c * c[i] + of_d * d[i]
    for k in range(count - count % 4, count):
        old = vectors[k]
        dot = 0.0
        for i in range(new.size):
            dot += old[i] * new[i]
        for i in range(new.size):
            new[i] -= dot * old[i]
    left = 0.0
    for i in range(new.size):
        left += new[i] * new[i]
    return left


@compiled
def grow(factors, banded, dissected, root, heads, vectors, count, begun):
    """Let a rational Krylov basis grow by rounds: of every head (C^-1 K + shift)^-1 times it, made orthonormal.

    Each start goes its own way with each shift, so that a round's solutions need not wait for each other. What they
    span is the same as if each shift went on from the last one's solution.

    Parameters
    ----------
    factors, banded, dissected
        Cholesky factors of K + shift C for each shift, see
        :func:`thermsim.solve.matrix.matrix_kernels.factorise_shifted`.
    root : (n,)
        Square roots of C; vectors are C^(1/2) times fields.
    heads : (p, m) of int
        Which vectors to go on from, for each start and shift; replaced by the new ones, or by the same where nothing
        new came out.
    vectors : (room, n)
        The basis by rows; ``count`` of them are used. There must be room for as many more as there are heads, in
        each round.
    begun : (rounds,) of int
        Receives how many vectors there were as each round began.

    Returns
    -------
    count : int
        Vectors now.
    """
    starts, shifts, n = heads.shape[0], heads.shape[1], root.size
    for turn in range(begun.size):
        begun[turn] = count
        if banded is not None:
            right = np.empty((starts, n, LANES))
            for group in range(factors.shape[0]):
                first = group * LANES
                for p in range(starts):
                    for lane in range(LANES):
                        head = vectors[heads[p, min(first + lane, shifts - 1)]]
                        for i in range(n):
                            right[p, i, lane] = root[i] * head[i]
                lane_kernels.solve(factors[group], banded[1], right)
                for shift in range(first, min(first + LANES, shifts)):
                    for p in range(starts):
                        count = take_in(vectors, count, right[p, :, shift - first], root, heads, p, shift)
        if dissected is not None:
            ahead = np.empty((starts, n))
            for shift in range(shifts):
                for p in range(starts):
                    head = vectors[heads[p, shift]]
                    for i in range(n):
                        ahead[p, i] = root[i] * head[i]
                front_kernels.solve(factors[shift], dissected[4], ahead)
                for p in range(starts):
                    count = take_in(vectors, count, ahead[p], root, heads, p, shift)
    return count


@compiled
def take_in(vectors, count, solved, root, heads, p, shift):
    """Make a solution (n,) the next vector of a basis if it holds anything new; returns how many there are then."""
    new = vectors[count]
    before = 0.0
    for i in range(new.size):
        new[i] = solved[i] * root[i]
        before += new[i] * new[i]
    after = before
    for _ in range(3):  # twice is enough, but for vectors that hold hardly anything new
        last = after
        after = remove(vectors, count, new)
        if after > 0.25 * last:
            break
    if after > 1e-22 * before:
        scale = 1.0 / math.sqrt(after)
        for i in range(new.size):
            new[i] *= scale
        heads[p, shift] = count
        count += 1
    return count


@compiled
def project(before, after, conductance, exchange, root, vectors, flows):
    """Put C^(-1/2) K C^(-1/2) times the vectors (m, n) into ``flows`` (m, n); K by pairs of nodes."""
    m, n = vectors.shape
    x, flow, over = np.empty(n * LANES), np.empty(n * LANES), 1.0 / root
    for first in range(0, m, LANES):
        for lane in range(LANES):
            vector = vectors[min(first + lane, m - 1)]
            for i in range(n):
                x[i * LANES + lane] = vector[i] * over[i]
        for i in range(n):
            for lane in range(LANES):
                flow[i * LANES + lane] = exchange[i] * x[i * LANES + lane]
        lane_kernels.conduct(before, after, conductance, x, flow)
        for lane in range(min(LANES, m - first)):
            along = flows[first + lane]
            for i in range(n):
                along[i] = flow[i * LANES + lane] * over[i]


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
