# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""The compiled loops that lay out grids: node places, what the quadrilaterals add, weights from grid to grid.

Arrays and numbers only.
"""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled, inlined


@compiled
def layer_nodes(breaks, layer, finest, growth, most, thin, multiple):
    """Nodes of one layer, both ends included, at equal steps of the integral of 1/spacing.

    ``breaks`` (m + 1,) [m]; ``finest`` (m + 1,) the spacing at each of them [m]; ``most`` (k,) the largest at evenly
    spaced places of the layer [m]. More intervals than ``thin`` come in a whole ``multiple``.
    """
    low, high = breaks[layer], breaks[layer + 1]
    count = np.empty(most.size)
    count[0] = 0.0
    before = 0.0
    step = (high - low) / (most.size - 1)
    for q in range(most.size):
        x = low + q * step
        spacing = most[q]
        for k in range(breaks.size):
            spacing = min(spacing, finest[k] + growth * abs(x - breaks[k]))
        density = 1.0 / spacing
        if q > 0:
            count[q] = count[q - 1] + (before + density) / 2.0 * step
        before = density
    # a layer as thin as its neighbours' finest spacing is one interval; 0.99 keeps rounding from making it two
    intervals = max(1, int(math.ceil(0.99 * count[-1])))
    if intervals > thin:
        intervals = multiple * ((intervals + multiple - 1) // multiple)
    nodes = np.empty(intervals + 1)
    nodes[0], nodes[intervals] = low, high
    q = 1
    for n in range(1, intervals):
        wanted = n * (count[-1] / intervals)
        while count[q] < wanted:
            q += 1
        nodes[n] = low + step * (q - 1 + (wanted - count[q - 1]) / (count[q] - count[q - 1]))
    return nodes


@compiled
def shares(r, z, conducts, along_r, along_z, diagonals, volume):
    """Shares that each quadrilateral between nodes adds to conductances and capacities, per unit of its properties.

    Parameters
    ----------
    r, z : (n_r, n_z)
        Places of the nodes [m].
    conducts : (n_r - 1, n_z - 1) of bool
    along_r, along_z : (2, n_r - 1, n_z - 1)
        Receive the conductance over conductivity [m] between its lower two and its upper two corners; between its
        inner two and its outer two.
    diagonals : (2, n_r - 1, n_z - 1)
        Receives the same across its rising and its falling diagonal.
    volume : (4, n_r - 1, n_z - 1)
        Receives the part of it that belongs to each corner [m3].

    Returns
    -------
    i, j : int
        A node at which a quadrilateral that conducts is folded over itself; -1 if there is none.
    """
    for i in range(conducts.shape[0]):
        for j in range(conducts.shape[1]):
            middle_r = (r[i, j] + r[i + 1, j] + r[i, j + 1] + r[i + 1, j + 1]) / 4.0
            middle_z = (z[i, j] + z[i + 1, j] + z[i, j + 1] + z[i + 1, j + 1]) / 4.0
            for b in range(2):
                for a in range(2):
                    r0, z0 = r[i + a, j + b], z[i + a, j + b]
                    r1, z1 = r[i + 1 - a, j + b], z[i + 1 - a, j + b]
                    r2, z2 = r[i + a, j + 1 - b], z[i + a, j + 1 - b]
                    volume[a + 2 * b, i, j] = ring_volume(r0, z0, r1, z1, middle_r, middle_z, r2, z2)
                    if not conducts[i, j]:
                        continue
                    first_r, first_z, second_r, second_z = r1 - r0, z1 - z0, r2 - r0, z2 - z0
                    area = first_r * second_z - first_z * second_r
                    if a != b:
                        area = -area
                    if area <= 0.0:
                        return i + a, j + b
                    weight = math.pi / 2.0 / area
                    # the rings through which heat flows along each edge: half-way along r, a quarter of the way out
                    ring_r, ring_z = (r0 + r1) / 2.0, (3.0 * r0 + r1) / 4.0
                    mixed = -weight * math.sqrt(ring_r * ring_z) * (first_r * second_r + first_z * second_z)
                    along_r[b, i, j] += weight * ring_r * (second_r * second_r + second_z * second_z) + mixed
                    along_z[a, i, j] += weight * ring_z * (first_r * first_r + first_z * first_z) + mixed
                    diagonals[1 if a == b else 0, i, j] -= mixed
    return -1, -1


@inlined
def ring_volume(r0, z0, r1, z1, middle_r, middle_z, r2, z2):
    """Volume [m3] of the ring that a corner's part sweeps about the axis: 2 pi times the integral of r (exact).

    The part has the corner, the middles of its two edges, and the quadrilateral's middle as its own corners [m].
    """
    a_r, a_z, b_r, b_z = (r0 + r1) / 2.0, (z0 + z1) / 2.0 - z0, (r0 + r2) / 2.0, (z0 + z2) / 2.0 - z0
    m_z = middle_z - z0
    total = r0 * a_z * (r0 + a_r)
    total += (a_r * m_z - middle_r * a_z) * (a_r + middle_r)
    total += (middle_r * b_z - b_r * m_z) * (middle_r + b_r)
    total -= r0 * b_z * (b_r + r0)
    return math.pi / 3.0 * abs(total)


@compiled
def gather(shares_r, shares_z, volume, conductivity, heat, initial, along_r, along_z, capacity, content):
    """Add up what the quadrilaterals give their corners and edges.

    Parameters
    ----------
    shares_r, shares_z, volume
        As of :func:`shares`.
    conductivity, heat, initial : (n_r - 1, n_z - 1)
        Of each quadrilateral [W/mK], [J/m3K], [degC].
    along_r, along_z : (n_r - 1, n_z), (n_r, n_z - 1)
        Receive conductances between neighbours [W/K].
    capacity, content : (n_r, n_z)
        Receive heat capacities [J/K], and these times the temperature at the start [J].
    """
    for i in range(heat.shape[0]):
        for j in range(heat.shape[1]):
            for a in range(2):
                along_r[i, j + a] += conductivity[i, j] * shares_r[a, i, j]
                along_z[i + a, j] += conductivity[i, j] * shares_z[a, i, j]
                for b in range(2):
                    part = heat[i, j] * volume[a + 2 * b, i, j]
                    capacity[i + a, j + b] += part
                    content[i + a, j + b] += part * initial[i, j]


@compiled
def edges(r, z, conducts, outside, probe, side, base, lid, stick):
    """Add the areas that face the medium [m2] to each node, by where the surface faces.

    Parameters
    ----------
    r, z : (n_r, n_z)
        Places of the nodes [m].
    conducts, probe : (n_r - 1, n_z - 1) of bool
        Which quadrilaterals conduct, and which are part of a probe: its surfaces count as ``stick``.
    outside : (n_r + 1, n_z + 1) of bool
        Which quadrilaterals the medium fills, with a border of one all round.
    side, base, lid, stick : (n_r, n_z)
        Receive the areas.
    """
    for i in range(conducts.shape[0]):
        for j in range(conducts.shape[1]):
            if not conducts[i, j]:
                continue
            for end in range(2):
                if outside[i + 1, j + 2 * end]:
                    areas = stick if probe[i, j] else (lid if end else base)
                    band(r, z, i, j + end, i + 1, j + end, areas)
                if outside[i + 2 * end, j + 1]:
                    areas = stick if probe[i, j] else side
                    band(r, z, i + end, j, i + end, j + 1, areas)


@inlined
def band(r, z, i, j, k, m, areas):
    """Give each of two neighbouring nodes the area that its half of the edge between them sweeps about the axis."""
    length, middle = math.hypot(r[k, m] - r[i, j], z[k, m] - z[i, j]), (r[i, j] + r[k, m]) / 2.0
    areas[i, j] += math.pi * (r[i, j] + middle) * length / 2.0
    areas[k, m] += math.pi * (r[k, m] + middle) * length / 2.0


@compiled
def weigh(many, few, first, weights):
    """Weights of the polynomials, cubic in a node's number and layer by layer, that carry a field to a finer axis.

    Parameters
    ----------
    many, few : (n,) and (m,) of int
        Layer of each interval of the finer and of the coarser axis, growing.
    first : (n + 1,) of int
        Receives for each finer node the first coarser node that counts.
    weights : (n + 1, k)
        Receives the weights of that one and the next ones; k is 4, or all coarser nodes if these are fewer.
    """
    width = weights.shape[1]
    fine, coarse = 0, 0
    while fine < many.size:
        stop, end = fine, coarse
        while stop < many.size and many[stop] == many[fine]:
            stop += 1
        while end < few.size and few[end] == many[fine]:
            end += 1
        stencil = min(4, end - coarse + 1)
        for node in range(fine, stop + 1):
            number = coarse + (node - fine) * ((end - coarse) / (stop - fine))
            begin = min(max(int(math.floor(number)) - (stencil // 2 - 1), coarse), end + 1 - stencil)
            low = min(begin, few.size + 1 - width)
            first[node] = low
            for k in range(width):
                weights[node, k] = 0.0
            for k in range(stencil):
                weight = 1.0
                for q in range(stencil):
                    if q != k:
                        weight *= (number - begin - q) / (k - q)
                weights[node, begin - low + k] = weight
        fine, coarse = stop, end


@compiled
def couple(number, free, slow, fast, rising, falling, exchange, diagonal, before, after, conductance):
    """Set up a stage's equations: what flows between free nodes, and what leaves them otherwise.

    Parameters
    ----------
    number : (n_slow, n_fast) of int
        Numbers of the nodes, the fast direction's growing by one.
    free : (n_slow, n_fast) of bool
        Nodes that are not held at the medium's temperature.
    slow, fast : (n_slow - 1, n_fast), (n_slow, n_fast - 1)
        Conductances along the two directions [W/K].
    rising, falling : (n_slow - 1, n_fast - 1)
        The same across the quadrilaterals, from (i, j) to (i + 1, j + 1) and from (i, j + 1) to (i + 1, j).
    exchange : (n_slow, n_fast)
        With the medium [W/K]; what flows to held nodes is added, since these stand at the medium's temperature.
    diagonal : (n_slow, n_fast)
        Receives the sum of all that leaves a free node [W/K].
    before, after, conductance : (room,)
        Receive pairs of free nodes that are coupled, and their conductance.

    Returns
    -------
    int
        How many pairs there are.
    """
    count = 0
    for i in range(number.shape[0]):
        for j in range(number.shape[1]):
            exchange[i, j] = exchange[i, j] if free[i, j] else 0.0
            diagonal[i, j] = exchange[i, j]
    for i in range(number.shape[0]):
        for j in range(number.shape[1]):
            for way in range(4):
                a, b, c, d = i, j, i + 1, j
                if way == 0 and i < slow.shape[0]:
                    along = slow[i, j]
                elif way == 1 and j < fast.shape[1]:
                    c, d, along = i, j + 1, fast[i, j]
                elif way == 2 and i < rising.shape[0] and j < rising.shape[1]:
                    d, along = j + 1, rising[i, j]
                elif way == 3 and i < falling.shape[0] and j < falling.shape[1]:
                    b, along = j + 1, falling[i, j]
                else:
                    continue
                # rectangles conduct nothing along their diagonals: no room is kept for it
                both = free[a, b] and free[c, d] and along != 0.0
                if free[a, b]:
                    diagonal[a, b] += along
                    if not both:
                        exchange[a, b] += along
                if free[c, d]:
                    diagonal[c, d] += along
                    if not both:
                        exchange[c, d] += along
                if both:
                    before[count], after[count], conductance[count] = number[a, b], number[c, d], along
                    count += 1
    return count
