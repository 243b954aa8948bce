# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops of fits between nodes. Arrays and numbers only."""

from __future__ import annotations

import numpy as np

from thermsim.solve.compiled import compiled

#: Places each way that are tried in the first round and in later ones, and rounds: the first goes on with a quarter
#: of what it looked at, each later one with half, so that they end at 1e-4 of it.
TRIED, TRIED_LATER, ROUNDS = 9, 5, 12


@compiled
def scale(nodes, scales):
    """Put into ``scales`` (k,) one over the product of each node's distances to the others."""
    for p in range(nodes.size):
        product = 1.0
        for q in range(nodes.size):
            if q != p:
                product *= nodes[p] - nodes[q]
        scales[p] = 1.0 / product


@compiled
def weigh(nodes, scales, x, weights):
    """Put the weights (k,) of the polynomial through nodes (k,) at x into ``weights``; ``scales``: :func:`scale`."""
    for p in range(nodes.size):
        weight = scales[p]
        for q in range(nodes.size):
            if q != p:
                weight *= x - nodes[q]
        weights[p] = weight


@compiled
def window(lines, index, low, stop, width, mirrored, numbers, places):
    """Put the numbers (width,) of the nodes round one of a line, and their places, into ``numbers`` and ``places``.

    The nodes are those from ``low`` up to ``stop``; beyond an axis at ``low`` some are ``mirrored``.
    """
    first = min(max(index - width // 2, low - mirrored), stop - width)
    for k in range(width):
        number = first + k
        if number < low:
            numbers[k] = 2 * low - number
            places[k] = -lines[numbers[k]]
        else:
            numbers[k] = number
            places[k] = lines[number]


@compiled
def between(lines, bounds, mirrored, places, numbers, weights):
    """Stencils of a field along a line: ``numbers`` (n, k) of the nodes round each place, and their ``weights``.

    ``lines`` are all nodes of the line [m], of which those from ``bounds[0]`` up to ``bounds[1]`` serve, with some
    ``mirrored`` beyond the first; ``places`` (n,) [m].
    """
    width = numbers.shape[1]
    around, scales = np.empty(width), np.empty(width)
    for n in range(places.size):
        # beyond the axis the polynomial goes by the node before it
        index = bounds[0] if mirrored == 0 else bounds[0] - 1
        while index < bounds[1] - 1 and lines[index + 1] < places[n]:
            index += 1
        window(lines, index, bounds[0], bounds[1], width, mirrored, numbers[n], around)
        scale(around, scales)
        weigh(around, scales, places[n], weights[n])


@compiled
def lowest(r, z, fields, which, nodes, bounds, mirrored, best, rows, columns, along_r, along_z):
    """Find the least value of fields near nodes, on polynomials in r and z, by trying ever narrower lattices.

    Parameters
    ----------
    r, z : (n_r,), (n_z,)
        Lines of the grid [m].
    fields : (m, n_r, n_z)
        Node values.
    which, nodes : (n,) and (n, 2) of int
        For each search its field and its node.
    bounds : (4,) of int
        First row and the row after the last, first column and the column after the last, of the nodes that serve.
    mirrored : int
        Nodes added beyond the first row, where it is the axis.
    best : (n, 3)
        Receives r, z and the value; within one interval of the node.
    rows, columns : (n, k), (n, l) of int
        Receive the numbers of the nodes that the polynomial goes through.
    along_r, along_z : (n, k), (n, l)
        Receive their weights at the place found.
    """
    k, width = rows.shape[1], columns.shape[1]
    places_r, places_z = np.empty(k), np.empty(width)
    patch, tried, across = np.empty((k, width)), np.empty((TRIED, width)), np.empty(width)
    weights, scales_r, scales_z = np.empty(k), np.empty(k), np.empty(width)
    for n in range(which.size):
        i, j = nodes[n, 0], nodes[n, 1]
        window(r, i, bounds[0], bounds[1], k, mirrored, rows[n], places_r)
        window(z, j, bounds[2], bounds[3], width, 0, columns[n], places_z)
        scale(places_r, scales_r)
        scale(places_z, scales_z)
        for a in range(k):
            for b in range(width):
                patch[a, b] = fields[which[n], rows[n, a], columns[n, b]]
        low_r, high_r = r[max(i - 1, bounds[0])], r[min(i + 1, bounds[1] - 1)]
        low_z, high_z = z[max(j - 1, bounds[2])], z[min(j + 1, bounds[3] - 1)]
        for attempt in range(ROUNDS):
            count = TRIED if attempt == 0 else TRIED_LATER
            step_r, step_z = (high_r - low_r) / (count - 1), (high_z - low_z) / (count - 1)
            for b in range(count):
                weigh(places_z, scales_z, low_z + b * step_z, tried[b])
            least, at_r, at_z = np.inf, low_r, low_z
            for a in range(count):
                weigh(places_r, scales_r, low_r + a * step_r, weights)
                for q in range(width):
                    across[q] = 0.0
                for p in range(k):
                    for q in range(width):
                        across[q] += weights[p] * patch[p, q]
                for b in range(count):
                    value = 0.0
                    for q in range(width):
                        value += tried[b, q] * across[q]
                    if value < least:
                        least, at_r, at_z = value, low_r + a * step_r, low_z + b * step_z
            low_r, high_r = max(low_r, at_r - step_r), min(high_r, at_r + step_r)
            low_z, high_z = max(low_z, at_z - step_z), min(high_z, at_z + step_z)
        if mirrored > 0 and at_r < 1e-4 * r[1]:
            at_r = 0.0  # fields are level across the axis: what is found within the last lattice of it lies on it
        best[n, 0], best[n, 1], best[n, 2] = at_r, at_z, least
        weigh(places_r, scales_r, at_r, along_r[n])
        weigh(places_z, scales_z, at_z, along_z[n])


@compiled
def coldest(fields, inside, nodes, least):
    """Put the node with the least value of each field (m, n_r, n_z) among those inside into ``nodes`` (m, 2).

    ``inside`` (n_r, n_z) of bool; ``least`` (m,) receives the values.
    """
    for m in range(fields.shape[0]):
        least[m] = np.inf
        for i in range(inside.shape[0]):
            for j in range(inside.shape[1]):
                if inside[i, j] and fields[m, i, j] < least[m]:
                    least[m] = fields[m, i, j]
                    nodes[m, 0], nodes[m, 1] = i, j


@compiled
def extent(values, most, inside, r, z, volume, bounds):
    """Bound and measure a region of a lattice up to where its values, linear between the places, reach ``most``.

    Parameters
    ----------
    values, r, z, volume : (n, m)
        Values, places [m], and the volumes that the places stand for.
    most : float
        The value at the region's edge.
    inside : (n, m) of bool
        The region.
    bounds : (4,)
        Receives the least and the largest r, and z.

    Returns
    -------
    float
        Volume; places at the edge count as far as they are below the value.
    """
    bounds[0], bounds[1], bounds[2], bounds[3] = np.inf, -np.inf, np.inf, -np.inf
    total = 0.0
    high_i, high_j = values.shape[0] - 1, values.shape[1] - 1
    for i in range(high_i + 1):
        for j in range(high_j + 1):
            near = False
            for a in range(max(i - 1, 0), min(i + 2, high_i + 1)):
                for b in range(max(j - 1, 0), min(j + 2, high_j + 1)):
                    near = near or inside[a, b]
            if not near:
                continue
            a, b, c, d = max(i - 1, 0), min(i + 1, high_i), max(j - 1, 0), min(j + 1, high_j)
            slope = abs(values[b, j] - values[a, j]) / (b - a) + abs(values[i, d] - values[i, c]) / (d - c)
            covered = 0.5 + (most - values[i, j]) / max(slope, 1e-300)
            total += min(max(covered, 0.0), 1.0) * volume[i, j]
            if not inside[i, j]:
                continue
            for way in range(5):
                a, b = i, j
                if way == 1:
                    a = max(i - 1, 0)
                elif way == 2:
                    a = min(i + 1, high_i)
                elif way == 3:
                    b = max(j - 1, 0)
                elif way == 4:
                    b = min(j + 1, high_j)
                part = 0.0
                if not inside[a, b]:
                    part = (most - values[i, j]) / max(values[a, b] - values[i, j], 1e-300)
                    part = min(max(part, 0.0), 1.0)
                here_r, here_z = r[i, j] + part * (r[a, b] - r[i, j]), z[i, j] + part * (z[a, b] - z[i, j])
                bounds[0], bounds[1] = min(bounds[0], here_r), max(bounds[1], here_r)
                bounds[2], bounds[3] = min(bounds[2], here_z), max(bounds[3], here_z)
    return total


@compiled
def connected(lies, i, j):
    """The places (n, m) of those that lie in a region that are reached from one of them, over sides and corners."""
    reached = np.zeros(lies.shape, dtype=np.bool_)
    waiting = np.empty((lies.size, 2), dtype=np.int64)
    waiting[0, 0], waiting[0, 1], reached[i, j], count = i, j, True, 1
    while count > 0:
        count -= 1
        a, b = waiting[count, 0], waiting[count, 1]
        for p in range(max(a - 1, 0), min(a + 2, lies.shape[0])):
            for q in range(max(b - 1, 0), min(b + 2, lies.shape[1])):
                if lies[p, q] and not reached[p, q]:
                    reached[p, q] = True
                    waiting[count, 0], waiting[count, 1] = p, q
                    count += 1
    return reached
