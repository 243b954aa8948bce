"""Values and minima between nodes: a polynomial through the neighbouring nodes, in r and z.

Fields are even in r at the axis, so nodes are mirrored there; at the product's surfaces the nodes inside serve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

#: Nodes along each direction that a fit takes.
STENCIL = 5
#: Nodes added beyond the axis by mirroring.
MIRRORED = STENCIL // 2
#: Stands for no distance from a node: its product with others' distances can be divided by it again.
TINY = 1e-200
#: Places each way that are tried for a minimum, as parts of what is looked at.
TRIED = np.linspace(0.0, 1.0, 9)
#: Rounds of it: each goes on with a quarter of what the one before looked at, so that they end at 1e-4 of it.
ROUNDS = 6


@dataclass(frozen=True)
class Along:
    """Stencils of a field along one direction: numbers of the nodes round each place, and their weights.

    ``numbers``, ``weights`` (n, k); beyond the axis nodes are mirrored.
    """

    numbers: Whole
    weights: Array

    @classmethod
    def at(cls, lines: Array, part: slice, places: Array, *, axis: bool = False) -> Along:
        """At places (n,) [m] between a part of all nodes ``lines`` [m], of which the first may lie on the axis."""
        mirrored = mirrored_beyond(lines, part) if axis else 0
        # beyond the axis the polynomial goes by the node before it
        first = part.start if mirrored == 0 else part.start - 1
        index = np.clip(lines.searchsorted(places) - 1, first, part.stop - 1)
        numbers, around = _window(lines, index, part, mirrored)
        return cls(numbers, Polynomials(around).weights(places[:, None])[:, 0])

    def matrix(self, count: int) -> Array:
        """The weights of all nodes, shape (n, count): a node that is mirrored counts twice."""
        found = np.zeros((len(self.numbers), count))
        np.add.at(found, (np.arange(len(found))[:, None], self.numbers), self.weights)
        return found


def mirrored_beyond(lines: Array, part: slice) -> int:
    """Number of nodes mirrored beyond the first of a part of all nodes: none, but at the axis."""
    return min(MIRRORED, part.stop - part.start - 1) if lines[part.start] == 0.0 else 0


@dataclass(frozen=True)
class Stencil:
    """The nodes of a fit round a place, and their weights there.

    ``rows``, ``columns``: their numbers in the block; beyond the axis they are mirrored.
    """

    rows: Whole
    columns: Whole
    along_r: Array
    along_z: Array

    @classmethod
    def at(cls, r: Array, z: Array, place: tuple[float, float], *, axis: bool = True) -> Stencil:
        """Of a place r, z [m] in a block of nodes ``r`` (n_r,) and ``z`` (n_z,) [m] in which fields are smooth.

        ``axis``: fields are even about the axis, if the first of the nodes lies on it.
        """
        along_r = Along.at(r, slice(0, r.size), np.array([place[0]]), axis=axis)
        along_z = Along.at(z, slice(0, z.size), np.array([place[1]]))
        return cls(along_r.numbers[0], along_z.numbers[0], along_r.weights[0], along_z.weights[0])

    def nodes(self, block: tuple[slice, slice]) -> tuple[Whole, Whole]:
        """Rows and columns (p,) in the grid of all its nodes, the block of nodes being part of the grid's."""
        rows, columns = self.rows + block[0].start, self.columns + block[1].start
        return np.repeat(rows, columns.size), np.tile(columns, rows.size)

    @property
    def weights(self) -> Array:
        """Weights (p,) of all its nodes, in the order of :meth:`nodes`."""
        return np.multiply.outer(self.along_r, self.along_z).reshape(-1)

    def value(self, fields: Array) -> Array:
        """Value (...) of the block's fields (..., n_r, n_z) at the place."""
        patch = fields[..., self.rows[:, None], self.columns]
        return np.asarray((patch @ self.along_z) @ self.along_r)


@dataclass(frozen=True)
class Minima:
    """Minima of n fields between nodes, and the nodes of the polynomials that they lie on.

    ``places`` (n, 3) are r, z [m] and the value; ``rows`` (n, k) and ``columns`` (n, l) numbers of the nodes, beyond
    the axis mirrored; ``along_r`` and ``along_z`` their weights at the places, of the same shapes.
    """

    places: Array
    rows: Whole
    columns: Whole
    along_r: Array
    along_z: Array


def refine_minima(
    r: Array,
    z: Array,
    fields: Array,
    nodes: Whole,
    *,
    which: Whole | None = None,
    block: tuple[slice, slice] | None = None,
    axis: bool = True,
) -> Minima:
    """Find the minimum of each field near a node, on the polynomial through the nodes around it.

    Parameters
    ----------
    r, z : ndarray, shapes (n_r,) and (n_z,)
        Lines of the grid [m].
    fields : ndarray, shape (m, n_r, n_z)
        Node values.
    nodes : ndarray of int, shape (n, 2)
        For each search the node with the least value nearby.
    which : ndarray of int, shape (n,), optional
        For each search its field; else as many fields as nodes, in the same order.
    block : pair of slice, optional
        Of nodes in which the fields are smooth; else all of them.
    axis : bool, optional
        Fields are even about the axis, if the first of the nodes lies on it.

    Returns
    -------
    Minima
        Within one interval of the node, r >= 0.
    """
    every = np.arange(len(nodes))
    part_r, part_z = block or (slice(0, r.size), slice(0, z.size))
    mirrored = mirrored_beyond(r, part_r) if axis else 0
    found, low, high = [], [], []
    for lines, index, part, beyond in ((r, nodes[:, 0], part_r, mirrored), (z, nodes[:, 1], part_z, 0)):
        found.append(_window(lines, index, part, beyond))
        low.append(lines[np.maximum(index - 1, part.start)])
        high.append(lines[np.minimum(index + 1, part.stop - 1)])
    (rows, around_r), (columns, around_z) = found
    patch = fields[(every if which is None else which)[:, None, None], rows[:, :, None], columns[:, None, :]]
    through_r, through_z = Polynomials(around_r), Polynomials(around_z)
    for _ in range(ROUNDS):
        tried_r, tried_z = (a[:, None] + (b - a)[:, None] * TRIED for a, b in zip(low, high, strict=True))
        values = (through_r.weights(tried_r) @ patch @ through_z.weights(tried_z).swapaxes(1, 2)).reshape(
            every.size, -1
        )
        best = values.argmin(axis=1)
        place, least = [tried_r[every, best // TRIED.size], tried_z[every, best % TRIED.size]], values[every, best]
        for k in (0, 1):
            step = (high[k] - low[k]) * TRIED[1]
            low[k], high[k] = np.maximum(low[k], place[k] - step), np.minimum(high[k], place[k] + step)
    if mirrored:
        # fields are level across the axis: what is found within the last lattice of it lies on it
        place[0] = np.where(place[0] < 1e-4 * r[1], 0.0, place[0])
    along_r, along_z = through_r.weights(place[0][:, None])[:, 0], through_z.weights(place[1][:, None])[:, 0]
    return Minima(np.column_stack([*place, least]), rows, columns, along_r, along_z)


def _window(lines: Array, index: Whole, part: slice, mirrored: int) -> tuple[Whole, Array]:
    """Numbers (n, k) of the nodes round those at ``index`` (n,) of a line, and their places [m].

    The nodes are of a part of the line; beyond an axis at its start some are ``mirrored``.
    """
    width = min(STENCIL, part.stop - part.start + mirrored)
    first = np.minimum(np.maximum(index - width // 2, part.start - mirrored), part.stop - width)
    numbers = first[:, None] + np.arange(width)
    beyond = numbers < part.start
    numbers = np.where(beyond, 2 * part.start - numbers, numbers)
    return numbers, np.where(beyond, -lines[numbers], lines[numbers])


class Polynomials:
    """Polynomials, each through ``nodes`` (n, k) of its own."""

    def __init__(self, nodes: Array) -> None:
        self.nodes = nodes[:, None, :]
        apart = nodes[:, :, None] - self.nodes
        apart += np.eye(nodes.shape[1])  # no distance from itself
        self.scales = 1.0 / apart.prod(axis=2)[:, None, :]

    def weights(self, x: Array) -> Array:
        """Weights (n, m, k) of the nodes at places (n, m)."""
        away = x[:, :, None] - self.nodes
        away[away == 0.0] = TINY
        # all factors but one
        return np.asarray(away.prod(axis=2)[:, :, None] / away * self.scales)
