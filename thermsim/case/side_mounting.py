"""Whether a probe from the side fits its container: straight containers, and product all round it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from thermsim.case.container import Container
from thermsim.case.probe import Probe
from thermsim.physics.materials import Material
from thermsim.text import in_mm, printed

#: Product that must be left above and below a probe from the side [m].
CLEAR_OF_ENDS = 2e-3
#: A probe from the side is at most this part of the inner radius wide: beyond it is no slender body in the product.
WIDEST = 0.6
_ROUNDING = 1e-9  # m


def unfit_container(container: Container) -> str:
    """Why no probe from the side can be computed in a container; "" where it can."""
    if container.stands_in:
        return "a probe from the side is not handled in a brick or a pouch, which is computed as its bounds"
    if not container.is_straight:
        return "a probe from the side is handled in straight containers with a level base and an even side wall alone"
    return ""


def heights_for(probe: Probe, container: Container, surface: float) -> tuple[float, float]:
    """Lowest and highest z of the axis of a probe from the side [m]; ``surface`` is the product's z [m]."""
    clear = probe.widest / 2 + CLEAR_OF_ENDS
    return container.floor + clear, surface - clear


def most_width(container: Container) -> float:
    """Largest diameter of a probe from the side that is handled [m]."""
    return WIDEST * container.profile.narrowest


def at_height(probe: Probe, z: float, container: Container, surface: float) -> Probe:
    """A probe from the side whose height is left open, at that height [m] or the nearest possible; others as is."""
    if probe.entry != "side" or probe.z is not None:
        return probe
    low, high = heights_for(probe, container, surface)
    return probe.at_height(min(max(z, low), high))


def _misfits(probe: Probe, container: Container, surface: float) -> Iterator[str]:
    """Where a probe from the side is too wide, or too near to the product's ends."""
    low, high = heights_for(probe, container, surface)
    most = most_width(container)
    wide = f"the probe with its fitting and gap is {in_mm(probe.widest)} mm wide"
    if probe.widest > most + _ROUNDING:
        yield f"{wide}; from the side at most {in_mm(most)} mm are handled in this container"
    elif low > high:
        yield (
            f"{wide}: with the {in_mm(CLEAR_OF_ENDS)} mm of product that must be left above and below it, it does "
            "not fit the product from the side"
        )
    elif probe.z is not None and not low - _ROUNDING <= probe.z <= high + _ROUNDING:
        yield (
            f"z_mm = {in_mm(probe.z)} does not leave {in_mm(CLEAR_OF_ENDS)} mm of product above and below the probe; "
            f"it must be from {in_mm(low)} to {in_mm(high)} mm"
        )


def changing(probe: Probe, container: Container, product: Material) -> str:
    """What of a case with a probe from the side changes with temperature and may not; "" where nothing does."""
    wall = container.side.material if container.side else None
    parts = [product, wall, *(part for one in probe.segments for part in (one.material, one.core))]
    parts += [part.material for part in (probe.fitting, probe.gap) if part]
    for material in parts:
        if material is not None and material.courses is not None:
            return (
                f"a probe from the side is not handled where properties change with temperature, as those of "
                f"{printed(material.name)} do; give them as numbers, or take the lid or the base"
            )
    return ""


def side_faults(probe: Probe, container: Container, product: Material, surface: float) -> Iterator[str]:
    """The same of a case built in Python: what the solver cannot place."""
    named = f"probe {printed(probe.name)}"
    found = unfit_container(container)
    if found:
        yield f"{named}: {found}"
        return
    if probe.z is not None and not math.isfinite(probe.z):
        yield f"{named}: z = {printed(probe.z)} must be the height of its axis, a finite number in m"
        return
    for fault in _misfits(probe, container, surface):
        yield f"{named}: {fault}"
        return
    found = changing(probe, container, product)
    if found:
        yield f"{named}: {found}"
    tip, inner = probe.tip(container), container.profile.narrowest
    if tip is not None and not -inner - _ROUNDING <= tip < inner:
        yield (
            f"{named}: its tip is {in_mm(abs(tip))} mm from the axis and not in the product, whose radius is "
            f"{in_mm(inner)} mm"
        )
