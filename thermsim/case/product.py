"""The product, how far the container is filled with it, and the headspace above."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thermsim.case.materials import Material


@dataclass(frozen=True)
class Product:
    """The packed food: its material and its temperature at the start [degC]."""

    material: Material
    initial: float


@dataclass(frozen=True)
class Headspace:
    """What fills the room above the product.

    Parameters
    ----------
    model : {"fixed", "insulated"}
        ``fixed``: a solid of the material's (effective) conductivity; ``insulated``: no heat crosses it.
    material : Material or None
        For ``fixed``; ``None`` for ``insulated`` or where there is no headspace.
    """

    model: Literal["fixed", "insulated"]
    material: Material | None = None
