# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""A stage's matrix for the compiled loops, as a band or as fronts. Arrays and numbers only.

Of ``banded`` and ``dissected`` one is None. The former is (band, reach), see
:mod:`thermsim.solve.matrix.band_kernels`, the latter (diagonal, coupling, their positions, fronts), see
:mod:`thermsim.solve.matrix.dissection_kernels`. Which it is is known as these loops are compiled: small grids neither
look nor wait for what only large ones need. numba leaves out what asks whether an argument is there that is None,
and only that: hence the two questions.
"""

from __future__ import annotations

import numpy as np

from thermsim.solve.compiled import compiled, inlined
from thermsim.solve.matrix import band_kernels as kernels
from thermsim.solve.matrix import front_kernels, lane_kernels
from thermsim.solve.matrix.lane_kernels import LANES


@inlined
def conduct(before, after, conductance, exchange, x, flow):
    """Put K times x into ``flow``: what flows between pairs of nodes, and to the medium."""
    for i in range(x.size):
        flow[i] = exchange[i] * x[i]
    for pair in range(before.size):
        a, b = before[pair], after[pair]
        through = conductance[pair] * (x[a] - x[b])
        flow[a] += through
        flow[b] -= through


@compiled
def factorise(banded, dissected, scale, capacity, shift, factors):
    """Put the Cholesky factor of scale K + shift C into ``factors``, zeros so far; False if there is none."""
    if banded is not None:
        band, reach = banded
        width = band.shape[1] - 1
        for i in range(band.shape[0]):
            for j in range(width - reach[i], width):
                factors[i, j] = scale * band[i, j]
            factors[i, width] = scale * band[i, width] + shift * capacity[i]
        return kernels.factor(factors)
    if dissected is not None:
        diagonal, coupling, diagonal_at, coupling_at, fronts = dissected
        for k in range(factors.size):
            factors[k] = 0.0
        for i in range(diagonal.size):
            factors[diagonal_at[i]] = scale * diagonal[i] + shift * capacity[i]
        for pair in range(coupling.size):
            factors[coupling_at[pair]] = scale * coupling[pair]
        return front_kernels.factor(factors, fronts)
    return False


@compiled
def solve_one(factors, banded, dissected, x):
    """Solve with the factor that :func:`factorise` left, overwriting the right-hand side ``x`` (n,)."""
    if banded is not None:
        kernels.solve(factors, banded[1], x)
    if dissected is not None:
        front_kernels.solve(factors, dissected[4], x.reshape((1, x.size)))


@compiled
def factorise_shifted(banded, dissected, capacity, shifts, factors):
    """Put the Cholesky factors of K + shift C for each shift (m,) into ``factors``; False if there is none.

    Factors of bands stand side by side in groups, (groups, ., ., lanes), see
    :mod:`thermsim.solve.matrix.lane_kernels`; the last group is filled up with the last shift.
    Those of fronts stand one by one, (m, .).
    """
    if banded is not None:
        band, reach = banded
        some = np.empty(LANES)
        for group in range(factors.shape[0]):
            for lane in range(LANES):
                some[lane] = shifts[min(group * LANES + lane, shifts.size - 1)]
            if not lane_kernels.factor(band, reach, capacity, some, factors[group]):
                return False
    if dissected is not None:
        for k in range(shifts.size):
            if not factorise(banded, dissected, 1.0, capacity, shifts[k], factors[k]):
                return False
    return True
