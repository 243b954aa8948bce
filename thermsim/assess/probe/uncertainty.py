"""Uncertainty of a probe's figures: the same from a coarser computation and from looser time steps."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.error_estimate import (
    APART,
    COMMON,
    GATHERED,
    LEFT,
    PLACE,
    QUARTER,
    USUAL,
    corner_of,
    cubics_of,
    curve_uncertainty,
    edge_of,
    end_of,
    gathering,
    left_by,
    nearby,
    slowness,
    spread,
)
from thermsim.assess.fields.refinement import COUNTED, Readings, Refined, differences
from thermsim.assess.probe.effect import Bias, ProbeEffect, factors_uncertainty_of
from thermsim.case.case import Case

Array = NDArray[np.float64]

#: What counts of the worst signs that the ways to be off may take on a straight line: alike all along it, by coarser
#: grids, as these turn it smoothly, and by looser steps, which scatter. Choices, made on drawn cases: of seed 29 of
#: the benchmark ``honesty``.
WORST = (0.25, 0.1, 0.75)

#: What counts beside a corner of the difference to the coarser lethality of the product's own cold spot, and of the
#: typical one nearby, where it lies inside the product: least there, it does not change with its place. Likewise.
IN_A_CORNER = 1.0 / 3.0

#: What counts of the differences of what is read: more than of other places, as errors about the edge of a tip are
#: all of one sign. Likewise: of seeds 29 and 37.
READ = 3.0 / 16.0, 1.0 / 3.0
#: What counts, for a reading's lethality in all, of what that while heating is uncertain by, and of the difference to
#: the coarser one: errors that a jump into cooling leaves fall fast, those about the edge of a tip do not. Likewise:
#: of seeds 37 and 45.
IN_READING = 0.8, 1.0 / 50.0
#: What counts, beside that of a bias otherwise, of what coarser grids change of one in all, of which what jumps leave
#: is a small part; and of what both change where it is largest: they change most at other times. Choices likewise: of
#: seeds 17 and 23.
IN_ALL, AT_LARGEST = 0.6, 0.7

NOWHERE: Mapping[str, Array] = MappingProxyType({})
BIAS_FIGURES = (
    "lethality",
    "heating_lethality",
    "cooling_lethality",
    "temperature",
    "cooling_temperature",
    "end_of_heating",
)


def uncertainty_of(
    best: ProbeEffect,
    others: Sequence[ProbeEffect],
    case: Case,
    *,
    tolerance: float,
    known: Mapping[str, float],
    counted: tuple[float, float] = QUARTER,
    slow: float = 1.0,
    without: float = 1.0,
    near: Mapping[str, Array] = NOWHERE,
    spots: Sequence[Curve] | None = None,
) -> dict[str, float]:
    """Numerical uncertainty of an effect's figures by their dotted names below ``probe.``.

    Parameters
    ----------
    best : ProbeEffect
    others : pair of ProbeEffect
        The same by a coarser and by a looser computation.
    case : Case
    tolerance : float
        Of the time steps [K].
    known : mapping of str to float
        Uncertainties of the container without the probe: what a reading is held against is uncertain too.
    counted : pair of float, optional
        What counts of the differences to the two.
    slow : float, optional
        So many times more of that to the coarser one: see :func:`thermsim.assess.fields.error_estimate.slowness`.
    without : float, optional
        The same of the reading's place without the probe, where no tip has an edge.
    near : mapping of str to ndarray, optional
        Of the reading, of its place without the probe, and of the least-lethality place with it: see
        :func:`thermsim.assess.fields.error_estimate.nearby`.
    spots : sequence of Curve, optional
        The undisturbed least-lethality place by all three computations, where each has its own.
    """
    figures, plain = figures_of(best), [figures_of(other) for other in others]
    # heat-penetration factors that another way of computing did not find have no uncertainty
    figures = {name: value for name, value in figures.items() if all(name in other for other in plain)}
    thirds = COUNTED if counted == QUARTER else counted
    found = differences(figures, plain, (slow * thirds[0], thirds[1]))
    # about the edge of a tip errors fall slowly, whether all figures are seen to or not
    at_edge = max(slow, left_by(edge_of(case)))
    how = _How(case, tolerance, counted, cubics_of(case.probe), slow, without, at_edge, near)
    ways = (best, *others)
    found |= _of_curve("reading", ways, how) | _of_curve("without_probe", ways, how)
    for name, curve in (("factors", "reading"), ("factors_without", "without_probe")):
        known_to = _of_factors(curve, ways, how) if f"{name}.f" in found else None
        if known_to is not None:
            found |= {f"{name}.{figure}": value for figure, value in zip("fj", known_to, strict=True)}
    found |= _of_own_cold_spot(ways, figures, plain, thirds, how)

    read, place = (_relative(found, name, getattr(best, name)) for name in ("reading", "without_probe"))
    found |= _of_bias("at_place", [(one.at_place, one.reading, one.without_probe) for one in ways], found, how)
    for figure, one in read.items():
        # errors of both cancel at most as far as the smaller goes, and those about the edge of a tip not at all
        alone = (1.0 - slow / at_edge) * one if near and figure != "lethality" else 0.0
        name = f"at_place.{figure}"
        found[name] = max(found[name], _beyond(best.at_place, figure) * max(abs(one - place[figure]), alone))
    if spots is None:
        return found | _against_the_cold_spot(best, others, found, known, how)
    names = {name: value for name, value in figures.items() if name.startswith("at_cold_spot.")}
    against = [(way.at_cold_spot, way.reading, spot) for way, spot in zip(ways, spots, strict=True)]
    found |= _of_bias("at_cold_spot", against, differences(names, plain, how.slowed), how)
    held_to = _relative(known, "cold_spot.least_lethality", spots[0])
    for figure in ("heating_lethality", "end_of_heating"):  # of all of it the course of the difference tells enough
        name, one, other = f"at_cold_spot.{figure}", read[figure], held_to[figure]
        least = max(abs(one - other), APART * math.hypot(one, other))
        found[name] = max(found[name], _beyond(best.at_cold_spot, figure) * least)
    return found


@dataclass(frozen=True)
class _How:
    """Circumstances of a probe that is computed, as :func:`uncertainty_of` has them.

    ``cubics`` are time tolerances that a lethality's temperatures may be off by, ``at_edge`` how many times more than
    usual counts of what coarser grids change about the edge of the tip.
    """

    case: Case
    tolerance: float
    counted: tuple[float, float]
    cubics: float
    slow: float = 1.0
    without: float = 1.0
    at_edge: float = 1.0
    near: Mapping[str, Array] = field(default_factory=lambda: NOWHERE)

    @property
    def slowed(self) -> tuple[float, float]:
        """Parts of the differences of courses to the coarser and to the looser one that count."""
        return self.slow * self.counted[0], self.counted[1]


def _of_curve(name: str, ways: Sequence[ProbeEffect], how: _How) -> dict[str, float]:
    """Uncertainties of the reading, or of its place without the probe, by the figures' dotted names."""
    best, *others = (getattr(way, name) for way in ways)
    is_read = name == "reading"
    read_near = bool(how.near) and is_read
    found = curve_uncertainty(
        best,
        others,
        lethality=how.case.lethality,
        heated_until=how.case.process.heated_until,
        tolerance=how.tolerance,
        counted=how.counted if name not in how.near else READ if read_near else PLACE,
        slow=how.at_edge if read_near else how.slow if is_read else how.without,
        cubics=how.cubics if is_read else LEFT,
        jump=READ[0] if read_near else QUARTER[0],
        near=how.near.get(name),
    )
    if read_near:
        found["lethality"] = _in_all(best, others, found["heating_lethality"], how.case)
    return {f"{name}.{figure}": value for figure, value in found.items()}


def _of_factors(name: str, ways: Sequence[ProbeEffect], how: _How) -> tuple[float, float] | None:
    """Uncertainty of both heat-penetration factors of the reading, or of its place without the probe."""
    best, *others = (getattr(way, name) for way in ways)
    is_read = name == "reading"
    # without the tip its edge leaves nothing
    share = PLACE[0] if how.near and not is_read else how.counted[0]
    shares = (how.slow if is_read else how.without) * share, how.counted[1]
    off = [np.full(best.temperature.size, LEFT * how.tolerance)]
    off += [part * (best.temperature - other.temperature) for part, other in zip(shares, others, strict=True)]
    return factors_uncertainty_of(how.case, best, np.stack(off), WORST)


def _of_own_cold_spot(
    ways: Sequence[ProbeEffect],
    figures: Mapping[str, float | Array],
    plain: Sequence[Mapping[str, float | Array]],
    counted: tuple[float, float],
    how: _How,
) -> dict[str, float]:
    """Uncertainties of what happens at the product's own cold spot with the probe in it.

    ``figures`` and ``plain`` are all figures by the best and by the other computations, ``counted`` what counts of
    their differences.
    """
    best, corner = ways[0], corner_of(how.case)
    # beside a stem in a corner, or at its end, errors fall as they do there, however they fall at the tip
    beside = max(how.slow, left_by(corner), left_by(end_of_stem(how.case, best))) if how.near else how.slow
    around = how.near.get("least_lethality", np.zeros(3)).tolist()
    found = {}
    for figure, there in zip(("end_of_heating", "lethality", "heating_lethality"), around, strict=True):
        name, steps, worth = f"least_lethality.{figure}", LEFT * how.tolerance, 1.0
        if figure != "end_of_heating":
            steps, worth = math.log(10.0) / how.case.lethality.z * steps, getattr(best.least_lethality, figure)
        shares = counted[0], QUARTER[0]
        if how.near and figure == "lethality":
            inside = GATHERED if corner == USUAL else IN_A_CORNER
            shares = (inside, inside) if best.least_lethality.inside else (counted[0], GATHERED)
        apart = differences({name: figures[name]}, plain, (beside * shares[0], counted[1]))[name]
        found[name] = max(apart, beside * shares[1] * worth * there) + worth * steps
    return found


def _in_all(best: Curve, others: Sequence[Curve], heating: float, case: Case) -> float:
    """Uncertainty of a reading's lethality in all [s], by that of its lethality while heating [s]."""
    credit, time = case.lethality, best.time
    part, worth = gathering(time, best.temperature, credit, time[0], math.inf), math.log(10.0) / credit.z
    relative = IN_READING[0] * heating / best.heating_lethality
    for share, other in zip((IN_READING[1], QUARTER[1]), others, strict=True):
        by = abs(math.log(other.lethality / best.lethality))
        relative += share * max(by, worth * spread(part, best.temperature - other.temperature))
    return best.lethality * relative


def _beyond(bias: Bias, figure: str) -> float:
    """Factor by which a relative uncertainty of a lethality counts in a bias."""
    return 1.0 if figure == "end_of_heating" else 1.0 + float(getattr(bias, figure))


def _relative(found: Mapping[str, float], name: str, curve: Curve) -> dict[str, float]:
    """Uncertainties of a curve's lethalities, as parts of them, and of its temperature when heating ends [K]."""
    worth = {"lethality": curve.lethality, "heating_lethality": curve.heating_lethality, "end_of_heating": 1.0}
    return {figure: found[f"{name}.{figure}"] / own for figure, own in worth.items()}


def _excess(effect: ProbeEffect) -> Array:
    """Excess of a probe's reading over its place without it, over time [K]."""
    return effect.reading.temperature - effect.without_probe.temperature


def _of_bias(
    name: str, ways: Sequence[tuple[Bias, Curve, Curve]], differing: Mapping[str, float], how: _How
) -> dict[str, float]:
    """Uncertainties of a bias by the figures' dotted names.

    ``ways`` are the bias, the reading and what that is held against, by the best, the coarser and the looser
    computation; ``differing`` by how much the figures of these differ, as it counts.
    """
    best, reading, place = ways[0]
    time, credit, heated_until = reading.time, how.case.lethality, how.case.process.heated_until
    course, coarser, looser = (one.temperature - other.temperature for _, one, other in ways)
    apart = course - coarser, course - looser
    worth, left = math.log(10.0) / credit.z, LEFT * how.tolerance

    def during(low: float, high: float, counted: tuple[float, float] = how.slowed) -> float:
        """Uncertainty of the difference of reading and place between two times [K]."""
        part = gathering(time, place.temperature, credit, low, high)
        return sum(share * spread(part, one) for share, one in zip(counted, apart, strict=True))

    start, after = float(time[0]), float(np.nextafter(heated_until, np.inf))
    found = {}
    whole = IN_ALL * how.slowed[0], how.slowed[1]
    for figure, low, high, counted in (
        ("lethality", start, math.inf, whole),
        ("heating_lethality", start, heated_until, how.slowed),
        ("cooling_lethality", after, math.inf, how.slowed),
    ):
        beyond = worth * _beyond(best, figure)
        steps = beyond * how.cubics * how.tolerance
        found[figure] = max(differing[f"{name}.{figure}"], beyond * during(low, high, counted)) + steps
    found["end_of_heating"] = max(differing[f"{name}.end_of_heating"], during(start, heated_until)) + left
    off = AT_LARGEST * (how.slowed[0] * np.abs(apart[0]) + how.slowed[1] * np.abs(apart[1])) + left
    for figure, now in (("temperature", time <= heated_until), ("cooling_temperature", time > heated_until)):
        found[figure] = max(differing[f"{name}.{figure}"], _of_largest(course[now], off[now]))
    return {f"{name}.{figure}": value for figure, value in found.items()}


def _of_largest(course: Array, off: Array) -> float:
    """Uncertainty of the largest difference in a course (n_t,), which is off by so much [K].

    Where the largest of the other sign is as large but for that, it may as well be that one.
    """
    if course.size == 0:
        return 0.0
    most, largest = float(off.max()), float(course[np.abs(course).argmax()])
    other = float((-math.copysign(1.0, largest) * course).max())
    return max(most, abs(largest) + other) if other > abs(largest) - 2.0 * most else most


def near_probe(effect: ProbeEffect, undisturbed: Refined, probed: Refined) -> dict[str, Array]:
    """Typical differences to the coarser fields near a probe, for :func:`uncertainty_of`.

    What lethality a probe reads in all is known far better by the course of its difference.
    """
    tip, least = effect.reading, effect.least_lethality
    places = (("reading", probed, tip), ("without_probe", undisturbed, tip), ("least_lethality", probed, least))
    found = {name: nearby(fields, place.r, place.z) for name, fields, place in places}
    found["reading"][1] = math.nan
    return found


def end_of_stem(case: Case, effect: ProbeEffect) -> float:
    """Ratio by which errors fall at the product's own cold spot where that lies on the stem."""
    return end_of(case, effect.least_lethality.z, effect.reading.z) if effect.beside_stem else USUAL


def slowness_of(readings: Readings | None, case: Case) -> float:
    """Slowness with which errors of a reading fall: see :func:`thermsim.assess.fields.error_estimate.slowness`.

    The edge of a tip that conducts well is a corner too, of a quarter of a turn.
    """
    if readings is None:
        return 1.0
    worth = math.log(10.0) / case.lethality.z
    values = (np.array([worth * one.end_of_heating, one.log_lethality, one.log_heating]) for one in readings)
    return slowness(*values, corner=corner_of(case), edge=edge_of(case))


def _against_the_cold_spot(
    best: ProbeEffect,
    others: Sequence[ProbeEffect],
    found: Mapping[str, float],
    known: Mapping[str, float],
    how: _How,
) -> dict[str, float]:
    """Uncertainties of what a reading is beyond a cold spot that is known in one way alone: those of both."""
    spot, bias = "cold_spot.least_lethality", best.at_cold_spot
    sums = {}
    for figure in ("lethality", "heating_lethality"):
        reading = getattr(best.reading, figure)
        truth = reading / (1.0 + getattr(bias, figure))
        relative = math.hypot(found[f"reading.{figure}"] / reading, known[f"{spot}.{figure}"] / truth)
        sums[figure] = COMMON[0] * (1.0 + getattr(bias, figure)) * relative
    if best.reading.lethality > best.reading.heating_lethality:
        time, after = best.reading.time, float(np.nextafter(how.case.process.heated_until, np.inf))
        part = gathering(time, best.without_probe.temperature, how.case.lethality, after, math.inf)
        apart = [_excess(best) - _excess(other) for other in others]
        of_cooling = sum(share * spread(part, one) for share, one in zip(how.slowed, apart, strict=True))
        of_cooling *= math.log(10.0) / how.case.lethality.z
        due = best.reading.lethality / (1.0 + bias.lethality)
        relative = math.hypot(of_cooling, known[f"{spot}.lethality"] / due)
        cooling = COMMON[0] * (1.0 + bias.cooling_lethality) * relative
        sums["cooling_lethality"] = max(found["at_cold_spot.cooling_lethality"], cooling)
    for figure, of in (
        ("temperature", "at_place.temperature"),
        ("cooling_temperature", "at_place.cooling_temperature"),
        ("end_of_heating", "reading.end_of_heating"),
    ):
        # the largest difference lies where neither changes fast: the whole course's largest error is not there
        sums[figure] = COMMON[1] * math.hypot(found[of], known[f"{spot}.end_of_heating"])
    return {f"at_cold_spot.{figure}": value for figure, value in sums.items()} | {
        "moved": math.hypot(found["moved"], known[f"{spot}.r"], known[f"{spot}.z"])
    }


def figures_of(effect: ProbeEffect) -> dict[str, float | Array]:
    """All figures by their dotted names."""
    figures: dict[str, float | Array] = {"moved": effect.moved}
    for name in ("reading", "without_probe"):
        curve = getattr(effect, name)
        for figure in ("lethality", "heating_lethality", "end_of_heating", "temperature"):
            figures[f"{name}.{figure}"] = getattr(curve, figure)
    for name in ("at_place", "at_cold_spot"):
        bias: Bias = getattr(effect, name)
        figures |= {f"{name}.{figure}": getattr(bias, figure) for figure in BIAS_FIGURES}
    for name in ("factors", "factors_without"):
        factors = getattr(effect, name)
        if factors is not None:
            figures[f"{name}.f"], figures[f"{name}.j"] = factors.f, factors.j
    for figure in ("r", "z", "lethality", "heating_lethality", "end_of_heating"):
        figures[f"least_lethality.{figure}"] = getattr(effect.least_lethality, figure)
    return figures
