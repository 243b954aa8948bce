"""Compiled loops over a grid whose properties change: heat held and heat exchanged. Arrays and numbers only.

Flows are exchanged in pairs with one conductivity each quadrilateral, so what leaves one node enters another. Fields
are flattened with the short grid direction running fastest, as in the kernels of constant properties.
"""

from __future__ import annotations

import math

from thermsim.physics.gap import TURNED
from thermsim.solve.compiled import compiled

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
def turning(temperature, cells, lookup, pairs, which, share, free, conductivity, out):
    """Heat that flows more into each node where the gap conducts upwards than where it conducts downwards [W].

    ``cells`` has the quadrilaterals that conduct so, ``which`` of the pairs are theirs; ``conductivity`` (m,) is room
    to work in; the rest is that of :func:`flows`.
    """
    out[:] = 0.0
    for upwards in range(2):
        conductivities(temperature, cells, float(upwards), lookup, conductivity)
        for p in which:
            i, j = pairs[p, 0], pairs[p, 1]
            flow = share[p] * conductivity[pairs[p, 2]] * (temperature[j] - temperature[i])
            out[i] += (2 * upwards - 1) * flow * free[i]
            out[j] -= (2 * upwards - 1) * flow * free[j]


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
