"""The numbering of nodes."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Numbering:
    """Numbers of the active nodes, the short grid direction running fastest, so that matrices are banded."""

    def __init__(self, active: NDArray[np.bool_]) -> None:
        self.shape = active.shape
        self.turned = self.shape[1] > self.shape[0]
        self.active = self.turn(active)
        self.count = int(self.active.sum())
        self.number = np.where(self.active, np.cumsum(self.active).reshape(self.active.shape) - 1, -1)

    def turn(self, field: NDArray[Any]) -> NDArray[Any]:
        """A node field (n_r, n_z) with its short direction last; turning twice gives it back."""
        return field.T if self.turned else field

    def vector(self, field: NDArray[Any]) -> NDArray[Any]:
        """The active nodes of a field, shape (count,)."""
        return np.ascontiguousarray(self.turn(field)[self.active])

    def vectors(self, fields: Array) -> Array:
        """The active nodes of fields (n_t, n_r, n_z), shape (n_t, count)."""
        turned = fields.swapaxes(1, 2) if self.turned else fields
        return np.ascontiguousarray(turned[:, self.active])

    def fields(self, parts: list[Array], idle: Array) -> Array:
        """Vectors over time (n_t, count) as fields (n_t, n_r, n_z); idle nodes have the ``idle`` field's values."""
        joined = parts[0] if len(parts) == 1 else np.concatenate(parts)
        turned = self.turn(np.empty(self.shape)).shape
        if self.count == self.active.size:
            whole = joined.reshape(-1, *turned)
        else:
            whole = np.empty((len(joined), *turned))
            whole[:] = self.turn(idle)
            whole[:, self.active] = joined
        return whole.swapaxes(1, 2) if self.turned else whole

    def among(self, nodes: NDArray[np.bool_]) -> NDArray[np.int64]:
        """Numbers of chosen active nodes (n_r, n_z), in the order of ``field[nodes]``."""
        return np.asarray(self.turn(self.number)[nodes])
