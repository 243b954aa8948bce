"""One stage's equations over the nodes that conduct: C dT/dt = -K (T - T_medium), for the compiled loops."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film
from thermsim.solve.numbering import Numbering
from thermsim.solve.operator import Operator, exchange_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class System:
    """The equations under one set of films, over the active nodes in the order of their numbering.

    Parameters
    ----------
    band : ndarray, shape (n, width + 1)
        K [W/K] by rows, see :mod:`thermsim.solve.kernels`; rows and columns of held nodes are empty.
    reach : ndarray of int, shape (n,)
        How far left of the diagonal each row begins.
    capacity, exchange : ndarray, shape (n,)
        C [J/K] (1 for held nodes) and K times one [W/K].
    free : ndarray, shape (n,)
        1 for unknown nodes, 0 for those held at the medium's temperature.
    before, after : ndarray of int, shape (p,)
        Pairs of free nodes between which heat flows.
    conductance : ndarray, shape (p,)
        Between them [W/K].
    factors : dict of float to ndarray
        Cholesky factors of K + shift C that have been made, by the shift [1/s].
    """

    band: Array
    reach: NDArray[np.int64]
    capacity: Array
    exchange: Array
    free: Array
    before: NDArray[np.int64]
    after: NDArray[np.int64]
    conductance: Array
    factors: dict[float, Array] = field(default_factory=dict, repr=False, compare=False)


def system_of(operator: Operator, film: Film, numbering: Numbering) -> System:
    """The stage's matrix: conduction between free nodes, exchange with the medium and with held nodes."""
    exchange, fixed = exchange_of(operator, film)
    exchange, free = numbering.turn(exchange), numbering.turn((operator.capacity > 0.0) & ~fixed)
    along_r, along_z = numbering.turn(operator.conductance_r), numbering.turn(operator.conductance_z)
    along_slow, along_fast = (along_z, along_r) if numbering.turned else (along_r, along_z)
    falling = numbering.turn(operator.falling)
    exchange = np.where(free, exchange, 0.0)
    diagonal = exchange.copy()
    couplings = []
    for along, low, high in (
        (along_slow, np.s_[:-1, :], np.s_[1:, :]),
        (along_fast, np.s_[:, :-1], np.s_[:, 1:]),
        (numbering.turn(operator.rising), np.s_[:-1, :-1], np.s_[1:, 1:]),
        (falling, np.s_[:-1, 1:], np.s_[1:, :-1]),
    ):
        # rectangles conduct nothing along their diagonals: no room is kept for it
        both = free[low] & free[high] & (along != 0.0)
        # a held neighbour stands at the medium's temperature: what flows to it is exchange
        for here in (low, high):
            exchange[here] += np.where(both, 0.0, along) * free[here]
            diagonal[here] += along * free[here]
        couplings.append((numbering.number[low][both], numbering.number[high][both], along[both]))

    before, after, conductance = (np.concatenate(part) for part in zip(*couplings, strict=True))
    reach = np.zeros(numbering.count, dtype=np.int64)
    np.maximum.at(reach, after, after - before)
    width = max(1, int(reach.max(initial=0)))
    band = np.zeros((numbering.count, width + 1))
    band[:, width] = diagonal[numbering.active]
    band[after, width - (after - before)] = -conductance
    free_nodes = free[numbering.active]
    return System(
        band=band,
        reach=reach,
        capacity=np.where(free_nodes, numbering.vector(operator.capacity), 1.0),
        exchange=exchange[numbering.active],
        free=free_nodes.astype(float),
        before=before,
        after=after,
        conductance=conductance,
    )
