"""Effect of a probe: how far its reading is off, while heating and in cooling, and what it does to the product.

A metal stem leads heat in while heating, so its tip reads high: the unsafe side. In cooling it leads heat out and
reads low. Over the whole process the two errors partly cancel and can hide each other, so both are always given.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.heat_penetration import Factors, factors_uncertainty, heating_factors
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.family import Fields
from thermsim.assess.fields.reading import Reading, Sensor
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.probe.advice import Ladder
from thermsim.assess.spots.cold_spot import ProductFields, Spot, least_lethality
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.case.process import Stage
from thermsim.solve.grid.grid import Grid
from thermsim.values import UNSTORED, Sealed

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bias:
    """A reading less what it is held against.

    ``lethality``, ``heating_lethality`` and ``cooling_lethality`` are fractions of what it is held against: of the
    whole process, until heating ends, and after. ``temperature`` is the largest difference while heating, signed [K],
    at ``temperature_time`` [s]; ``cooling_temperature`` likewise in cooling (0 without cooling); ``end_of_heating``
    the difference when heating ends [K].
    """

    lethality: float
    heating_lethality: float
    cooling_lethality: float
    temperature: float
    temperature_time: float
    cooling_temperature: float
    cooling_temperature_time: float
    end_of_heating: float


@dataclass(frozen=True, eq=False)
class StemSection(Sealed):
    """The plane through the axes of the container and of a probe from the side, on the finer grid about the stem.

    Parameters
    ----------
    x : ndarray, shape (n_x,)
        Distance from the container's axis towards the entry [m], below 0 beyond it.
    z : ndarray, shape (n_z,)
        Height above the outside of the base [m].
    end_of_heating, without_probe : ndarray, shape (n_x, n_z)
        Temperature when heating ends, with the probe and without it [degC]; NaN where nothing conducts.
    lethality : ndarray, shape (n_x, n_z)
        Of the whole process with the probe [s]; NaN outside the product.
    nodes : int
        Of the grid about the stem, half of it being the mirror image of the other.
    """

    x: Array
    z: Array
    end_of_heating: Array
    without_probe: Array
    lethality: Array
    nodes: int


@dataclass(frozen=True, eq=False)
class ProbeEffect(Sealed):
    """Reading of a probe and its effect.

    Parameters
    ----------
    probe : Probe
        The probe, its insertion known.
    depth : float
        Outer face of the entered wall to the tip [m].
    reading : Curve
        What it reads; its place is the tip's face.
    without_probe : Curve
        The mean over the same volume in the container without the probe.
    at_place, at_cold_spot : Bias
        The reading against the same place without the probe, and against the undisturbed least-lethality place.
    factors, factors_without : Factors or None
        Heat-penetration factors of the reading, and without the probe; None where the medium varies or the curve ends
        before its straight part.
    least_lethality : Spot
        The product's own least-lethality place with the probe in it.
    moved : float
        How far that lies from the undisturbed one [m].
    beside_stem : bool
        Whether it lies on the probe's surface.
    grid : Grid or None
        The grid with the probe; None for one from the side, as are the two fields on it.
    end_of_heating : ndarray or None, shape (n_r, n_z)
        Temperature when heating ends [degC]; NaN where nothing conducts.
    lethality : ndarray or None, shape (n_r, n_z)
        Lethality [s]; NaN outside the product.
    section : StemSection or None
        Of a probe from the side: the plane through its axis and the container's.
    ladder : Ladder or None
        What the probe reads at other depths, where its depth was recommended; part of the advice, and kept there.
    """

    probe: Probe
    depth: float
    reading: Curve
    without_probe: Curve
    at_place: Bias
    at_cold_spot: Bias
    factors: Factors | None
    factors_without: Factors | None
    least_lethality: Spot
    moved: float
    beside_stem: bool
    grid: Grid | None
    end_of_heating: Array | None
    lethality: Array | None
    section: StemSection | None = None
    ladder: Ladder | None = field(default=None, metadata={UNSTORED: True})


def probe_effects(case: Case, undisturbed: Refined, probed: Refined, spots: Sequence[Curve]) -> list[ProbeEffect]:
    """Hold a probe's reading against the container without it.

    Parameters
    ----------
    case : Case
        With its probe, the insertion known.
    undisturbed, probed : Refined
        The container without and with the probe.
    spots : sequence of Curve
        What happens at the undisturbed least-lethality place, in all three ways: see :func:`by_all`.

    Returns
    -------
    list of ProbeEffect
        From the best fields, those one refinement earlier, and through time less well.
    """
    if case.probe is None or probed.readings is None:
        raise ValueError("the case has no probe")
    ways = zip(
        (undisturbed.best, undisturbed.coarser, undisturbed.looser),
        (probed.best, probed.coarser, probed.looser),
        probed.readings,
        spots,
        strict=True,
    )
    return [
        _effect(case, undisturbed.grid, probed.grid, fields, with_probe, reading, probed.time, spot)
        for fields, with_probe, reading, spot in ways
    ]


def by_all(undisturbed: Refined, cold_spot: Curve) -> list[Curve]:
    """Course and figures of the undisturbed cold spot: the best, one refinement earlier, through time less well."""
    found = [cold_spot]
    for fields in (undisturbed.coarser, undisturbed.looser):
        product = ProductFields.of(undisturbed.grid, fields)
        there = product.spot_at(cold_spot.r, cold_spot.z)
        gathered = {name: getattr(there, name) for name in ("lethality", "heating_lethality", "end_of_heating")}
        course = product.courses_at([(cold_spot.r, cold_spot.z)])[:, 0]
        found.append(replace(cold_spot, temperature=course, **gathered))
    return found


def _effect(
    case: Case,
    grid: Grid,
    probed_grid: Grid,
    fields: Fields,
    with_probe: Fields,
    reading: Reading,
    time: Array,
    cold_spot: Curve,
) -> ProbeEffect:
    """The effect from one set of fields."""
    probe = case.probe
    if probe is None:
        raise ValueError("the case has no probe")
    depth, tip = probe.depth(case.container), probe.tip(case.container)
    if depth is None or tip is None:
        raise ValueError("the probe's insertion is not known yet")
    sensor = Sensor(probe.tip_radius, *probe.sensed(case.container))
    same_place = Reading.unstack(ProductFields.of(grid, fields).stack_at(*sensor.places()))
    read, without = (
        curve_of(name, (0.0, tip), part, time) for name, part in (("reading", reading), ("without", same_place))
    )
    product = ProductFields.of(probed_grid, with_probe)
    least = least_lethality(product)[0]
    heated_until = case.process.heated_until
    return ProbeEffect(
        probe=probe,
        depth=depth,
        reading=read,
        without_probe=without,
        at_place=bias_of(read, without, heated_until),
        at_cold_spot=bias_of(read, cold_spot, heated_until),
        factors=factors_of(case, read),
        factors_without=factors_of(case, without),
        least_lethality=least,
        moved=math.hypot(least.r - cold_spot.r, least.z - cold_spot.z),
        beside_stem=_touches_probe(probed_grid, least),
        grid=probed_grid,
        end_of_heating=np.where(probed_grid.active, with_probe.end_of_heating, np.nan),
        lethality=np.where(probed_grid.product_nodes, np.exp(with_probe.log_lethality), np.nan),
    )


def bias_of(reading: Curve, truth: Curve, heated_until: float) -> Bias:
    """The bias of a reading against what it should have read, both at the same output times."""
    difference = reading.temperature - truth.temperature
    heating = reading.time <= heated_until
    largest, when = _largest(reading.time[heating], difference[heating])
    cooling_largest, cooling_when = _largest(reading.time[~heating], difference[~heating])
    gained, true_gain = (curve.lethality - curve.heating_lethality for curve in (reading, truth))
    return Bias(
        lethality=reading.lethality / truth.lethality - 1.0,
        heating_lethality=reading.heating_lethality / truth.heating_lethality - 1.0,
        cooling_lethality=gained / true_gain - 1.0 if true_gain > 0.0 else 0.0,
        temperature=largest,
        temperature_time=when,
        cooling_temperature=cooling_largest,
        cooling_temperature_time=cooling_when,
        end_of_heating=reading.end_of_heating - truth.end_of_heating,
    )


def _largest(time: Array, difference: Array) -> tuple[float, float]:
    """The largest difference in size, with its sign, and when."""
    if difference.size == 0:
        return 0.0, 0.0
    k = int(np.abs(difference).argmax())
    return float(difference[k]), float(time[k])


def curve_of(name: str, place: tuple[float, float], reading: Reading, time: Array) -> Curve:
    """A reading as a curve at a place r, z [m]."""
    return Curve(
        name,
        *place,
        math.exp(reading.log_lethality),
        math.exp(reading.log_heating),
        reading.end_of_heating,
        time,
        reading.temperature,
    )


def factors_of(case: Case, curve: Curve) -> Factors | None:
    """Heat-penetration factors over the last stage of heating, if the medium is constant in it."""
    stage = straight_stage(case)
    if stage is None:
        return None
    medium, during = float(stage.medium[0]), _during(stage, curve)
    return heating_factors(curve.time[during], curve.temperature[during], medium=medium, start=case.product.initial)


def factors_uncertainty_of(
    case: Case, curve: Curve, unsure: Array, worst: Sequence[float]
) -> tuple[float, float] | None:
    """Uncertainty of both from the ways in which the curve's temperatures may be off [K], shape (k, n_t).

    ``worst`` is what counts of the worst signs of each.
    """
    stage = straight_stage(case)
    if stage is None:
        return None
    medium, during = float(stage.medium[0]), _during(stage, curve)
    return factors_uncertainty(
        curve.time[during],
        curve.temperature[during],
        unsure[:, during],
        worst,
        medium=medium,
        start=case.product.initial,
    )


def straight_stage(case: Case) -> Stage | None:
    """The last stage of heating, if the medium is constant in it and not the product's own temperature."""
    heating = [stage for stage in case.process.stages if stage.end <= case.process.heated_until]
    if not heating or np.ptp(heating[-1].medium) > 0.01:
        return None
    return None if abs(float(heating[-1].medium[0]) - case.product.initial) < 1.0 else heating[-1]


def _during(stage: Stage, curve: Curve) -> NDArray[np.bool_]:
    return np.asarray((curve.time >= stage.start) & (curve.time <= stage.end))


def _touches_probe(grid: Grid, spot: Spot) -> bool:
    """Tell whether a place lies on the probe's surface."""
    if spot.inside:
        return False
    near = 1e-4
    around: Sequence[tuple[float, float]] = [
        (spot.r + a * near, spot.z + b * near) for a in (-1, 0, 1) for b in (-1, 0, 1)
    ]
    return any(grid.holds_probe(r, z) for r, z in around)
