"""The order in which a large grid's nodes are eliminated, and what that leaves to store."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]

#: Patches of no more nodes than this are not cut further. From 12 to 40 the time is much the same (measured); fewer
#: take less memory.
PATCH = 16


@dataclass(frozen=True)
class Dissection:
    """The fronts of a lattice of nodes, see :mod:`thermsim.solve.matrix.dissection_kernels`.

    Parameters
    ----------
    fronts : tuple
        As the compiled loops take them.
    stored : int
        Numbers that a factor has.
    """

    fronts: tuple[Whole | int, ...]
    stored: int

    def positions(self, before: Whole, after: Whole) -> tuple[Whole, Whole]:
        """Where in a factor each node's diagonal (n,) and each pair's coupling (p,) stand."""
        from thermsim.solve.matrix import dissection_kernels

        diagonal, coupling = dissection_kernels.positions(before, after, self.fronts)
        return diagonal, coupling


def dissected(number: Whole, *, diagonals: bool) -> Dissection:
    """Cut a lattice by nested dissection.

    Parameters
    ----------
    number : ndarray of int, shape (rows, columns)
        Numbers of the nodes, -1 where there is none.
    diagonals : bool
        Whether nodes are coupled to those diagonally across too.
    """
    from thermsim.solve.matrix import dissection_kernels

    order, first, parent = dissection_kernels.dissect(number, PATCH)
    rows_at, rows, into, offset, below, room = dissection_kernels.structure(number, order, first, parent, diagonals)
    return Dissection((order, first, rows_at, rows, into, offset, below, room), int(offset[-1]))
