"""Effects of stems of other diameters, and of other conductivities, at a recommended depth."""

from __future__ import annotations

import dataclasses
import functools
import itertools

from thermsim.assess.depth.insertion import Climb
from thermsim.assess.depth.limits import set_to
from thermsim.assess.probe.advice import Stem
from thermsim.case.case import Case
from thermsim.case.mounting import mounting_faults
from thermsim.case.probe import Probe, Segment
from thermsim.errors import InputError
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
    own, widest = conductivity_along(tip), 0.8 * climb.case.container.profile.narrowest
    varied = [(tip.diameter * part, own) for part in STEM_SCALES if tip.diameter * part < widest]
    varied += [(tip.diameter, conductivity) for conductivity in sorted({*STEM_CONDUCTIVITIES, own})]

    @functools.cache  # both rows hold the probe as it is
    def stem(diameter: float, conductivity: float) -> Stem | None:
        other = _with_stem(probe, diameter / tip.diameter, conductivity / own)
        if other is None or not _fits(climb.case, other, depth):
            return None
        rung = climb.steps(other, [depth])[0].rung
        bias = rung.heating_lethality / rung.without_heating - 1.0
        return Stem(diameter, conductivity, bias, rung.end_of_heating - rung.without_end)

    return tuple(one for one in itertools.starmap(stem, varied) if one)


def conductivity_along(segment: Segment) -> float:
    """Conductivity along a segment: of a tube and its core the mean over the section [W/mK]."""
    if segment.wall is None or segment.core is None:
        return segment.material.conductivity
    core = (1.0 - segment.wall / segment.radius) ** 2
    return (1.0 - core) * segment.material.conductivity + core * segment.core.conductivity


def _with_stem(probe: Probe, wider: float, better: float) -> Probe | None:
    """The probe with its stem so many times wider and so many times better conducting; None where none is such."""

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
    try:
        segments = (*kept, *(changed(segment) for segment in probe.segments[len(kept) :]))
    except InputError:  # thinner than any wire, or a core that conducts better than any metal
        return None
    fitting, most = probe.fitting, max(segment.diameter for segment in segments)
    if fitting is not None:
        wide = fitting.diameter if most < fitting.diameter else 1.2 * most
        fitting = dataclasses.replace(fitting, diameter=wide, hole=None)
    return dataclasses.replace(probe, segments=segments, fitting=fitting)


def _fits(case: Case, probe: Probe, depth: float) -> bool:
    """Tell whether a probe finds room at a depth [m]."""
    placed = set_to(case, probe, depth)
    return not any(mounting_faults(placed, "probe", case.container, case.fill_height))
