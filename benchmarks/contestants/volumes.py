"""Cell-centred finite volumes on a graded mesh: what the contestants without a mesh of their own integrate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, diags

from contestants.jar import Array, Jar
from contestants.lines import layer_of, mesh_lines


@dataclass(frozen=True)
class Volumes:
    """Cells: centres r, z [m], ``heat`` [J/K] and the conduction matrix [W/K] over them (r first)."""

    r: Array
    z: Array
    heat: Array
    conduction: csr_matrix
    half: tuple[Array, Array, Array]
    areas: tuple[Array, Array, Array]
    cells: tuple[Array, Array, Array]

    def exchange(self, film: float) -> Array:
        """What each cell exchanges with the medium under a film [W/K]: film and half a cell in series."""
        total = np.zeros(self.heat.size)
        for cells, area, half in zip(self.cells, self.areas, self.half, strict=True):
            np.add.at(total, cells, area / (1.0 / film + half))
        return total


def volumes_of(jar: Jar, *, finest: float, widest: float, growth: float) -> Volumes:
    """Cut the jar into cells."""
    r, z = mesh_lines(jar, finest=finest, widest=widest, growth=growth)
    at = np.ix_(layer_of(jar.columns, r), layer_of(jar.levels, z))
    k, heat = jar.conductivity[at], jar.heat[at]
    dr, dz = np.diff(r), np.diff(z)
    ring = np.pi * np.diff(r**2)
    number = np.arange(dr.size * dz.size).reshape(dr.size, dz.size)
    half_r, half_z = dr[:, None] / 2 / k, dz / 2 / k
    across = 2 * np.pi * r[1:-1, None] * dz / (half_r[1:] + half_r[:-1])
    along = ring[:, None] / (half_z[:, 1:] + half_z[:, :-1])
    low = np.concatenate([number[:-1].ravel(), number[:, :-1].ravel()])
    high = np.concatenate([number[1:].ravel(), number[:, 1:].ravel()])
    between = np.concatenate([across.ravel(), along.ravel()])
    linked = coo_matrix((between, (low, high)), shape=(number.size, number.size)).tocsr()
    linked = linked + linked.T
    matrix = diags(np.asarray(linked.sum(axis=1)).ravel()) - linked
    return Volumes(
        r=(r[1:] + r[:-1]) / 2,
        z=(z[1:] + z[:-1]) / 2,
        heat=(heat * ring[:, None] * dz).ravel(),
        conduction=matrix.tocsr(),
        half=(half_r[-1], half_z[:, 0], half_z[:, -1]),
        areas=(2 * np.pi * r[-1] * dz, ring, ring),
        cells=(number[-1], number[:, 0], number[:, -1]),
    )
