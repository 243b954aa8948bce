"""One stage's equations over the nodes that conduct: C dT/dt = -K (T - T_medium), for the compiled loops."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film
from thermsim.solve.grid.operator import Operator, exchange_of
from thermsim.solve.matrix.dissection import Dissection
from thermsim.solve.matrix.numbering import Numbering

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

#: From so many nodes on matrices are factored by nested dissection, below within their band. There fronts
#: are twice as fast, from 3,000 on as fast (measured); but grids of usual size need not wait for them to be compiled.
LARGE = 10_000


@dataclass(frozen=True)
class Matrix:
    """A symmetric matrix for the compiled loops, see :mod:`thermsim.solve.matrix.matrix_kernels`.

    Parameters
    ----------
    banded : tuple or None
        Its band and where the rows begin; None where the nodes are dissected.
    dissected : tuple or None
        Its elements, where they stand and how the nodes are dissected; None where there is a band.
    stored : tuple of int
        Shape of a factor.
    """

    banded: tuple[Array, Whole] | None
    dissected: tuple[Any, ...] | None
    stored: tuple[int, ...]

    def side_by_side(self, count: int) -> tuple[int, ...]:
        """Shape of the factors of so many matrices that differ in their diagonals."""
        if self.banded is None:
            return count, *self.stored
        from thermsim.solve.matrix import lane_kernels

        rows, width = self.stored
        return -(-count // lane_kernels.LANES), *lane_kernels.stored(rows, width - 1)


@dataclass(frozen=True)
class System:
    """The equations under one set of films, over the active nodes in the order of their numbering.

    Parameters
    ----------
    matrix : Matrix
        K [W/K]; rows and columns of held nodes are empty.
    capacity, exchange : ndarray, shape (n,)
        C [J/K] (1 for held nodes) and K times one [W/K].
    free : ndarray, shape (n,)
        1 for unknown nodes, 0 for those held at the medium's temperature.
    held : float
        Heat capacity of those held [J/K].
    before, after : ndarray of int, shape (p,)
        Pairs of free nodes between which heat flows.
    conductance : ndarray, shape (p,)
        Between them [W/K].
    factors : dict of tuple of float to ndarray
        Cholesky factors of K + shift C that have been made, by the shifts [1/s].
    """

    matrix: Matrix
    capacity: Array
    exchange: Array
    free: Array
    held: float
    before: Whole
    after: Whole
    conductance: Array
    factors: dict[tuple[float, ...], Array] = field(default_factory=dict, repr=False, compare=False)


def system_of(operator: Operator, film: Film, numbering: Numbering) -> System:
    """The stage's matrix: conduction between free nodes, exchange with the medium and with held nodes."""
    from thermsim.solve.grid import grid_kernels

    exchange, fixed = exchange_of(operator, film)
    exchange = np.ascontiguousarray(numbering.turn(exchange))
    free = np.ascontiguousarray(numbering.turn((operator.capacity > 0.0) & ~fixed))
    along_r, along_z = numbering.turn(operator.conductance_r), numbering.turn(operator.conductance_z)
    straight = (along_z, along_r) if numbering.turned else (along_r, along_z)
    ways = [*straight, numbering.turn(operator.rising), numbering.turn(operator.falling)]
    slow, fast, rising, falling = (np.ascontiguousarray(along) for along in ways)
    diagonal, room = np.empty(free.shape), sum(along.size for along in ways)
    before, after, conductance = np.empty(room, dtype=np.int64), np.empty(room, dtype=np.int64), np.empty(room)
    count = grid_kernels.couple(
        numbering.number, free, slow, fast, rising, falling, exchange, diagonal, before, after, conductance
    )
    before, after, conductance = before[:count].copy(), after[:count].copy(), conductance[:count].copy()
    pairs, on_diagonal = (before, after, conductance), diagonal[numbering.active]
    if numbering.count < LARGE:
        matrix = banded(*pairs, on_diagonal)
    else:
        across = bool(operator.rising.any() or operator.falling.any())
        matrix = in_fronts(*pairs, on_diagonal, numbering.dissection(diagonals=across))
    free_nodes, capacity = free[numbering.active], numbering.vector(operator.capacity)
    return System(
        matrix=matrix,
        capacity=np.where(free_nodes, capacity, 1.0),
        exchange=exchange[numbering.active],
        free=free_nodes.astype(float),
        held=float(capacity[~free_nodes].sum()),
        before=before,
        after=after,
        conductance=conductance,
    )


def banded(before: Whole, after: Whole, conductance: Array, diagonal: Array) -> Matrix:
    """A matrix by rows, each from where its first coupling stands.

    ``before`` and ``after`` (p,) are the nodes of each pair, the lower number first, ``conductance`` (p,) between
    them, ``diagonal`` (n,).
    """
    from thermsim.solve.grid import grid_kernels

    reach = np.empty(diagonal.size, dtype=np.int64)
    band = grid_kernels.lay_band(before, after, conductance, diagonal, reach)
    return Matrix((band, reach), None, band.shape)


def in_fronts(before: Whole, after: Whole, conductance: Array, diagonal: Array, dissection: Dissection) -> Matrix:
    """The same by nodes and pairs, for a factor by nested dissection."""
    positions = dissection.positions(before, after)
    return Matrix(None, (diagonal, -conductance, *positions, dissection.fronts), (dissection.stored,))
