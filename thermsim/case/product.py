"""The product, how far the container is filled with it, and the headspace above."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from thermsim.case.container import SHALLOWEST, Container
from thermsim.case.keys.tables import HEADSPACE_MODELS
from thermsim.case.rules import ROUNDING, is_number, material_faults, range_faults, refuse, word_faults
from thermsim.errors import WHOLE, Fault
from thermsim.physics.composition import Composition
from thermsim.physics.convection import Flow, Viscosity, flow_of
from thermsim.physics.gap import GasGap, gap_material
from thermsim.physics.materials import Material
from thermsim.text import in_mm, printed

#: Anything thinner is a slip of the pen or no headspace [m].
THINNEST_HEADSPACE = 1e-4


@dataclass(frozen=True)
class Product:
    """The packed food: its material and its temperature at the start [degC].

    ``composition`` is what its properties follow from; None where they are given. ``flow`` is whether it convects;
    None where nothing is said of its viscosity. ``pieces`` names the pieces in it, "" where there are none.

    Examples
    --------
    >>> from thermsim import Material, Product
    >>> Product(Material("stew", 0.55, 1050.0, 3600.0), initial=60.0).convects
    False
    """

    material: Material
    initial: float
    composition: Composition | None = None
    flow: Flow | None = None
    pieces: str = ""

    def __post_init__(self) -> None:
        refuse(self.faults(), material_faults(self.material))

    @property
    def convects(self) -> bool:
        """Tell whether it flows while it heats, so that its cold spot is another than the computed one."""
        return self.flow is not None and self.flow.verdict == "convection"

    def flow_in(self, container: Container, filled: float, medium: tuple[float, float], viscosity: Viscosity) -> Flow:
        """Verdict on convection, ``filled`` so deep [m], the ``medium`` going from the low to the high [degC]."""
        farthest = max(medium, key=lambda one: abs(one - self.initial))
        return flow_of(
            self.material,
            viscosity,
            radius=container.profile.widest,
            depth=filled,
            initial=self.initial,
            medium=farthest,
        )

    def faults(self, path: str = "product") -> Iterator[Fault]:
        """Faults of a temperature at the start that food cannot have."""
        yield from range_faults(self, path, "product")


@dataclass(frozen=True)
class Headspace:
    """Filling of the room above the product.

    Parameters
    ----------
    model : {"fixed", "insulated", "air", "humid"}
        ``fixed``: a solid of the material's (effective) conductivity; ``insulated``: no heat crosses it; ``air``:
        dry gas at rest and radiation; ``humid``: that and vapour.
    material : Material or None
        What it conducts like; ``None`` for ``insulated`` or where there is no headspace.
    gap : GasGap or None
        For ``air`` and ``humid``: what the material was made from.

    Examples
    --------
    >>> from thermsim import Headspace, Material
    >>> Headspace("fixed", Material("headspace gas", 0.1, 1.0, 1010.0)).model
    'fixed'
    """

    model: Literal["fixed", "insulated", "air", "humid"]
    material: Material | None = None
    gap: GasGap | None = None

    def __post_init__(self) -> None:
        refuse(word_faults(self.model, "headspace.model", HEADSPACE_MODELS))

    @classmethod
    def of_gas(cls, gap: GasGap, met: tuple[float, float]) -> Headspace:
        """A headspace of air or of humid gas, its conductivity tabulated over the temperatures met.

        Parameters
        ----------
        gap : GasGap
            As high as what is left above the product.
        met : (float, float)
            Lowest and highest temperature met [degC]: of product, walls, probe and medium.

        Raises
        ------
        InputError
            If the gap boils at the highest of them.

        Examples
        --------
        >>> from thermsim import GasGap, Headspace
        >>> Headspace.of_gas(GasGap("humid", 0.012, 0.92, 0.85, sealed_at=80.0), (40.0, 121.0)).model
        'humid'
        """
        low, high = met
        return cls(gap.model, gap_material(gap, low=low - 1.0, high=max(high, low + 1.0) + 1e-6), gap)

    def faults(self, path: str = "headspace", *, left: float) -> Iterator[Fault]:
        """Faults where it was made for another room than is left above the product [m]."""
        unknown = [*word_faults(self.model, f"{path}.model", HEADSPACE_MODELS)]
        yield from unknown
        if unknown:
            return
        rule = ""
        if self.model in ("air", "humid"):
            if self.gap is None or self.material is None:
                rule = f'"{self.model}" needs its gap and the material made from it: see Headspace.of_gas'
            elif abs(self.gap.thickness - left) > ROUNDING:
                rule = (
                    f"its gap is {in_mm(self.gap.thickness)} mm high, but {in_mm(left)} mm are left above the "
                    "product: make it anew by Headspace.of_gas"
                )
        elif self.model == "fixed" and self.material is None and left > ROUNDING:
            rule = f'"fixed" needs a material: {in_mm(left)} mm are left above the product'
        elif self.model == "insulated" and self.material is not None:
            rule = f'"insulated" takes no material, but names {printed(self.material.name)}; "fixed" takes one'
        if rule:
            yield Fault(path, WHOLE, rule)


def fill_faults(filled: object, container: Container) -> Iterator[Fault]:
    """Faults of a product of a depth [m] that does not cover the base, or leaves a headspace not worth its name."""
    if not is_number(filled):
        yield Fault("fill_height", filled, "is not a finite number")
        return
    depth, height = float(filled), container.inner_height  # type: ignore[arg-type]
    left, rule = height - depth, ""
    if left < -ROUNDING:
        rule = f"is more than the container's inner height, {in_mm(height)} mm"
    elif depth <= ROUNDING:
        rule = f"leaves no room for a product; the container is {in_mm(height)} mm high inside"
    elif container.rise is not None and depth < container.crown + SHALLOWEST - ROUNDING:
        rule = (
            f"does not cover the base, which rises to {in_mm(container.crown)} mm; the product must be at least "
            f"{in_mm(container.crown + SHALLOWEST)} mm deep"
        )
    elif depth < SHALLOWEST - ROUNDING:
        rule = f"fills {1000 * depth:.3g} mm of the container; at least {in_mm(SHALLOWEST)} mm are needed"
    elif ROUNDING < left < THINNEST_HEADSPACE - ROUNDING:
        rule = (
            f"leaves a headspace of {in_mm(left)} mm; it must be none at all or at least "
            f"{in_mm(THINNEST_HEADSPACE)} mm"
        )
    if rule:
        yield Fault("fill_height", depth, rule, "m")
