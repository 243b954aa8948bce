"""The section of a brick along a probe through its edge, drawn like that of a straight container as wide as that."""

from __future__ import annotations

import dataclasses
import math

from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.case.profile import straight


def as_cut(result: Result) -> Result:
    """The result as its section shows it: of a brick with a probe through its edge cut along that, else as it is.

    Its cold spots are those of the brick, as far from the middle along the probe as they lie.
    """
    brick, probe = result.brick, result.probe.probe if result.probe else result.case.probe
    container = result.case.container
    if brick is None or probe is None or probe.entry != "side" or container.brick is None:
        return result
    half = container.halves(probe.edge)[0]
    lengthwise = container.lengthwise(probe.edge)
    least, slowest = (
        dataclasses.replace(spot, r=own.x if lengthwise else own.y)
        for spot, own in zip(result.both_spots, (brick.least_lethality, brick.slowest_heating), strict=True)
    )
    drawn = dataclasses.replace(container, profile=straight(2 * half, container.inner_height))
    apart = math.hypot(least.r - slowest.r, least.z - slowest.z)
    return dataclasses.replace(
        result,
        case=result.case.replace(container=drawn, points=()),
        cold_spot=dataclasses.replace(
            result.cold_spot, least_lethality=least, slowest_heating=slowest, distance=apart, alike=None
        ),
    )


def across(container: Container) -> str:
    """Name of a section's width: the diameter, or the side of a brick that it is cut along."""
    if container.brick is None:
        return "diameter"
    wide = 2 * container.profile.narrowest
    sides = zip(("length", "width"), container.brick, strict=False)
    return next((name for name, side in sides if math.isclose(side, wide)), "diameter")
