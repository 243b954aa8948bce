"""A container with a shaped profile by finite elements (scikit-fem), for the tests to compare with.

It is described by plain numbers. The inside of the side wall is a polyline; its outside is that line offset at right
angles and mitred. A logically rectangular mesh of straight-edged quadrilaterals follows them: rows lie on the base,
the corners, the product's surface and the lid; in a row the columns of product and gas are horizontal, those of the
wall run from its inside to its outside. Straight-edged quadrilaterals show such a body exactly.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from finite_elements import Discretised, discretised, march, mesh_lines
from scipy.optimize import minimize
from skfem import MeshQuad

PARTS = ("product", "gas", "side", "base", "lid")


@dataclass(frozen=True)
class Shape:
    """A filled container: lengths [m] and materials.

    ``corners`` are (height above the inside of the base, inner radius), at least two, from the base to the lid;
    ``fill`` is the product's depth; ``side``, ``base``, ``lid`` are thicknesses, 0 for no wall; ``materials`` are
    (conductivity [W/mK], density [kg/m3], specific heat [J/kgK]) by the part's name; without "gas" the headspace is
    insulated.
    """

    corners: tuple[tuple[float, float], ...]
    fill: float
    side: float
    base: float
    lid: float
    materials: dict[str, tuple[float, float, float]]

    def replace(self, **changes):
        """Return the shape with some of its numbers replaced."""
        return dataclasses.replace(self, **changes)


@dataclass(frozen=True)
class Settings:
    """Sizes of the elements [m] far from and at interfaces; time steps [s], longest and after a jump, and growth."""

    widest: float = 2.5e-3
    finest: float = 0.3e-3
    step: float = 10.0
    first: float = 0.25
    growth: float = 1.3

    def finer(self, factor):
        """Return settings with all sizes and steps smaller by a factor."""
        sizes = (size / factor for size in (self.widest, self.finest, self.step, self.first))
        return Settings(*sizes, growth=self.growth ** (1 / factor))


def outer_line(corners, thickness):
    """Places (n, 2), as (height, radius), of the outside of a wall opposite the corners of its inside.

    Parallel to the inside at ``thickness``; at a corner the two neighbours' lines meet; both ends lie at the heights
    of the inside's ends.
    """
    outer = np.array(corners, dtype=float)
    along = np.diff(outer, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    outwards = np.stack([-along[:, 1], along[:, 0]], axis=1)
    outer[[0, -1], 1] += thickness / outwards[[0, -1], 1]
    below, above = outwards[:-1], outwards[1:]
    outer[1:-1] += thickness * (below + above) / (1 + (below * above).sum(axis=1))[:, None]
    return outer


def shaped_mesh(shape, settings):
    """Mesh the container.

    Returns
    -------
    mesh : MeshQuad
    part : (n_elements,) index into ``PARTS``
    films : dict of str to the facets that the film acts on
    """

    def lines(*breaks):
        return mesh_lines(np.array(breaks), settings.widest, settings.finest)

    heights, radii = np.array(shape.corners).T
    outer_heights, outer_radii = outer_line(shape.corners, shape.side).T
    # rows: where they meet the inside of the wall and, at the same part of the way between two corners, its outside
    rows = lines(*np.unique([*heights, shape.fill]))
    below = lines(-shape.base, 0.0)[:-1] if shape.base else np.empty(0)
    above = heights[-1] + lines(0.0, shape.lid)[1:] if shape.lid else np.empty(0)

    def lengthened(radius, height):
        """A line over all rows, upright in the base and the lid."""
        foot, head = np.full(below.size, radius[0]), np.full(above.size, radius[-1])
        return np.array([np.concatenate([foot, radius, head]), np.concatenate([below, height, above])])

    inner = lengthened(np.interp(rows, heights, radii), rows)
    outer = lengthened(np.interp(rows, heights, outer_radii), np.interp(rows, heights, outer_heights))
    axis = inner * [[0.0], [1.0]]
    # columns: parts of the way from the axis to the wall (graded like half of a layer), and through the wall
    depth = lines(0.0, 2 * radii.max())
    depth = depth[: (depth.size + 1) // 2]
    across = 1 - depth[::-1, None] / depth[-1]
    through = lines(0.0, shape.side)[1:, None] / shape.side if shape.side else np.empty((0, 1))
    # (r and z, columns, rows)
    filling = axis[:, None] + across * (inner - axis)[:, None]
    wall = inner[:, None] + through * (outer - inner)[:, None]
    places = np.concatenate([filling, wall], axis=1) + np.array([0.0, shape.base])[:, None, None]

    number = np.arange(places[0].size).reshape(places.shape[1:])
    quadrilaterals = [number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]]
    columns, row = across.size - 1, below.size
    part = np.full(quadrilaterals[0].shape, PARTS.index("product"))
    part[:, row + np.searchsorted(rows, shape.fill) :] = PARTS.index("gas")
    part[columns:] = PARTS.index("side")
    part[:, :row] = PARTS.index("base")
    part[:, row + rows.size - 1 :] = PARTS.index("lid")
    mesh = MeshQuad(places.reshape(2, -1), np.array([corner.ravel() for corner in quadrilaterals]))
    part = part.ravel()
    if "gas" not in shape.materials:
        kept = np.flatnonzero(part != PARTS.index("gas"))
        mesh, part = mesh.restrict(kept), part[kept]

    films = {
        "base": _facets_along(mesh, places[:, :, 0]),
        "lid": _facets_along(mesh, places[:, :, -1]),
        "side": _facets_along(mesh, places[:, -1]),
    }
    return mesh, part, films


def _facets_along(mesh, line):
    """Facets of the boundary with both ends among the places (2, n) of a line of the mesh."""
    on_line = (mesh.p[:, :, None] == line[:, None]).all(axis=0).any(axis=1)
    facets = mesh.boundary_facets()
    return facets[on_line[mesh.facets[:, facets]].all(axis=0)]


@dataclass(frozen=True)
class Solution:
    """Temperatures of all nodes over time: ``time`` (n_t,) [s], ``temperature`` (n_t, n) [degC].

    ``part`` (n_elements,) is what the elements belong to, an index into ``PARTS``.
    """

    system: Discretised
    part: np.ndarray
    time: np.ndarray
    temperature: np.ndarray

    @cached_property
    def product(self):
        """Numbers of the product's nodes."""
        return np.unique(self.system.basis.element_dofs[:, self.part == PARTS.index("product")])

    def curves(self, places):
        """Temperatures (n_t, n) at places (n, 2) [m]."""
        return (self.system.basis.probes(np.array(places).T) @ self.temperature.T).T

    def temperature_at(self, time):
        """Temperature [degC] of the product's nodes at the end of a step."""
        return self.temperature[np.flatnonzero(self.time == time)[0]][self.product]

    def log_lethality(self, reference, z):
        """Logarithm of the lethality [s] of the product's nodes."""
        return np.log(lethality_of(self.time, self.temperature[:, self.product], reference, z))

    def minimum(self, field, *, reach=8e-3, degree=6):
        """Place (r, z) [m] and value of the least of a field that is given at the product's nodes.

        A polynomial is fitted to the nodes within ``reach`` of the lowest one, and to their mirror images beyond the
        axis.
        """
        places = self.system.basis.doflocs[:, self.product]
        lowest = places[:, field.argmin(), None]
        both = np.concatenate([places, places * [[-1.0], [1.0]]], axis=1)
        near = np.linalg.norm(both - lowest, axis=0) <= reach
        around, values = (both[:, near] - lowest) / reach, np.concatenate([field, field])[near]

        def terms(place):
            return np.stack([place[0] ** i * place[1] ** j for i in range(degree + 1) for j in range(degree + 1 - i)])

        fit = np.linalg.lstsq(terms(around).T, values - field.min(), rcond=None)[0]
        low = np.maximum(around.min(axis=1), [-lowest[0, 0] / reach, -1.0])
        bounds = list(zip(low, around.max(axis=1), strict=True))
        found = minimize(lambda place: terms(place) @ fit, np.zeros(2), bounds=bounds, tol=1e-14)
        return lowest[:, 0] + reach * found.x, float(found.fun + field.min())


def lethality_of(time, temperature, reference, z):
    """Lethality [s] of temperatures (n_t, ...) that are linear between times: exact on every straight piece."""
    rate = 10.0 ** ((temperature - reference) / z)
    rise = np.log(10.0) / z * np.diff(temperature, axis=0)
    level = np.abs(rise) < 1e-9
    mean = rate[:-1] * np.where(level, 1.0, np.expm1(rise) / np.where(level, 1.0, rise))
    return np.tensordot(np.diff(time), mean, axes=1)


def solve_shape(shape, process, initial, settings=Settings()):
    """Solve a container that begins at ``initial`` [degC] everywhere; ``process`` is thermsim's noun.

    Returns
    -------
    Solution
    """
    mesh, part, films = shaped_mesh(shape, settings)
    none = (np.nan, np.nan, np.nan)
    conductivity, density, heat = np.array([shape.materials.get(name, none) for name in PARTS]).T
    system = discretised(mesh, conductivity[part], (density * heat)[part], films)
    start = np.full(system.basis.N, float(initial))
    steps = march(system, process, start, step=settings.step, first=settings.first, growth=settings.growth)
    time, temperature = zip(*steps, strict=True)
    return Solution(system, part, np.array(time), np.array(temperature))
