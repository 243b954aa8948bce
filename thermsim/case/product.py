"""The product, how far the container is filled with it, and the headspace above."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thermsim.physics.composition import Composition
from thermsim.physics.convection import Flow
from thermsim.physics.gap import GasGap
from thermsim.physics.materials import Material


@dataclass(frozen=True)
class Product:
    """The packed food: its material and its temperature at the start [degC].

    ``composition`` is what its properties follow from; None where they are given. ``flow`` is whether it convects;
    None where nothing is said of its viscosity.
    """

    material: Material
    initial: float
    composition: Composition | None = None
    flow: Flow | None = None


@dataclass(frozen=True)
class Headspace:
    """What fills the room above the product.

    Parameters
    ----------
    model : {"fixed", "insulated", "air", "humid"}
        ``fixed``: a solid of the material's (effective) conductivity; ``insulated``: no heat crosses it; ``air``:
        dry gas at rest and radiation; ``humid``: that and vapour.
    material : Material or None
        What it conducts like; ``None`` for ``insulated`` or where there is no headspace.
    gap : GasGap or None
        For ``air`` and ``humid``: what the material was made from.
    """

    model: Literal["fixed", "insulated", "air", "humid"]
    material: Material | None = None
    gap: GasGap | None = None
