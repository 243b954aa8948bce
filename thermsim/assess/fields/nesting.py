"""Transfer of fields from one grid of a family to the next finer one: whole, or only where they are asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.solve.grid.grid import Grid
from thermsim.solve.grid.lines import prolongation

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]

#: By this part of their difference two values of order four, of halved spacings, give a better one.
AGAIN = 1.0 / 15.0
#: So many times as much the finest grid's own fields then count.
FINE_WEIGHT = 1.0 + AGAIN


class Nesting:
    """Transfer of fields from one grid of a family to the next finer one."""

    def __init__(self, coarse: Grid, fine: Grid) -> None:
        along = prolongation(coarse.layer_r, fine.layer_r), prolongation(coarse.layer_z, fine.layer_z)
        self.along, self.shape = along, fine.shape
        self.matrices = along[0].matrix(), along[1].matrix()
        # nodes in common: where a fine node takes the whole of one coarse node
        self.common = along[0].common, along[1].common

    def carried(self, fields: Array, factor: float = 1.0) -> Array:
        """Fields (n, n_r, n_z) of the coarse grid on the fine one, times a factor."""
        return self._onto(np.zeros((len(fields), *self.shape)), fields, None, factor)

    def add(self, fields: Array, total: Array) -> None:
        """Add fields (n, n_r, n_z) of the coarse grid to some on the fine one."""
        self._onto(total, fields, None, 1.0)

    def raised(self, fields: Array, own: float = 1.0, more: float = 1.0 / 3.0) -> Array:
        """The part of fields (n, n_r, n_z) of the fine grid in their own extrapolation: 4/3 at nodes in common.

        Or ``own`` times the fields, and ``more`` times what is interpolated from the nodes in common.
        """
        return self._onto(np.multiply(fields, own, order="C"), fields, self.common, more)

    def correction(self, on_coarse: Array, on_fine: Array) -> Array:
        """Correction that Richardson's extrapolation adds to the fine fields (n, n_r, n_z)."""
        total = self._onto(np.zeros(on_fine.shape), on_fine, self.common, 1.0 / 3.0)
        return self._onto(total, on_coarse, None, -1.0 / 3.0)

    def _onto(self, total: Array, fields: Array, nodes: tuple[Numbers, Numbers] | None, factor: float) -> Array:
        """Add fields at the coarse grid's nodes, which may stand among others, to those on the fine grid."""
        along_r, along_z = self.matrices
        if nodes is not None:
            fields = fields[:, nodes[0][:, None], nodes[1]]
        count, rows, columns = fields.shape
        between = fields.reshape(-1, columns) @ along_z.T  # one product for all
        total += (factor * along_r) @ between.reshape(count, rows, -1)
        return total


@dataclass(frozen=True)
class Parts:
    """Contribution of each of three grids to the extrapolation, see :mod:`thermsim.assess.fields.refinement`."""

    to_middle: Nesting
    to_fine: Nesting

    def of_fine(self, fields: Array) -> Carried:
        """Contribution of fields (n, n_r, n_z) of the finest grid, besides :data:`FINE_WEIGHT` times themselves."""
        rows, columns = self.to_fine.common
        return Carried(FINE_WEIGHT / 3.0 * fields[:, rows[:, None], columns], self.to_fine)

    def of_middle(self, fields: Array) -> Carried:
        """Contribution of fields (n, n_r, n_z) of the middle grid, on the finest."""
        return Carried(self.to_middle.raised(fields, -FINE_WEIGHT / 3.0 - AGAIN, -AGAIN / 3.0), self.to_fine)

    def of_coarse(self, fields: Array) -> Carried:
        """Contribution of fields (n, n_r, n_z) of the coarsest grid, on the finest."""
        return Carried(self.to_middle.carried(fields, AGAIN / 3.0), self.to_fine)

    def whole(self, level: int, fields: Array) -> Array:
        """All that fields of one of the grids, coarsest first, add at the nodes of the finest one."""
        added = (self.of_coarse, self.of_middle, self.of_fine)[level](fields).whole
        return added + FINE_WEIGHT * fields if level == 2 else added


@dataclass(frozen=True)
class Carried:
    """Fields of a grid on the next finer one, worked out only where they are asked for.

    ``fields`` (n, n_r, n_z) are those of the coarser grid.
    """

    fields: Array
    nesting: Nesting

    @property
    def whole(self) -> Array:
        """At all nodes of the finer grid, shape (n, n_r, n_z)."""
        return self.nesting.carried(self.fields)

    def at(self, rows: Numbers, columns: Numbers) -> Array:
        """At some nodes of the finer grid, by their numbers (p,): shape (n, p)."""
        (first_r, along_r), (first_z, along_z) = ((one.first, one.weights) for one in self.nesting.along)
        i = first_r[rows, None] + np.arange(along_r.shape[1])
        j = first_z[columns, None] + np.arange(along_z.shape[1])
        weights = along_r[rows][:, :, None] * along_z[columns][:, None, :]
        around = (i[:, :, None] * self.fields.shape[2] + j[:, None, :]).reshape(rows.size, -1)
        patches = self.fields.reshape(len(self.fields), -1).take(around, axis=1)
        return np.asarray(np.einsum("npk,pk->np", patches, weights.reshape(rows.size, -1)))


Shapes = Array | Carried


def at_nodes(shapes: Shapes, rows: Numbers, columns: Numbers) -> Array:
    """Fields at some nodes, by their numbers (p,): shape (n, p)."""
    return shapes.at(rows, columns) if isinstance(shapes, Carried) else shapes[:, rows, columns]
