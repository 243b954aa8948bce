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
Whole = NDArray[np.int64]


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
    exchange, fixed = exchange_of(operator, film)
    free = (operator.capacity > 0.0) & ~fixed
    exchange = np.where(free, exchange, 0.0)
    diagonal, number = exchange.copy(), numbering.turn(numbering.number)
    pairs: list[tuple[Whole, Whole, Array]] = []
    for one, other, along in (
        (np.s_[:-1, :], np.s_[1:, :], operator.conductance_r),
        (np.s_[:, :-1], np.s_[:, 1:], operator.conductance_z),
        (np.s_[:-1, :-1], np.s_[1:, 1:], operator.rising),
        (np.s_[1:, :-1], np.s_[:-1, 1:], operator.falling),
    ):
        # rectangles conduct nothing along their diagonals: no room is kept for it
        both = free[one] & free[other] & (along != 0.0)
        for node in (one, other):
            diagonal[node] += np.where(free[node], along, 0.0)
            # what flows to held nodes is exchanged, since these stand at the medium's temperature
            exchange[node] += np.where(free[node] & ~both, along, 0.0)
        pairs.append((number[one][both], number[other][both], along[both]))
    first, second, conductance = (np.concatenate(part) for part in zip(*pairs, strict=True))
    free_nodes, capacity = numbering.vector(free), numbering.vector(operator.capacity)
    return System(
        matrix=Symmetric(
            numbering.vector(diagonal), np.minimum(first, second), np.maximum(first, second), -conductance
        ),
        capacity=np.where(free_nodes, capacity, 1.0),
        exchange=numbering.vector(exchange),
        free=free_nodes.astype(float),
        held=float(capacity[~free_nodes].sum()),
    )
