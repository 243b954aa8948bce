"""Fit of a probe from the side in its container: straight ones and bricks, and product all round it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

from thermsim.case.container import Container
from thermsim.case.keys.tables import EDGES
from thermsim.case.probe import Probe
from thermsim.case.rules import ROUNDING
from thermsim.errors import WHOLE, Fault
from thermsim.text import in_mm

#: Product that must be left above and below a probe from the side [m].
CLEAR_OF_ENDS = 2e-3
#: A probe from the side is at most this part of the inner radius wide: beyond it is no slender body in the product.
WIDEST = 0.6


def heights_for(probe: Probe, container: Container, surface: float) -> tuple[float, float]:
    """Lowest and highest z of the axis of a probe from the side [m]; ``surface`` is the product's z [m]."""
    clear = probe.widest / 2 + CLEAR_OF_ENDS
    return container.floor + clear, surface - clear


def most_width(probe: Probe, container: Container) -> float:
    """Largest diameter of a probe from the side that is handled [m]."""
    return WIDEST * container.halves(probe.edge)[1]


def at_height(probe: Probe, z: float, container: Container, surface: float) -> Probe:
    """A probe from the side whose height is left open, at that height [m] or the nearest possible; others as is.

    One into a brick says then which edge it enters.
    """
    if probe.entry == "side" and container.brick is not None and not probe.edge:
        probe = dataclasses.replace(probe, edge=EDGES[0])
    if probe.entry != "side" or probe.z is not None:
        return probe
    low, high = heights_for(probe, container, surface)
    return probe.at_height(min(max(z, low), high))


def side_faults(probe: Probe, path: str, container: Container, surface: float) -> Iterator[Fault]:
    """Reasons why a probe from the side cannot be computed where the product ends at z = ``surface`` [m]."""
    unfit = ""
    if probe.edge and container.brick is None:
        yield Fault(f"{path}.edge", probe.edge, "has a meaning only in a brick; leave it out")
    if container.stands_in and container.brick is None:
        unfit = "a probe from the side is not handled where a cylinder stands in for what is packed"
    elif not container.is_straight:
        unfit = (
            "a probe from the side is handled in straight containers with a level base and an even side wall alone"
        )
    if unfit:
        yield Fault(f"{path}.entry", probe.entry, f": {unfit}; take the lid or the base")
        return
    low, high = heights_for(probe, container, surface)
    most = most_width(probe, container)
    wide = f"the probe with its fitting and gap is {in_mm(probe.widest)} mm wide"
    if probe.widest > most + ROUNDING:
        rule = f"{wide}; from the side at most {in_mm(most)} mm are handled in this container"
        yield Fault(path, WHOLE, rule)
    elif low > high:
        yield Fault(
            path,
            WHOLE,
            f"{wide}: with the {in_mm(CLEAR_OF_ENDS)} mm of product that must be left above and below it, it does "
            "not fit the product from the side",
        )
    elif probe.z is not None and not low - ROUNDING <= probe.z <= high + ROUNDING:
        yield Fault(
            f"{path}.z",
            probe.z,
            f"does not leave {in_mm(CLEAR_OF_ENDS)} mm of product above and below the probe; it must be from "
            f"{in_mm(low)} to {in_mm(high)} mm",
            "m",
        )
