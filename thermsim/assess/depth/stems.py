"""Effects of stems of other diameters, and of other conductivities, at a recommended depth."""

from __future__ import annotations

import dataclasses
import functools
import itertools

from thermsim.assess.depth.insertion import Climb
from thermsim.assess.probe.advice import Stem
from thermsim.case.case import Case
from thermsim.case.mounting import heights_for, most_width
from thermsim.case.probe import Probe, Segment
from thermsim.physics.materials import Material

#: Stems that are looked at beside the probe's own: diameters as parts of it, and conductivities along them [W/mK].
STEM_SCALES = (0.5, 0.75, 1.0, 1.5, 2.0)
STEM_CONDUCTIVITIES = (0.25, 2.0, 15.0, 50.0)


def other_stems(climb: Climb, probe: Probe, depth: float) -> tuple[Stem, ...]:
    """Effects of stems of other diameters, and of other conductivities, at a depth [m].

    Of a logger inside, the last segment is varied; of a probe through the wall, the whole stack.

    Returns
    -------
    tuple of Stem
        First the diameters, growing, then the conductivities, growing; both hold the probe as it is.
    """
    tip = probe.segments[-1]
    widest = 0.8 * climb.case.container.profile.narrowest
    diameters = [
        tip.diameter * part
        for part in STEM_SCALES
        if tip.diameter * part < widest and _fits_side(climb.case, _with_stem(probe, part, 1.0))
    ]
    own = conductivity_along(tip)
    conductivities = sorted({*STEM_CONDUCTIVITIES, own})
    varied = [(diameter, own) for diameter in diameters]
    varied += [(tip.diameter, conductivity) for conductivity in conductivities]

    @functools.cache  # both rows hold the probe as it is
    def stem(diameter: float, conductivity: float) -> Stem:
        other = _with_stem(probe, diameter / tip.diameter, conductivity / own)
        rung = climb.steps(other, [depth])[0].rung
        bias = rung.heating_lethality / rung.without_heating - 1.0
        return Stem(diameter, conductivity, bias, rung.end_of_heating - rung.without_end)

    return tuple(itertools.starmap(stem, varied))


def conductivity_along(segment: Segment) -> float:
    """Conductivity along a segment: of a tube and its core the mean over the section [W/mK]."""
    if segment.wall is None or segment.core is None:
        return segment.material.conductivity
    core = (1.0 - segment.wall / segment.radius) ** 2
    return (1.0 - core) * segment.material.conductivity + core * segment.core.conductivity


def _with_stem(probe: Probe, wider: float, better: float) -> Probe:
    """The probe with its stem so many times wider and so many times better conducting."""

    def changed(segment: Segment) -> Segment:
        def conducting(material: Material) -> Material:
            return dataclasses.replace(material, conductivity=material.conductivity * better)

        return dataclasses.replace(
            segment,
            diameter=segment.diameter * wider,
            wall=None if segment.wall is None else segment.wall * wider,
            material=conducting(segment.material),
            core=None if segment.core is None else conducting(segment.core),
        )

    kept = probe.segments[:-1] if probe.mount == "inside" else ()
    segments = (*kept, *(changed(segment) for segment in probe.segments[len(kept) :]))
    fitting = probe.fitting
    if fitting is not None:
        widest = max(segment.diameter for segment in segments)
        fitting = dataclasses.replace(fitting, diameter=max(fitting.diameter, 1.2 * widest))
    return dataclasses.replace(probe, segments=segments, fitting=fitting)


def _fits_side(case: Case, probe: Probe) -> bool:
    """Tell whether a probe from the side is narrow enough for its place; every other is looked at elsewhere."""
    if probe.entry != "side" or probe.z is None:
        return True
    low, high = heights_for(probe, case.container, case.surface)
    return low <= probe.z <= high and probe.widest <= most_width(probe, case.container)
