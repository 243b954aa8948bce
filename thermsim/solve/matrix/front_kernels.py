# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of a Cholesky factorisation by fronts, and of its solution. Arrays and numbers only.

A front's part of the factor U (U^T U = K) is a dense block (pivots, pivots + rows) by rows, the diagonal stored
inverted; what it leaves to its rows goes on a stack to the front above it.

Source: I. S. Duff and J. K. Reid, "The multifrontal solution of indefinite sparse symmetric linear equations", ACM
Transactions on Mathematical Software 9 (1983) 302-325 (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled

#: Columns of a tile and rows of a panel that are worked on at a time: together they stay in the nearer caches.
TILE, PANEL = 512, 32


@compiled
def subtract(block, begin, stop, left, out, shift):
    """Take from the upper triangle of ``out`` what the block's rows from ``begin`` to ``stop`` make.

    ``out[i, i + shift + j]`` loses the sum over k of ``block[k, left + i] block[k, left + i + j]``, j = 0 ... Four
    rows of each at a time, so that what is fetched serves sixteen products. Below the diagonal ``out`` means nothing.
    """
    rows, width = out.shape[0], out.shape[1] - shift
    fours, kept = stop - (stop - begin) % 4, rows - rows % 4
    for start in range(0, width, TILE):
        end = min(start + TILE, width)
        for i in range(0, min(kept, end), 4):
            low = max(start, i)
            a, b = out[i, shift + low : shift + end], out[i + 1, shift + low : shift + end]
            c, d = out[i + 2, shift + low : shift + end], out[i + 3, shift + low : shift + end]
            at = left + i
            for k in range(begin, fours, 4):
                x, y = block[k, left + low : left + end], block[k + 1, left + low : left + end]
                z, w = block[k + 2, left + low : left + end], block[k + 3, left + low : left + end]
                ax, ay, az, aw = block[k, at], block[k + 1, at], block[k + 2, at], block[k + 3, at]
                bx, by, bz, bw = block[k, at + 1], block[k + 1, at + 1], block[k + 2, at + 1], block[k + 3, at + 1]
                cx, cy, cz, cw = block[k, at + 2], block[k + 1, at + 2], block[k + 2, at + 2], block[k + 3, at + 2]
                dx, dy, dz, dw = block[k, at + 3], block[k + 1, at + 3], block[k + 2, at + 3], block[k + 3, at + 3]
                for j in range(a.size):
                    xj, yj, zj, wj = x[j], y[j], z[j], w[j]
                    a[j] -= ax * xj + ay * yj + az * zj + aw * wj
                    b[j] -= bx * xj + by * yj + bz * zj + bw * wj
                    c[j] -= cx * xj + cy * yj + cz * zj + cw * wj
                    d[j] -= dx * xj + dy * yj + dz * zj + dw * wj
            for k in range(fours, stop):
                x = block[k, left + low : left + end]
                ax, bx, cx, dx = block[k, at], block[k, at + 1], block[k, at + 2], block[k, at + 3]
                for j in range(a.size):
                    xj = x[j]
                    a[j] -= ax * xj
                    b[j] -= bx * xj
                    c[j] -= cx * xj
                    d[j] -= dx * xj
        for i in range(kept, min(rows, end)):
            low = max(start, i)
            a = out[i, shift + low : shift + end]
            for k in range(begin, stop):
                x, ax = block[k, left + low : left + end], block[k, left + i]
                for j in range(a.size):
                    a[j] -= ax * x[j]


@compiled
def eliminate_pivots(block):
    """Factor the rows of a front's block (pivots, pivots + rows) in place; False if it is not positive definite."""
    pivots, none = block.shape[0], np.int64(0)
    for top in range(0, pivots, PANEL):
        bottom = min(top + PANEL, pivots)
        if top > 0:
            subtract(block, none, top, top, block[top:bottom], top)
        for four in range(top, bottom, 4):
            stop = min(four + 4, bottom)
            if four > top:
                subtract(block, top, four, four, block[four:stop], four)
            for k in range(four, stop):
                row = block[k, k:]
                for q in range(four, k):
                    factor_q, other = block[q, k], block[q, k:]
                    for j in range(row.size):
                        row[j] -= factor_q * other[j]
                if not row[0] > 0.0:
                    return False
                scale = 1.0 / math.sqrt(row[0])
                for j in range(1, row.size):
                    row[j] *= scale
                row[0] = scale
    return True


@compiled
def add(from_below, into, block, left_over):
    """Add what a front below has left (its upper triangle) to the pivots' block and to what this one will leave."""
    pivots = block.shape[0]
    for i in range(into.size):
        row, at = from_below[i], into[i]
        if at < pivots:
            out = block[at]
            for j in range(i, into.size):
                out[into[j]] += row[j]
        else:
            out = left_over[at - pivots]
            for j in range(i, into.size):
                out[into[j] - pivots] += row[j]


@compiled
def factor(factors, fronts):
    """Replace a symmetric positive definite matrix by its Cholesky factor, in place; False if it is not so.

    ``factors`` holds the matrix at its positions and 0 elsewhere; ``fronts`` and positions are those of
    :mod:`thermsim.solve.matrix.dissection_kernels`.
    """
    _, first, rows_at, _, into, offset, below, room = fronts
    stack = np.empty(room)
    held = none = np.int64(0)  # of the type that all numbers have here: else there would be several versions
    for f in range(below.size):
        pivots, beside = first[f + 1] - first[f], rows_at[f + 1] - rows_at[f]
        block = factors[offset[f] : offset[f + 1]].reshape((pivots, pivots + beside))
        left_over = stack[held : held + beside * beside].reshape((beside, beside))
        for i in range(beside):
            for j in range(i, beside):
                left_over[i, j] = 0.0
        begin, c = held, f - 1
        while c > f - below[f]:
            size = rows_at[c + 1] - rows_at[c]
            begin -= size * size
            add(
                stack[begin : begin + size * size].reshape((size, size)),
                into[rows_at[c] : rows_at[c + 1]],
                block,
                left_over,
            )
            c -= below[c]
        if not eliminate_pivots(block):
            return False
        subtract(block, none, pivots, pivots, left_over, none)
        for k in range(beside * beside if begin < held else 0):
            stack[begin + k] = stack[held + k]
        held = begin + beside * beside
    return True


@compiled
def solve(factors, fronts, x):
    """Solve for each row of ``x`` (m, n) with the factor that :func:`factor` left, overwriting them."""
    order, first, rows_at, rows, _, offset, below, _ = fronts
    n, count = order.size, below.size
    y = np.empty(x.shape)
    for p in range(x.shape[0]):
        for k in range(n):
            y[p, k] = x[p, order[k]]
    largest = 0
    for f in range(count):
        largest = max(largest, first[f + 1] - first[f] + rows_at[f + 1] - rows_at[f])
    room = np.empty(largest)
    for f in range(count):
        begin, pivots, beside = first[f], first[f + 1] - first[f], rows_at[f + 1] - rows_at[f]
        size, at, own = pivots + beside, rows_at[f], rows[rows_at[f] : rows_at[f + 1]]
        local = room[:size]
        for p in range(x.shape[0]):
            z = y[p]
            for k in range(size):
                local[k] = z[begin + k] if k < pivots else 0.0
            for k in range(pivots):
                row = factors[offset[f] + k * size + k : offset[f] + (k + 1) * size]
                value = local[k] * row[0]
                rest = local[k:]
                for j in range(1, row.size):
                    rest[j] -= value * row[j]
                z[begin + k] = value
            for k in range(beside):
                z[own[k]] += local[pivots + k]
    for f in range(count - 1, -1, -1):
        begin, pivots, beside = first[f], first[f + 1] - first[f], rows_at[f + 1] - rows_at[f]
        size, at = pivots + beside, rows_at[f]
        local = room[:size]
        for p in range(x.shape[0]):
            z = y[p]
            for k in range(beside):
                local[pivots + k] = z[rows[at + k]]
            for k in range(pivots - 1, -1, -1):
                row = factors[offset[f] + k * size + k : offset[f] + (k + 1) * size]
                rest = local[k:]
                dot = 0.0
                for j in range(1, row.size):
                    dot += row[j] * rest[j]
                value = (z[begin + k] - dot) * row[0]
                local[k] = value
                z[begin + k] = value
    for p in range(x.shape[0]):
        for k in range(n):
            x[p, order[k]] = y[p, k]
