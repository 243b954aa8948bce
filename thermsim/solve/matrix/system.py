"""One stage's equations over the nodes that conduct: C dT/dt = -K (T - T_medium), over their numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film
from thermsim.solve.grid.operator import Operator, exchange_of
from thermsim.solve.matrix.linear import Symmetric
from thermsim.solve.matrix.numbering import Numbering

Array = NDArray[np.float64]


@dataclass(frozen=True)
class System:
    """The equations under one set of films, over the active nodes in the order of their numbering.

    Parameters
    ----------
    matrix : Symmetric
        K [W/K]; rows and columns of held nodes are empty.
    capacity, exchange : ndarray, shape (n,)
        C [J/K] (1 for held nodes) and K times one [W/K].
    free : ndarray, shape (n,)
        1 for unknown nodes, 0 for those held at the medium's temperature.
    held : float
        Heat capacity of those held [J/K].
    solvers : dict of float to callable
        Solvers of (K + shift C) x = b that have been made, by the shifts [1/s].
    """

    matrix: Symmetric
    capacity: Array
    exchange: Array
    free: Array
    held: float
    solvers: dict[float, Callable[[Array], Array]] = field(default_factory=dict, repr=False, compare=False)

    def solver(self, shift: float) -> Callable[[Array], Array]:
        """The solver of (K + shift C) x = b for b (n,) or (n, k), made once."""
        if shift not in self.solvers:
            self.solvers[shift] = self.matrix.factor(1.0, shift * self.capacity)
        return self.solvers[shift]


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
    pairs = before[:count].copy(), after[:count].copy(), -conductance[:count]
    free_nodes, capacity = free[numbering.active], numbering.vector(operator.capacity)
    return System(
        matrix=Symmetric(diagonal[numbering.active], *pairs),
        capacity=np.where(free_nodes, capacity, 1.0),
        exchange=exchange[numbering.active],
        free=free_nodes.astype(float),
        held=float(capacity[~free_nodes].sum()),
    )
