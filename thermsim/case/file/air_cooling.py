"""Cooling in still air: film coefficients of free convection and radiation for a container of its own size."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from typing import Literal

import numpy as np

from thermsim.case.container import Container
from thermsim.case.process import Film, Process, Stage
from thermsim.physics.films import FreeFilm, air_film, find_film, radiated

#: The medium that these films are of.
STILL_AIR = "still air"
#: Emissivity of a surface that radiates well: glass, plastic, lacquer, paper (from memory).
RADIANT = 0.95
#: The container has come this near to the air's temperature, as a part of the first difference, at the low end.
NEARER = 0.25
#: A smaller difference of temperature [K] says nothing of free convection.
LEAST_DIFFERENCE = 5.0

Facing = Literal["side", "up", "down"]
_SURFACES: tuple[Facing, ...] = ("side", "down", "up")


def still_air(container: Container, surface: float, air: float) -> Film:
    """Film coefficients of a container that stands in still air.

    Low end: free convection when the surface has come to a quarter of the first difference, without radiation
    (bright metal). High end: that at the whole difference, and radiation of emissivity 0.95. The middle is their
    geometric mean. How the ends were chosen is own reasoning, no source. The lengths are the container's outer height
    and its widest outside, the temperatures those at the start of this cooling [degC].
    """
    cooled = air + NEARER * (surface - air)
    side, down, up = (_free(container, cooled, air, facing) for facing in _SURFACES)
    most = [_free(container, surface, air, facing) + radiated(surface, air, RADIANT) for facing in _SURFACES]
    middle = [math.sqrt(low * high) for low, high in zip((side, down, up), most, strict=True)]
    return Film(middle[0], middle[1], middle[2], low=(side, down, up), high=(most[0], most[1], most[2]))


def air_cooled(process: Process, container: Container, notes: list[str]) -> Process:
    """The process with the films of still air worked out for the container, where a stage names that medium.

    The surface is taken to begin at the temperature of the medium before the air, the air to be as warm as it is on
    average over the stage. Where that is nearly as warm, or the container's size is not known, the usual range of
    still air stays.
    """
    usual = find_film(STILL_AIR)
    sized = not math.isnan(container.outer_radius + container.outer_height)
    stages: list[Stage] = []
    before = -math.inf
    for stage in process.stages:
        air = _mean(stage) if stage.film.low == (usual.low,) * 3 and sized else math.inf
        if before - air >= LEAST_DIFFERENCE:
            film = dataclasses.replace(still_air(container, before, air), probe=stage.film.probe)
            stages.append(dataclasses.replace(stage, film=film))
            notes += _told(container, film, before, air)
        else:
            before = float(stage.medium[-1])
            stages.append(stage)
    return dataclasses.replace(process, stages=tuple(stages))


def _mean(stage: Stage) -> float:
    """Mean of the medium's temperature over a stage [degC]; NaN where its times are at fault."""
    length = stage.end - stage.start
    steps = np.diff(stage.time) / length if 0.0 < length < math.inf else np.full(stage.time.size - 1, math.nan)
    return float((stage.medium[1:] + stage.medium[:-1]) / 2.0 @ steps)


def _free(container: Container, surface: float, air: float, facing: Facing) -> float:
    """Free convection alone [W/m2K]; that of the side where a disc's correlation does not hold."""
    found = _correlated(container, surface, air, facing)
    return found.film if found.within else _correlated(container, surface, air, "side").film


def _correlated(container: Container, surface: float, air: float, facing: Facing) -> FreeFilm:
    size = container.outer_height if facing == "side" else 2.0 * container.outer_radius
    return air_film(surface, air, size=size, facing=facing)


def _told(container: Container, film: Film, surface: float, air: float) -> Iterator[str]:
    side = _correlated(container, surface, air, "side")
    low, high = film.low or (film.side,) * 3, film.high or (film.side,) * 3
    yield (
        f"Still air at {air:g} degC round a container at {surface:g} degC and {1e3 * container.outer_height:.0f} mm "
        f"high: in place of the usual value the side's heat-transfer coefficient is {film.side:.2g} W/m2K, "
        f"{low[0]:.2g} W/m2K (free convection when a quarter of the difference is left) to {high[0]:.2g} W/m2K (at "
        f"first, with radiation of emissivity {RADIANT:g}); the base's {film.base:.2g} W/m2K, the lid's "
        f"{film.lid:.2g} W/m2K. Computed here: "
        f"{side.correlation}, and of McAdams for level discs where they hold (from memory)."
    )
