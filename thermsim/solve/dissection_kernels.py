# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of a Cholesky factorisation by nested dissection, for large grids. Arrays and numbers only.

A line of nodes cuts the grid in two, lines cut the halves, and so on down to small patches; each line comes after what
it parts. Every line or patch is a front: its own nodes, the pivots, and beside them the rows, the later nodes that it is
coupled to once all before it are gone. A front's part of the factor U (U^T U = K) is a dense block (pivots, pivots +
rows) by rows, the diagonal stored inverted; what it leaves to its rows goes on a stack to the front above it.
Fronts come in postorder, and places of nodes go by them.

Source: A. George, "Nested dissection of a regular finite element mesh", SIAM Journal on Numerical Analysis 10 (1973)
345-363; I. S. Duff and J. K. Reid, "The multifrontal solution of indefinite sparse symmetric linear equations", ACM
Transactions on Mathematical Software 9 (1983) 302-325 (both from memory).
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.kernels import compiled

#: A line is a cut if no more than this part of the nodes lies on one side of it; the shortest such line is taken.
LARGER_PART = 0.6
#: Columns of a tile and rows of a panel that are worked on at a time: together they stay in the nearer caches.
TILE, PANEL = 512, 32


@compiled
def best_cut(table, low, high, left, right):
    """Where to cut the nodes in rows low ... high - 1 and columns left ... right - 1: (across rows, line).

    ``table`` holds how many nodes there are before each row and column.
    """
    whole = table[high, right] - table[low, right] - table[high, left] + table[low, left]
    found_across, found_line, found_cost = True, low, math.inf
    for across in (True, False):
        for line in range(low if across else left, high if across else right):
            if across:
                before = table[line, right] - table[low, right] - table[line, left] + table[low, left]
                upto = table[line + 1, right] - table[low, right] - table[line + 1, left] + table[low, left]
            else:
                before = table[high, line] - table[low, line] - table[high, left] + table[low, left]
                upto = table[high, line + 1] - table[low, line + 1] - table[high, left] + table[low, left]
            larger = max(before, whole - upto)
            # of lines as short as each other the one in the middle
            cost = (upto - before) * (1.0 + larger / whole)
            if larger <= LARGER_PART * whole and cost < found_cost:
                found_across, found_line, found_cost = across, line, cost
    return found_across, found_line


@compiled
def dissect(number, most):
    """Cut the nodes of a lattice until no patch has more than ``most`` of them.

    Parameters
    ----------
    number : (rows, columns) of int
        Numbers of the nodes, -1 where there is none.
    most : int

    Returns
    -------
    order : (n,) of int
        The number of the node at each place.
    first : (fronts + 1,) of int
        Place of each front's first pivot.
    parent : (fronts,) of int
        The front above each, -1 for the last.
    """
    rows, columns = number.shape
    table = np.zeros((rows + 1, columns + 1), dtype=np.int64)
    for i in range(rows):
        for j in range(columns):
            there = 1 if number[i, j] >= 0 else 0
            table[i + 1, j + 1] = table[i, j + 1] + table[i + 1, j] - table[i, j] + there
    n = table[rows, columns]
    order = np.empty(n, dtype=np.int64)
    ends, above = np.empty(2 * n + 1, dtype=np.int64), np.empty(2 * n + 1, dtype=np.int64)
    waiting = np.empty((256, 5), dtype=np.int64)  # the larger half has at most 0.6 of the nodes: 64 deep is plenty
    waiting[0] = 0, rows, 0, columns, -1
    depth, count, end = 1, 0, n
    # from the last front to the first: each before those that it is above
    while depth > 0:
        depth -= 1
        low, high, left, right, parent = waiting[depth]
        whole = table[high, right] - table[low, right] - table[high, left] + table[low, left]
        if whole == 0:
            continue
        ends[count], above[count] = end, parent
        patch = whole <= most
        across, line = (True, low) if patch else best_cut(table, low, high, left, right)
        for i in range(low if patch or not across else line, high if patch or not across else line + 1):
            for j in range(left if patch or across else line, right if patch or across else line + 1):
                if number[i, j] >= 0:
                    end -= 1
                    order[end] = number[i, j]
        if not patch:
            if across:
                waiting[depth] = low, line, left, right, count
                waiting[depth + 1] = line + 1, high, left, right, count
            else:
                waiting[depth] = low, high, left, line, count
                waiting[depth + 1] = low, high, line + 1, right, count
            depth += 2
        count += 1
    first, parents = np.empty(count + 1, dtype=np.int64), np.empty(count, dtype=np.int64)
    first[0] = 0
    for f in range(count):
        first[count - f] = ends[f]
        parents[count - 1 - f] = count - 1 - above[f] if above[f] >= 0 else -1
    return order, first, parents


@compiled
def structure(number, order, first, parent, diagonals):
    """Which rows each front has, and where they are in the front above it.

    Parameters
    ----------
    number, order, first, parent
        As of :func:`dissect`.
    diagonals : bool
        Whether nodes are coupled to those diagonally across too.

    Returns
    -------
    rows_at : (fronts + 1,) of int
        Where each front's rows begin.
    rows : (r,) of int
        Places of the rows, growing within a front.
    into : (r,) of int
        Which of the pivots and rows of the front above each row is.
    offset : (fronts + 1,) of int
        Where each front's part of the factor begins.
    below : (fronts,) of int
        How many fronts end with it: itself and all below.
    room : int
        The most that the stack holds at a time.
    """
    n, count = order.size, parent.size
    lattice = np.empty((n, 2), dtype=np.int64)
    for i in range(number.shape[0]):
        for j in range(number.shape[1]):
            if number[i, j] >= 0:
                lattice[number[i, j], 0], lattice[number[i, j], 1] = i, j
    place = np.empty(n, dtype=np.int64)
    for k in range(n):
        place[order[k]] = k
    rows_at, offset = np.zeros(count + 1, dtype=np.int64), np.zeros(count + 1, dtype=np.int64)
    rows, into = np.empty(4 * n + 64, dtype=np.int64), np.empty(4 * n + 64, dtype=np.int64)
    below, spot = np.ones(count, dtype=np.int64), np.empty(n, dtype=np.int64)
    seen = np.full(n, -1)
    held = room = 0
    for f in range(count):
        begin, last = first[f], first[f + 1]
        at = rows_at[f]
        # as many as there can be: the neighbours of its pivots, and the rows of what is below
        most = at + 8 * (last - begin)
        c, left = f - 1, 0
        while c >= 0 and parent[c] == f:
            most += rows_at[c + 1] - rows_at[c]
            left += (rows_at[c + 1] - rows_at[c]) ** 2
            below[f] += below[c]
            c -= below[c]
        if most > rows.size:
            more_rows, more_into = np.empty(2 * most, dtype=np.int64), np.empty(2 * most, dtype=np.int64)
            more_rows[:at], more_into[:at] = rows[:at], into[:at]
            rows, into = more_rows, more_into
        stop = at
        for k in range(begin, last):
            i, j = lattice[order[k], 0], lattice[order[k], 1]
            for a in range(max(i - 1, 0), min(i + 2, number.shape[0])):
                for b in range(max(j - 1, 0), min(j + 2, number.shape[1])):
                    if number[a, b] >= 0 and (diagonals or a == i or b == j):
                        other = place[number[a, b]]
                        if other >= last and seen[other] != f:
                            seen[other] = f
                            rows[stop] = other
                            stop += 1
        c = f - 1
        while c >= 0 and parent[c] == f:
            for k in range(rows_at[c], rows_at[c + 1]):
                other = rows[k]
                if other >= last and seen[other] != f:
                    seen[other] = f
                    rows[stop] = other
                    stop += 1
            c -= below[c]
        rows[at:stop] = np.sort(rows[at:stop])
        pivots, beside = last - begin, stop - at
        for k in range(pivots):
            spot[begin + k] = k
        for k in range(beside):
            spot[rows[at + k]] = pivots + k
        c = f - 1
        while c >= 0 and parent[c] == f:
            for k in range(rows_at[c], rows_at[c + 1]):
                into[k] = spot[rows[k]]
            c -= below[c]
        rows_at[f + 1] = stop
        offset[f + 1] = offset[f] + pivots * (pivots + beside)
        room = max(room, held + beside * beside)
        held += beside * beside - left
    return rows_at, rows[: rows_at[count]].copy(), into[: rows_at[count]].copy(), offset, below, room


@compiled
def positions(before, after, fronts):
    """Where in the factor the diagonal (n,) of each node and the coupling (p,) of each pair of nodes stand."""
    order, first, rows_at, rows, _, offset, _, _ = fronts
    n = order.size
    place, of = np.empty(n, dtype=np.int64), np.empty(n, dtype=np.int64)
    diagonal, coupling = np.empty(n, dtype=np.int64), np.empty(before.size, dtype=np.int64)
    for f in range(first.size - 1):
        size = first[f + 1] - first[f] + rows_at[f + 1] - rows_at[f]
        for k in range(first[f], first[f + 1]):
            place[order[k]], of[k] = k, f
            diagonal[order[k]] = offset[f] + (k - first[f]) * (size + 1)
    for pair in range(before.size):
        one, other = place[before[pair]], place[after[pair]]
        early, late = min(one, other), max(one, other)
        f = of[early]
        begin, last, at = first[f], first[f + 1], rows_at[f]
        size = last - begin + rows_at[f + 1] - at
        if late < last:
            column = late - begin
        else:
            low, high = at, rows_at[f + 1] - 1
            while low < high:
                middle = (low + high) // 2
                if rows[middle] < late:
                    low = middle + 1
                else:
                    high = middle
            column = last - begin + low - at
        coupling[pair] = offset[f] + (early - begin) * size + column
    return diagonal, coupling


@compiled
def subtract(block, begin, stop, left, out, shift):
    """Take from the upper triangle of ``out`` what the block's rows from ``begin`` to ``stop`` make.

    ``out[i, i + shift + j]`` loses the sum over k of ``block[k, left + i] block[k, left + i + j]``, j = 0 ... Four rows
    of each at a time, so that what is fetched serves sixteen products. Below the diagonal ``out`` means nothing.
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
    pivots = block.shape[0]
    for top in range(0, pivots, PANEL):
        bottom = min(top + PANEL, pivots)
        if top > 0:
            subtract(block, 0, top, top, block[top:bottom], top)
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

    ``factors`` holds the matrix at the :func:`positions` and 0 elsewhere; ``fronts`` are (order, first, rows_at, rows,
    into, offset, below, room).
    """
    _, first, rows_at, _, into, offset, below, room = fronts
    stack = np.empty(room)
    held = 0
    for f in range(below.size):
        pivots, beside = first[f + 1] - first[f], rows_at[f + 1] - rows_at[f]
        block = factors[offset[f] : offset[f + 1]].reshape((pivots, pivots + beside))
        left_over = stack[held : held + beside * beside].reshape((beside, beside))
        for i in range(beside):
            left_over[i, i:] = 0.0
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
        subtract(block, 0, pivots, pivots, left_over, 0)
        if begin < held:
            stack[begin : begin + beside * beside] = stack[held : held + beside * beside].copy()
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
            local[:pivots] = z[begin : begin + pivots]
            local[pivots:] = 0.0
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
