"""Compiled loops over a grid whose properties change: heat held and heat exchanged. Arrays and numbers only.

Flows are exchanged between pairs of a quadrilateral's corners with its one conductivity, so what leaves one node
enters another. Fields are flattened with the short grid direction running fastest, so that matrices are banded.
"""

from __future__ import annotations

import math

from thermsim.physics.gap import TURNED
from thermsim.solve.compiled import compiled

#: Corners of a quadrilateral that exchange heat: along r, along z, rising, falling.
PAIRS = ((0, 1), (2, 3), (0, 2), (1, 3), (0, 3), (1, 2))
#: How often an interval is halved in which the share lies that conducts upwards.
HALVINGS = 40


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
def dot(one, other):
    """Sum of the products of two arrays (n,)."""
    total = 0.0
    for i in range(one.size):
        total += one[i] * other[i]
    return total


@compiled
def direction(lead):
    """Share of the upward conductivity in a gap whose lower face leads [K]: 1 where it does so by TURNED or more.

    It is 0 as long as the upper face is the hotter one, so that what flows grows with the difference either way.
    """
    x = min(max(lead / TURNED, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


@compiled
def turned_to(share, lead, falls):
    """Share of the upward conductivity that goes with the lead that follows from it, ``share`` at first.

    ``lead`` [K] is that at this share, ``falls`` [K] by how much it grows with the share. By halving, as the share
    is level where it begins and ends.
    """
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        if direction(lead + falls * (middle - share)) > middle:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


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
def exchanged(temperature, nodes, conductivity, shares, out):
    """Add what flows into the four nodes of a quadrilateral [W].

    ``nodes`` (4,) their numbers; ``shares`` (6,) the pairs' conductance per unit of conductivity [m], in the order of
    :data:`PAIRS`.
    """
    a, b, c, d = nodes[0], nodes[1], nodes[2], nodes[3]
    at_a, at_b, at_c, at_d = temperature[a], temperature[b], temperature[c], temperature[d]
    into_a_from_b, into_c_from_d = conductivity * shares[0] * (at_b - at_a), conductivity * shares[1] * (at_d - at_c)
    into_a_from_c, into_b_from_d = conductivity * shares[2] * (at_c - at_a), conductivity * shares[3] * (at_d - at_b)
    into_a_from_d, into_b_from_c = conductivity * shares[4] * (at_d - at_a), conductivity * shares[5] * (at_c - at_b)
    out[a] += into_a_from_b + into_a_from_c + into_a_from_d
    out[b] += into_b_from_d + into_b_from_c - into_a_from_b
    out[c] += into_c_from_d - into_a_from_c - into_b_from_c
    out[d] -= into_c_from_d + into_b_from_d + into_a_from_d


@compiled
def flows(temperature, conductivity, corner, shares, exchange, medium, free, out, joined):
    """Heat that flows into each free node [W]; returns what comes from the medium and from held nodes.

    ``corner`` (m, 4) and ``shares`` (m, 6) as in :func:`exchanged`, of all quadrilaterals; ``exchange`` (n,) the
    films' conductance [W/K], 0 where a node is held; ``medium`` the medium's temperature. Quadrilaterals
    before ``joined`` are left out: what is found at the nodes that they have is no flow.
    """
    entering = 0.0
    for i in range(temperature.size):
        out[i] = exchange[i] * (medium - temperature[i])
        entering += out[i]
    corner, conductivity, shares = corner[joined:], conductivity[joined:], shares[joined:]
    for q in range(corner.shape[0]):
        exchanged(temperature, corner[q], conductivity[q], shares[q], out)
    for i in range(temperature.size):
        if free[i] == 0.0:  # a held node stands at the medium's temperature: what it gives comes from outside
            entering -= out[i]
            out[i] = 0.0
    return entering


@compiled
def turning(temperature, cells, lookup, shares, free, conductivity, out):
    """Heat that flows more into each node where the gap conducts upwards than where it conducts downwards [W].

    ``cells`` has the quadrilaterals that conduct so; ``conductivity`` (m,) is room to work in; the rest is that of
    :func:`flows`.
    """
    corner, _, which = cells
    for i in range(out.size):
        out[i] = 0.0
    for upwards in range(2):
        conductivities(temperature, cells, float(upwards), lookup, conductivity)
        for q in which:
            exchanged(temperature, corner[q], (2 * upwards - 1) * conductivity[q], shares[q], out)
    for i in range(out.size):
        out[i] *= free[i]


@compiled
def assemble(conductivity, corner, shares, exchange, free, slope, scale, band):
    """Put slope + scale * K into the band; K couples free nodes alone, held ones get a 1 on the diagonal."""
    width = band.shape[1] - 1
    for i in range(slope.size):
        for k in range(width):
            band[i, k] = 0.0
        band[i, width] = slope[i] + scale * exchange[i] if free[i] > 0.0 else 1.0
    for q in range(corner.shape[0]):
        for p in range(len(PAIRS)):
            i, j = corner[q, PAIRS[p][0]], corner[q, PAIRS[p][1]]
            conductance = scale * shares[q, p] * conductivity[q]
            if conductance != 0.0:
                band[i, width] += conductance * free[i]
                band[j, width] += conductance * free[j]
                low, high = min(i, j), max(i, j)
                band[high, width - (high - low)] -= conductance * free[i] * free[j]
