"""Flows between the nodes about a stem: finite elements with one value a node, integrated on the true places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from thermsim.solve.stem.stem_grid import StemGrid

Array = NDArray[np.float64]

#: A film without resistance is taken as this strong [W/m2K].
STRONGEST = 1e6
_GAUSS = np.array([0.5 - np.sqrt(1.0 / 12.0), 0.5 + np.sqrt(1.0 / 12.0)])
#: The eight corners of an element, each a 0 or 1 along, outwards, round.
_CORNERS = np.array([(a, r, s) for a in (0, 1) for r in (0, 1) for s in (0, 1)])


@dataclass(frozen=True)
class StemOperator:
    """Matrices over the numbered nodes, without and with the probe.

    Parameters
    ----------
    grid : StemGrid
    number : ndarray of int, shape (n_a, n_r, n_s)
        Number of each node, slab by slab along the stem; -1 where nothing conducts. The innermost ring is one node.
    stiffness, stiffness_without : csr_matrix, shape (n, n)
        [W/K].
    capacity, capacity_without : ndarray, shape (n,)
        [J/K].
    faces : dict of str to ndarray, shape (n,)
        Areas that face the medium with the probe [m2]: "side" (or "lid", "base" for a stem on the axis), "probe".
    faces_without : dict of str to ndarray
        The same without the probe.
    edges : dict of str to ndarray, shape (n,)
        Areas of the product's ends beside the stem [m2]: "above", "below" and, in a brick, "beside", or "round".
    sheets : dict of str to csr_matrix
        Conductance of a sheet of 1 W/K (thickness times conductivity) on those ends [W/K].
    volumes : ndarray, shape (n_a - 1, n_r - 1, n_s - 1, 8)
        What of each element belongs to its corners [m3].
    """

    grid: StemGrid
    number: NDArray[np.int64]
    stiffness: sparse.csr_matrix
    stiffness_without: sparse.csr_matrix
    capacity: Array
    capacity_without: Array
    faces: dict[str, Array]
    faces_without: dict[str, Array]
    edges: dict[str, Array]
    sheets: dict[str, sparse.csr_matrix]
    volumes: Array

    @property
    def count(self) -> int:
        """Number of nodes."""
        return self.capacity.size

    @property
    def product_nodes(self) -> NDArray[np.bool_]:
        """Nodes in the product and on its surfaces with the probe in it, shape (n,)."""
        return self._touching(self.grid.product)

    @property
    def probe_nodes(self) -> NDArray[np.bool_]:
        """Nodes in the probe and on its surfaces, shape (n,)."""
        return self._touching(self.grid.probe)

    @property
    def inner_nodes(self) -> NDArray[np.bool_]:
        """Nodes within the product, not on a surface of it, shape (n,)."""
        inner = self.product_nodes & ~self._touching(~self.grid.product)
        inner[self.number[:, -1, :][self.number[:, -1, :] >= 0]] = False
        return inner

    def _touching(self, cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Nodes of the elements of a kind (n_a - 1, n_r - 1)."""
        found = np.zeros(self.count, dtype=bool)
        numbers = _nodes_of(self.number)[cells]
        found[numbers[numbers >= 0]] = True
        return found

    def of_nodes_many(self, values: Array) -> Array:
        """Fields (n_a, n_r, n_s, m) as vectors over the numbered nodes, shape (n, m)."""
        vectors = np.empty((self.count, values.shape[-1]))
        vectors[self.number[self.number >= 0]] = values[self.number >= 0]
        return vectors

    def started(self, rest: Array) -> Array:
        """Difference at the start [K] from ``rest`` [degC], both (n,): the probe's parts', by what each stores."""
        grid = self.grid
        there = np.repeat(grid.probe[:, :, None], grid.angles.size - 1, axis=2)
        nodes = _nodes_of(self.number)[there]
        stored = (self.volumes * _property(grid, grid.with_probe, "capacity")[:, :, None, None])[there]
        begins = np.broadcast_to(grid.initial[:, :, None], there.shape)[there]
        excess = np.zeros(self.count)
        np.add.at(excess, nodes, stored * (begins[:, None] - rest[nodes]))
        return np.asarray(excess / self.capacity)

    def mean(self, low: float, high: float, radius: float) -> Array:
        """Weights of the nodes, shape (n,), for the mean over a cylinder about the stem; its ends lie on nodes [m].

        ``low`` = ``high`` is a disc.
        """
        grid = self.grid
        edge = 1e-9
        rings = grid.rings[1:] <= grid.ring_at(radius) + edge
        weights = np.zeros(self.count)
        if high - low > edge:
            there = (grid.along[:-1] >= low - edge) & (grid.along[1:] <= high + edge)
            cells = np.zeros(tuple(size - 1 for size in grid.shape), dtype=bool)
            cells[np.ix_(there, rings)] = True
            np.add.at(weights, _nodes_of(self.number)[cells], self.volumes[cells])
        else:
            at = int(np.abs(grid.along - low).argmin())
            areas, nodes = _face(grid, self.number, 0, at)
            np.add.at(weights, nodes[rings], areas[rings])
        return np.asarray(weights / weights.sum())


def stem_operator(grid: StemGrid, ends: tuple[str, str]) -> StemOperator:
    """Work the matrices out.

    Parameters
    ----------
    grid : StemGrid
    ends : (str, str)
        Names of the films at the far end and at the end where the stem enters.

    Returns
    -------
    StemOperator
    """
    cells = tuple(size - 1 for size in grid.shape)
    solid = np.repeat((grid.with_probe >= 0)[:, :, None], cells[2], axis=2)
    number = _numbered(grid, solid)
    n = int(number.max()) + 1
    nodes = _nodes_of(number)
    shapes, volumes = _elements(grid)
    matrices, capacities = [], []
    for which in (grid.with_probe, grid.without):
        conductivity = _property(grid, which, "conductivity")
        capacity = _property(grid, which, "capacity")
        there = np.repeat((which >= 0)[:, :, None], cells[2], axis=2)
        values = shapes[there] * np.repeat(conductivity[:, :, None], cells[2], axis=2)[there][:, None, None]
        matrices.append(_assembled(nodes[there], values, n))
        stored = np.zeros(n)
        np.add.at(
            stored, nodes[there], volumes[there] * np.repeat(capacity[:, :, None], cells[2], axis=2)[there][:, None]
        )
        capacities.append(stored)
    faces = _faces(grid, number, grid.with_probe, ends, n)
    faces_without = _faces(grid, number, grid.without, ends, n)
    edges, sheets = _edges(grid, number, n)
    return StemOperator(
        grid,
        number,
        matrices[0],
        matrices[1],
        capacities[0],
        capacities[1],
        faces,
        faces_without,
        edges,
        sheets,
        volumes,
    )


def _property(grid: StemGrid, which: NDArray[np.int64], name: str) -> Array:
    return np.array([*(getattr(material, name) for material in grid.materials), 0.0])[which]


def _numbered(grid: StemGrid, solid: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Numbers of the nodes that touch something which conducts; the innermost ring has one number a place."""
    wide = np.pad(solid, 1)
    touched = np.zeros(grid.shape, dtype=bool)
    for a in (slice(None, -1), slice(1, None)):
        for r in (slice(None, -1), slice(1, None)):
            for s in (slice(None, -1), slice(1, None)):
                touched |= wide[a, r, s]
    own = touched.copy()
    own[:, 0, 1:] = False
    number = np.where(own, np.cumsum(own).reshape(own.shape) - 1, -1)
    number[:, 0, 1:] = number[:, 0, :1]
    return number


def _nodes_of(number: NDArray[np.int64]) -> NDArray[np.int64]:
    """Numbers of the corners of every element, shape (..., 8)."""
    n_a, n_r, n_s = number.shape
    return np.stack(
        [number[a : n_a - 1 + a, r : n_r - 1 + r, s : n_s - 1 + s] for a, r, s in _CORNERS.tolist()], axis=-1
    )


def _elements(grid: StemGrid) -> tuple[Array, Array]:
    """Conductances (..., 8, 8) [m] of each element for a conductivity of 1, volumes (..., 8) of its corners [m3].

    Two Gauss points each way, on the true places.
    """
    steps = [np.diff(lines) for lines in (grid.along, grid.rings, grid.angles)]
    starts = [lines[:-1] for lines in (grid.along, grid.rings, grid.angles)]
    shape = tuple(step.size for step in steps)
    conductance, volume = np.zeros((*shape, 8, 8)), np.zeros((*shape, 8))
    size = (steps[0][:, None, None], steps[1][None, :, None], steps[2][None, None, :])
    for point in np.array([(a, r, s) for a in _GAUSS for r in _GAUSS for s in _GAUSS]):
        at = [start + x * step for start, step, x in zip(starts, steps, point, strict=True)]
        _, change = grid.map(at[0][:, None, None], at[1][None, :, None], at[2][None, None, :])
        weight = np.abs(np.linalg.det(change)) * size[0] * size[1] * size[2] / 8.0
        each = np.where(_CORNERS == 1, point, 1.0 - point)  # (8, 3)
        value = each.prod(axis=1)
        slope = np.empty((8, 3))
        for k in range(3):
            others = [q for q in range(3) if q != k]
            slope[:, k] = np.where(_CORNERS[:, k] == 1, 1.0, -1.0) * each[:, others].prod(axis=1)
        local = np.stack([np.broadcast_to(one, shape) for one in size], axis=-1)
        gradient = (slope / local[..., None, :]) @ np.linalg.inv(change)
        conductance += weight[..., None, None] * (gradient @ gradient.swapaxes(-1, -2))
        volume += weight[..., None] * value
    return conductance, volume


def _assembled(nodes: NDArray[np.int64], values: Array, n: int) -> sparse.csr_matrix:
    count = nodes.shape[-1]
    rows = np.repeat(nodes, count, axis=-1).ravel()
    columns = np.tile(nodes, (1,) * (nodes.ndim - 1) + (count,)).ravel()
    return sparse.coo_matrix((values.reshape(-1), (rows, columns)), shape=(n, n)).tocsr()


def _face(grid: StemGrid, number: NDArray[np.int64], across: int, at: int) -> tuple[Array, NDArray[np.int64]]:
    """Areas (m, p, 4) that belong to the corners of the faces of one surface of the grid, and their numbers.

    ``across`` is the coordinate that is the same on it, ``at`` its place's number.
    """
    lines = (grid.along, grid.rings, grid.angles)
    free = [k for k in range(3) if k != across]
    steps, starts = [np.diff(lines[k]) for k in free], [lines[k][:-1] for k in free]
    areas = np.zeros((steps[0].size, steps[1].size, 4))
    for x in _GAUSS:
        for y in _GAUSS:
            place: list[Array] = [np.zeros(())] * 3
            place[across] = np.asarray(lines[across][at])
            place[free[0]] = (starts[0] + x * steps[0])[:, None]
            place[free[1]] = (starts[1] + y * steps[1])[None, :]
            _, change = grid.map(*place)
            normal = np.cross(change[..., free[0]], change[..., free[1]])
            weight = np.linalg.norm(normal, axis=-1) * steps[0][:, None] * steps[1][None, :] / 4.0
            for k, value in enumerate(((1 - x) * (1 - y), (1 - x) * y, x * (1 - y), x * y)):
                areas[..., k] += weight * value
    numbers = np.take(number, at, axis=across)
    nodes = np.stack([numbers[:-1, :-1], numbers[:-1, 1:], numbers[1:, :-1], numbers[1:, 1:]], axis=-1)
    return areas, nodes


def _faces(
    grid: StemGrid, number: NDArray[np.int64], which: NDArray[np.int64], ends: tuple[str, str], n: int
) -> dict[str, Array]:
    """Areas that face the medium, by the film's name; the product's ends beside the stem are not among them."""
    found = {name: np.zeros(n) for name in (*ends, "probe")}
    solid = which >= 0
    outside = np.pad(~solid, ((1, 1), (0, 0)), constant_values=True)
    probe = grid.probe & solid
    for at in range(grid.along.size):
        # the element beyond the surface looks back at the far end, the one before it towards the entry
        for cell, before, film in ((at, at, ends[0]), (at - 1, at + 1, ends[1])):
            if not 0 <= cell < solid.shape[0]:
                continue
            exposed = solid[cell] & outside[before]
            if exposed.any():
                areas, nodes = _face(grid, number, 0, at)
                for mask, name in ((exposed & ~probe[cell], film), (exposed & probe[cell], "probe")):
                    np.add.at(found[name], nodes[mask], areas[mask])
    # along the stem's flank, where its outside is the medium
    for at in range(1, grid.rings.size - 1):
        exposed = solid[:, at - 1] & ~solid[:, at]
        if exposed.any():
            areas, nodes = _face(grid, number, 1, at)
            np.add.at(found["probe"], nodes[exposed], areas[exposed])
    return found


def _edges(
    grid: StemGrid, number: NDArray[np.int64], n: int
) -> tuple[dict[str, Array], dict[str, sparse.csr_matrix]]:
    """Areas and sheets of the product's ends beside the stem."""
    areas, nodes = _face(grid, number, 1, grid.rings.size - 1)
    middle = (grid.angles[1:] + grid.angles[:-1]) / 2
    within = (grid.product[:, -1])[:, None]
    if grid.surrounds.across:
        _, first, second, _ = grid.surrounds.corners
        parts = {"above": within & (middle < first)[None, :], "below": within & (middle > second)[None, :]}
        if not grid.surrounds.bowed:
            parts["beside"] = within & ((middle > first) & (middle < second))[None, :]
    else:
        parts = {"round": within & np.ones(middle.size, dtype=bool)[None, :]}
    edges, sheets = {}, {}
    for name, there in parts.items():
        edges[name] = np.zeros(n)
        np.add.at(edges[name], nodes[there], areas[there])
        sheets[name] = _assembled(nodes[there], _sheet(grid)[there], n)
    return edges, sheets


def _sheet(grid: StemGrid) -> Array:
    """Conductances (..., 4, 4) of the faces of the outermost ring for a sheet of 1 W/K."""
    steps = (np.diff(grid.along), np.diff(grid.angles))
    found = np.zeros((steps[0].size, steps[1].size, 4, 4))
    for x in _GAUSS:
        for y in _GAUSS:
            along, angle = grid.along[:-1] + x * steps[0], grid.angles[:-1] + y * steps[1]
            _, change = grid.map(along[:, None], grid.rings[-1:][:, None], angle[None, :])
            tangents = change[..., [0, 2]]
            metric = tangents.swapaxes(-1, -2) @ tangents
            weight = np.sqrt(np.linalg.det(metric)) * steps[0][:, None] * steps[1][None, :] / 4.0
            slope = np.array([[-(1 - y), -(1 - x)], [-y, 1 - x], [1 - y, -x], [y, x]])
            local = np.stack(np.broadcast_arrays(steps[0][:, None], steps[1][None, :]), axis=-1)
            gradient = slope / local[..., None, :]
            found += weight[..., None, None] * (gradient @ np.linalg.inv(metric) @ gradient.swapaxes(-1, -2))
    return found
