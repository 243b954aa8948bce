"""One stage's equations over the nodes that conduct: C dT/dt = -K (T - T_medium), over their numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film
from thermsim.solve.grid.operator import Operator, exchange_of
from thermsim.solve.matrix.linear import Pairs, Symmetric
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


@dataclass(frozen=True)
class Conduction:
    """Conduction of an operator between its free nodes, which films do not change.

    ``diagonal`` (n,) and ``pairs`` of its matrix [W/K], ``to_held`` (n,) the conductance to nodes that are held.
    """

    free: NDArray[np.bool_]
    diagonal: Array
    pairs: Pairs
    to_held: Array

    @classmethod
    def of(cls, operator: Operator, fixed: NDArray[np.bool_], numbering: Numbering) -> Conduction:
        """Between the nodes (n_r, n_z) that are not fixed."""
        free = (operator.capacity > 0.0) & ~fixed
        diagonal, to_held = (np.zeros_like(operator.capacity) for _ in range(2))
        number = numbering.turn(numbering.number)
        found: list[tuple[Whole, Whole, Array]] = []
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
                to_held[node] += np.where(free[node] & ~both, along, 0.0)
            found.append((number[one][both], number[other][both], along[both]))
        first, second, conductance = (np.concatenate(part) for part in zip(*found, strict=True))
        pairs = Pairs(numbering.count, np.minimum(first, second), np.maximum(first, second), -conductance)
        return cls(numbering.vector(free), numbering.vector(diagonal), pairs, numbering.vector(to_held))


def system_of(
    operator: Operator, film: Film, numbering: Numbering, known: dict[bytes, Conduction] | None = None
) -> System:
    """The stage's matrix: conduction between free nodes, exchange with the medium and with held nodes.

    Parameters
    ----------
    operator : Operator
    film : Film
    numbering : Numbering
        Of the active nodes.
    known : dict, optional
        Keeps for other films what does not depend on them.
    """
    exchange, fixed = exchange_of(operator, film)
    known = {} if known is None else known
    key = fixed.tobytes()
    if key not in known:
        known[key] = Conduction.of(operator, fixed, numbering)
    conduction = known[key]
    faces, capacity = numbering.vector(exchange) * conduction.free, numbering.vector(operator.capacity)
    return System(
        matrix=Symmetric(conduction.diagonal + faces, conduction.pairs),
        capacity=np.where(conduction.free, capacity, 1.0),
        exchange=conduction.to_held + faces,
        free=conduction.free.astype(float),
        held=float(capacity[~conduction.free].sum()),
    )
