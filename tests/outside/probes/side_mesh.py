"""The mesh of half a container with a stem from its side: hexahedra for ``side_reference.py``."""

from __future__ import annotations

import numpy as np
from skfem import MeshHex, MeshHex2
from skfem.mapping import MappingIsoparametric

#: The circle ends in a flat this much nearer to the axis, as a part of its radius: no mesh has a use for a cusp.
FLAT = 2e-3


def graded(low, high, first, last, widest):
    """Lines from low to high whose spacing grows from both ends, ``None`` meaning no wish there."""
    x = np.linspace(low, high, 2001)
    spacing = np.full(x.size, widest)
    if first is not None:
        spacing = np.minimum(spacing, first + 0.35 * (x - low))
    if last is not None:
        spacing = np.minimum(spacing, last + 0.35 * (high - x))
    count = np.insert(np.cumsum(np.diff(x) * (1 / spacing[1:] + 1 / spacing[:-1]) / 2), 0, 0.0)
    n = max(1, round(count[-1]))
    return np.interp(np.linspace(0, count[-1], n + 1), count, x)


def joined(*pieces):
    return np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])


class Mapping(MappingIsoparametric):
    """The mapping of quadratic hexahedra, found backwards with short steps: some are much distorted."""

    def invF(self, x, tind=None):  # noqa: N802
        found = np.full(x.shape, 0.5)
        for _ in range(300):
            step = np.einsum("ijkl,jkl->ikl", self.invDF(found, tind), x - self.F(found, tind))
            step *= np.minimum(1.0, 0.25 / np.maximum(np.abs(step).max(axis=0), 1e-30))
            found = np.clip(found + step, -0.05, 1.05)
            if np.abs(step).max() < 1e-10:
                return found
        raise RuntimeError("a place was not found in its element")


class Section:
    """Quadrilaterals of the half plane across the stem: (aside >= 0, above)."""

    def __init__(self, radii, inner, below, above, n, scale):
        self.points, self.index, self.cells = [], {}, []
        block = 1.6 * radii[-1]
        # the perimeter of the half square from above to below, n cells an edge of length ``block``
        edge = np.linspace(0, 1, n + 1)
        square = np.concatenate(
            [
                np.stack([edge, np.ones(n + 1)], 1)[:-1],
                np.stack([np.ones(2 * n + 1), np.linspace(1, -1, 2 * n + 1)], 1)[:-1],
                np.stack([edge[::-1], -np.ones(n + 1)], 1),
            ]
        )
        angle = np.arctan2(square[:, 0], square[:, 1])
        circle = np.stack([np.sin(angle), np.cos(angle)], 1)
        core = 0.45 * radii[0] * (0.5 * square + 0.5 * circle)
        rings = [core]
        last = core
        for low, radius in zip([0.0, *radii[:-1]], radii, strict=True):
            steps = 2 if low == 0.0 else max(2, round((radius - low) / (0.4 * low) / scale))
            start = rings[-1] if low == 0.0 else low * circle
            for k in range(1, steps + 1):
                rings.append(start + (radius * circle - start) * k / steps)
        last = rings[-1]
        for k in range(1, 3):
            rings.append(last + (block * square - last) * k / 2)
        # the core: a grid of n by 2n cells with the core's perimeter
        grid = self._core(core, n)
        for i in range(grid.shape[0] - 1):
            for j in range(grid.shape[1] - 1):
                self._add(grid[i, j], grid[i + 1, j], grid[i + 1, j + 1], grid[i, j + 1])
        for one, other in zip(rings[:-1], rings[1:], strict=True):
            for k in range(len(one) - 1):
                self._add(one[k], one[k + 1], other[k + 1], other[k])
        step = block / n
        inside_z = np.linspace(-block, block, 2 * n + 1)
        # by equal steps on the circle towards its end, where chords shorten fast
        first, last = inner * np.arcsin(block / inner), inner * np.arcsin(1.0 - FLAT)
        aside = inner * np.sin(graded(first, last, step, None, 3e-3 * scale) / inner)
        aside[0] = block
        aside = joined(np.linspace(0, block, n + 1), aside)
        low = [self._layer(a, b, step if k == 0 else None, scale) for k, (a, b) in enumerate(below)]
        high = [self._layer(a, b, step if k == 0 else None, scale) for k, (a, b) in enumerate(above)]
        level = joined(*[-piece[::-1] for piece in reversed(low)], inside_z, *high)
        level = np.unique(np.round(level, 12))
        for i in range(aside.size - 1):
            for j in range(level.size - 1):
                if aside[i + 1] <= block + 1e-9 and -block - 1e-9 <= level[j] and level[j + 1] <= block + 1e-9:
                    continue
                a, b, c, d = aside[i], aside[i + 1], level[j], level[j + 1]
                self._add((a, c), (b, c), (b, d), (a, d))
        self.block = block

    def _layer(self, low, high, first, scale):
        if high - low < 2e-3:
            return np.array([low, high])
        return graded(low, high, first or 0.8e-3 * scale, 0.8e-3 * scale, 4e-3 * scale)

    @staticmethod
    def _core(core, n):
        """Nodes (n + 1, 2 n + 1) of the core from its perimeter, by transfinite interpolation."""
        top, side, bottom = core[: n + 1], core[n : 3 * n + 1][::-1], core[3 * n :][::-1]
        axis = np.stack([np.zeros(2 * n + 1), np.linspace(bottom[0, 1], top[0, 1], 2 * n + 1)], 1)
        u, v = np.linspace(0, 1, n + 1)[:, None, None], np.linspace(0, 1, 2 * n + 1)[None, :, None]
        return (
            (1 - u) * axis[None] + u * side[None] + (1 - v) * bottom[:, None] + v * top[:, None]
            - (1 - u) * (1 - v) * axis[0] - (1 - u) * v * axis[-1] - u * (1 - v) * side[0] - u * v * side[-1]
        )  # fmt: skip

    def _add(self, *corners):
        cell = []
        for y, z in corners:
            key = (round(y * 1e9), round(z * 1e9))
            if key not in self.index:
                self.index[key] = len(self.points)
                self.points.append((y, z))
            cell.append(self.index[key])
        self.cells.append(cell)


class Scene:
    """The mesh of a case, its materials and films."""

    def __init__(self, case, quarter, scale):
        container, probe = case.container, case.probe
        inner = container.radius_at(probe.z)
        outer = inner + container.side.thickness
        height = probe.z
        tip = outer - probe.depth(container)
        stack, end = [], tip
        for segment in reversed(probe.segments):
            stack.append((segment, end, end + segment.length))
            end += segment.length
        parts = []
        if probe.fitting:
            fitting = probe.fitting
            parts.append((inner - fitting.inside, outer + fitting.outside, fitting.diameter / 2, fitting.material))
        parts += [(low, high, segment.radius, segment.material) for segment, low, high in stack]
        radii = sorted({part[2] for part in parts})
        above = [
            (0.0, case.surface - height),
            (case.surface - height, container.ceiling - height),
            (container.ceiling - height, container.outer_height - height),
        ]
        below = [(0.0, height - container.floor), (height - container.floor, height)]
        block = 1.6 * radii[-1]
        above[0], below[0] = (block, above[0][1]), (block, below[0][1])
        section = Section(radii, inner, below, above, quarter, scale)
        stem = probe.tip_radius
        breaks = sorted({-outer, -inner, inner, outer, tip, tip + probe.sensing, *(p for q in parts for p in q[:2])})
        breaks = [breaks[0], *(b for a, b in zip(breaks[:-1], breaks[1:], strict=True) if b - a > 1e-9)]
        lines = [
            np.array([a, b])
            if b - a < 1.2e-3 * scale
            else graded(a, b, (0.4 * stem if a > -inner else 0.8e-3) * scale, 0.4 * stem * scale, 4e-3 * scale)
            for a, b in zip(breaks[:-1], breaks[1:], strict=True)
        ]
        along = joined(*lines)
        self._build(case, section, along, inner, outer, height, parts, radii)
        self.tip, self.sensing, self.stem, self.height = tip, probe.sensing, stem, height

    def _build(self, case, section, along, inner, outer, height, parts, radii):
        container = case.container
        flat, quads = np.array(section.points), np.array(section.cells)
        n = len(flat)
        points = np.concatenate([np.column_stack([np.full(n, x), flat]) for x in along])
        mids_x = (along[1:] + along[:-1]) / 2
        centre = flat[quads].mean(axis=1)
        rho = np.hypot(centre[:, 0], centre[:, 1])
        z = centre[:, 1] + height
        hexes, material, of_probe = [], [], []
        materials = []

        def number(one):
            if one not in materials:
                materials.append(one)
            return materials.index(one)

        for k, x in enumerate(mids_x):
            ids = np.full(len(quads), -1)
            probe = np.zeros(len(quads), dtype=bool)
            if abs(x) < outer:
                rest = case.product.material if abs(x) < inner else container.side.material
                ids[:] = number(rest)
                if abs(x) < inner:
                    ids[z > case.surface] = number(case.headspace.material)
                ids[z > container.ceiling] = number(container.lid.material)
                ids[z < container.floor] = number(container.base.material)
            for low, high, radius, one in parts:
                if low < x < high:
                    there = rho < radius
                    ids[there], probe[there] = number(one), True
            for c in np.flatnonzero(ids >= 0):
                a, b, d, e = quads[c]
                hexes.append([*(k * n + v for v in (a, b, d, e)), *((k + 1) * n + v for v in (a, b, d, e))])
                material.append(ids[c])
                of_probe.append(probe[c])
        # scikit-fem's order of a hexahedron's corners, by their place in the unit cube
        hexes = np.array(hexes)
        order = MeshHex.init_tensor(np.array([0.0, 1]), np.array([0.0, 1]), np.array([0.0, 1]))
        ours = np.array([(0, 0, 0), (0, 1, 0), (0, 1, 1), (0, 0, 1), (1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 0, 1)])
        pick = [int(np.flatnonzero((ours == corner).all(axis=1))[0]) for corner in order.p[:, order.t[:, 0]].T]
        used, compact = np.unique(hexes, return_inverse=True)
        mesh = MeshHex(points[used].T.copy(), compact.reshape(hexes.shape)[:, pick].T.copy())
        self.facets = self._films(mesh, inner, outer, np.array(of_probe), height, container)
        mesh = MeshHex2.from_mesh(mesh)
        place = mesh.doflocs.copy()
        flat_radius = np.hypot(place[1], place[2])
        # middles of chords of a circle onto it: their corners lie on it
        for radius in radii:
            for part in (2, 4):
                for sector in np.unique(np.round(self._chords(section, radius), 12)):
                    on = np.abs(flat_radius - radius * np.cos(sector / 2)) < 1e-9
                    if part == 2:
                        place[1:, on] *= radius / flat_radius[on]
        x, y = place[0].copy(), place[1]
        within = np.abs(x) <= inner + 1e-12
        chord = np.sqrt(np.maximum(1 - (y / inner) ** 2, 0.0))
        # in the side wall and beyond: rings, drawn outwards with it where the stem is not
        wider = y * (1.0 + np.maximum(np.abs(x) / inner - 1.0, 0.0) * (y / inner) ** 2)
        place[0] = np.where(within, x * chord, np.sign(x) * np.sqrt(np.maximum(x**2 - wider**2, 0.0)))
        place[1] = wider
        self.mesh = MeshHex2(place, mesh.t)
        self.flat = x, flat_radius
        self.material, self.materials, self.of_probe = np.array(material), materials, np.array(of_probe)
        self.places_x = along

    @staticmethod
    def _chords(section, radius):
        points = np.array(section.points)
        on = points[np.abs(np.hypot(*points.T) - radius) < 1e-9]
        return np.diff(np.sort(np.arctan2(on[:, 0], on[:, 1])))

    @staticmethod
    def _films(mesh, inner, outer, of_probe, height, container):
        facets = mesh.boundary_facets()
        corners = mesh.p[:, mesh.facets[:, facets]]
        probe = of_probe[mesh.f2t[0, facets]]
        open_ = ~(np.abs(corners[1]).max(axis=0) < 1e-12)

        def at(axis, value):
            return (np.abs(corners[axis] - value) < 1e-9).all(axis=0)

        lid, base = at(2, container.outer_height - height), at(2, -height)
        side = (at(0, outer) | at(0, -outer)) & ~probe
        flat = at(1, inner * (1 - FLAT)) & (np.abs(corners[0]).max(axis=0) <= inner + 1e-9)
        sticks_out = probe & open_ & (corners[0].max(axis=0) > outer + 1e-9)
        chosen = {"lid": lid, "base": base, "side": side, "flat": flat, "probe": sticks_out}
        return {name: facets[those] for name, those in chosen.items()}
