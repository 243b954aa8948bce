"""From what the user said to materials in (r, z): the container's section as rectangles of one material each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.case import Case
from thermsim.case.materials import Material

#: Region number of a rectangle that no heat enters (an insulated headspace).
INSULATED = -1


@dataclass(frozen=True)
class Body:
    """A section of the container: a rectangle in (r, z), divided by break lines into regions.

    Parameters
    ----------
    r, z : ndarray, shapes (m_r + 1,) and (m_z + 1,)
        Break lines [m], growing; every material interface lies on one.
    material : ndarray of int, shape (m_r, m_z)
        Index into ``materials`` for each region, or :data:`INSULATED`.
    product : ndarray of bool, shape (m_r, m_z)
        Which regions hold the product.
    initial : ndarray, shape (m_r, m_z)
        Temperature at the start [degC].
    materials : tuple of Material
        What the regions are made of.
    """

    r: NDArray[np.float64]
    z: NDArray[np.float64]
    material: NDArray[np.int64]
    product: NDArray[np.bool_]
    initial: NDArray[np.float64]
    materials: tuple[Material, ...]


def body_of(case: Case) -> Body:
    """Lay the case's container, product and headspace out in (r, z).

    Returns
    -------
    Body
        With the base and the lid reaching the outer diameter and the side wall between them.
    """
    container = case.container
    r = [0.0, container.inner_radius]
    if container.side:
        r.append(container.outer_radius)
    headspace = case.headspace_height > 0.0

    # layers from the bottom up: height of the top, what lies inside the side wall, whether it spans the diameter
    layers: list[tuple[float, Material | None, bool]] = []
    if container.base:
        layers.append((container.floor, container.base.material, True))
    layers.append((case.surface if headspace else container.ceiling, case.product.material, False))
    if headspace:
        layers.append((container.ceiling, case.headspace.material, False))
    if container.lid:
        layers.append((container.outer_height, container.lid.material, True))

    materials: list[Material] = []

    def index_of(material: Material | None) -> int:
        if material is None:
            return INSULATED
        if material not in materials:
            materials.append(material)
        return materials.index(material)

    shape = (len(r) - 1, len(layers))
    region = np.empty(shape, dtype=np.int64)
    product = np.zeros(shape, dtype=bool)
    for j, (_, inside, spans) in enumerate(layers):
        region[:, j] = index_of(inside)
        if container.side and not spans:
            region[1, j] = index_of(container.side.material)
    filled = 1 if container.base else 0
    product[0, filled] = True

    walls = case.product.initial if container.initial is None else container.initial
    initial = np.full(shape, walls, dtype=float)
    initial[0, filled : filled + (2 if headspace else 1)] = case.product.initial
    z = np.array([0.0] + [top for top, _, _ in layers])
    return Body(np.array(r), z, region, product, initial, tuple(materials))
