# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops that order a large grid's nodes by nested dissection. Arrays and numbers only.

A line of nodes cuts the grid in two, lines cut the halves, and so on down to small patches; each line comes after
what it parts. Every line or patch is a front: its own nodes, the pivots, and beside them the rows, the later nodes
that it is coupled to once all before it are gone. Fronts come in postorder, and places of nodes go by them. To the
compiled loops fronts are (order, first, rows_at, rows, into, offset, below, room): see :func:`dissect` and
:func:`structure`.

Source: A. George, "Nested dissection of a regular finite element mesh", SIAM Journal on Numerical Analysis 10 (1973)
345-363 (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled

#: A line is a cut if no more than this part of the nodes lies on one side of it; the shortest such line is taken.
LARGER_PART = 0.6


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
def wait(waiting, depth, low, high, left, right, parent):
    """Put a part of the lattice, and the front above it, on top of those that wait; how many there are then."""
    waiting[depth, 0], waiting[depth, 1], waiting[depth, 2], waiting[depth, 3] = low, high, left, right
    waiting[depth, 4] = parent
    return depth + 1


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
    waiting = np.empty((256, 5), dtype=np.int64)  # the larger part has at most 0.6 of the nodes: 64 deep is plenty
    depth, count, end = wait(waiting, 0, 0, rows, 0, columns, -1), 0, n
    # from the last front to the first: each before those that it is above
    while depth > 0:
        depth -= 1
        low, high, left, right = waiting[depth, 0], waiting[depth, 1], waiting[depth, 2], waiting[depth, 3]
        whole = table[high, right] - table[low, right] - table[high, left] + table[low, left]
        if whole == 0:
            continue
        ends[count], above[count] = end, waiting[depth, 4]
        patch = whole <= most
        across, line = (True, low) if patch else best_cut(table, low, high, left, right)
        for i in range(low if patch or not across else line, high if patch or not across else line + 1):
            for j in range(left if patch or across else line, right if patch or across else line + 1):
                if number[i, j] >= 0:
                    end -= 1
                    order[end] = number[i, j]
        if not patch:
            if across:
                depth = wait(waiting, depth, low, line, left, right, count)
                depth = wait(waiting, depth, line + 1, high, left, right, count)
            else:
                depth = wait(waiting, depth, low, high, left, line, count)
                depth = wait(waiting, depth, low, high, line + 1, right, count)
        count += 1
    first, parents = np.empty(count + 1, dtype=np.int64), np.empty(count, dtype=np.int64)
    first[0] = 0
    for f in range(count):
        first[count - f] = ends[f]
        parents[count - 1 - f] = count - 1 - above[f] if above[f] >= 0 else -1
    return order, first, parents


@compiled
def sort(values, begin, stop):
    """Sort whole numbers in place between two places, halving the gap (Shell)."""
    gap = (stop - begin) // 2
    while gap > 0:
        for i in range(begin + gap, stop):
            value, k = values[i], i
            while k >= begin + gap and values[k - gap] > value:
                values[k] = values[k - gap]
                k -= gap
            values[k] = value
        gap = 1 if gap == 2 else int(gap / 2.2)


@compiled
def resized(values, kept, size):
    """A longer or shorter array of whole numbers with the first few kept."""
    out = np.empty(size, dtype=np.int64)
    for k in range(kept):
        out[k] = values[k]
    return out


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
    below, spot = np.empty(count, dtype=np.int64), np.empty(n, dtype=np.int64)
    seen = np.zeros(n, dtype=np.int64)  # by which front last, and one
    held = room = 0
    for f in range(count):
        begin, last = first[f], first[f + 1]
        at = rows_at[f]
        # as many as there can be: the neighbours of its pivots, and the rows of what is below
        most = at + 8 * (last - begin)
        below[f] = 1
        c, left = f - 1, 0
        while c >= 0 and parent[c] == f:
            most += rows_at[c + 1] - rows_at[c]
            left += (rows_at[c + 1] - rows_at[c]) ** 2
            below[f] += below[c]
            c -= below[c]
        if most > rows.size:
            rows, into = resized(rows, at, 2 * most), resized(into, at, 2 * most)
        stop = at
        for k in range(begin, last):
            i, j = lattice[order[k], 0], lattice[order[k], 1]
            for a in range(max(i - 1, 0), min(i + 2, number.shape[0])):
                for b in range(max(j - 1, 0), min(j + 2, number.shape[1])):
                    if number[a, b] >= 0 and (diagonals or a == i or b == j):
                        other = place[number[a, b]]
                        if other >= last and seen[other] != f + 1:
                            seen[other] = f + 1
                            rows[stop] = other
                            stop += 1
        c = f - 1
        while c >= 0 and parent[c] == f:
            for k in range(rows_at[c], rows_at[c + 1]):
                other = rows[k]
                if other >= last and seen[other] != f + 1:
                    seen[other] = f + 1
                    rows[stop] = other
                    stop += 1
            c -= below[c]
        sort(rows, at, stop)
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
    stop = rows_at[count]
    return rows_at, resized(rows, stop, stop), resized(into, stop, stop), offset, below, room


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
