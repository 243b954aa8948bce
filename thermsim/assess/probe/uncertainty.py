"""Uncertainty of a probe's figures: the same from a coarser computation and from looser time steps."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.apart import (
    COMMON,
    LEFT,
    NEARBY,
    PLACE,
    QUARTER,
    READING,
    corner_of,
    cubics_of,
    gathering,
    nearby,
    slowness,
    spread,
    unsure_of_curve,
)
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.refinement import COUNTED, Readings, Refined, differences
from thermsim.assess.probe.effect import Bias, ProbeEffect, unsure_factors_of
from thermsim.case.case import Case

Array = NDArray[np.float64]

#: What counts of the worst signs that the ways to be off may take on a straight line: alike all along it, by coarser
#: grids, as these turn it smoothly, and by looser steps, which scatter. Beside a stem grids turn it less smoothly.
#: Choices, made on drawn cases.
WORST = {"reading": (0.25, 0.15, 0.3), "without_probe": (0.25, 0.1, 0.6)}
#: What counts of both places' uncertainties of how far the cold spot moved: they seldom err most at once, and mostly
#: not along the line from one to the other. A choice likewise.
MOVED = 0.6

NOWHERE: Mapping[str, Array] = {}
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
    near: Mapping[str, Array] = NOWHERE,
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
        So many times more of that to the coarser one: see :func:`thermsim.assess.fields.apart.slowness`.
    near : mapping of str to ndarray, optional
        Of the reading, of its place without the probe, and of the least-lethality place with it: see
        :func:`thermsim.assess.fields.apart.nearby`.
    """
    plain = [figures_of(other) for other in others]
    # heat-penetration factors that another way of computing did not find have no uncertainty
    figures = {name: value for name, value in figures_of(best).items() if all(name in other for other in plain)}
    thirds = COUNTED if counted == QUARTER else counted
    found = differences(figures, plain, (slow * thirds[0], thirds[1]))
    credit, heated_until = case.lethality, case.process.heated_until
    cubics = cubics_of(case.probe)
    for name in ("reading", "without_probe"):
        curves = [getattr(other, name) for other in others]
        for figure, value in unsure_of_curve(
            getattr(best, name),
            curves,
            lethality=credit,
            heated_until=heated_until,
            tolerance=tolerance,
            counted=counted if name not in near else READING if name == "reading" else PLACE,
            slow=slow,
            cubics=cubics if name == "reading" else LEFT,
            near=near.get(name),
        ).items():
            found[f"{name}.{figure}"] = value
        factors = name.replace("reading", "factors").replace("without_probe", "factors_without")
        own = getattr(best, name).temperature
        off = [np.full(own.size, LEFT * tolerance)]
        off += [
            share * (own - curve.temperature)
            for share, curve in zip((slow * counted[0], counted[1]), curves, strict=True)
        ]
        known_to = unsure_factors_of(case, getattr(best, name), np.stack(off), WORST[name])
        if f"{factors}.f" in found and known_to is not None:
            found |= {f"{factors}.{figure}": value for figure, value in zip("fj", known_to, strict=True)}

    counted = slow * counted[0], counted[1]
    worth, time = math.log(10.0) / credit.z, best.reading.time
    around = near.get("least_lethality", np.zeros(3)).tolist()
    for figure, there in zip(("end_of_heating", "lethality", "heating_lethality"), around, strict=True):
        name, steps, own = f"least_lethality.{figure}", LEFT * tolerance, 1.0
        if figure != "end_of_heating":
            steps, own = worth * steps, getattr(best.least_lethality, figure)
        found[name] = max(found[name], slow * NEARBY * own * there) + own * steps
    whole, heating, cooling = (
        gathering(time, best.without_probe.temperature, credit, low, high)
        for low, high in ((time[0], np.inf), (time[0], heated_until), (np.nextafter(heated_until, np.inf), np.inf))
    )
    apart = [_bias(best) - _bias(other) for other in others]

    def of_bias(part: Array) -> float:
        """Uncertainty of the difference of reading and place in the time that a part stands for [K]."""
        return sum(share * spread(part, one) for share, one in zip(counted, apart, strict=True))

    for figure, part in (("lethality", whole), ("heating_lethality", heating), ("cooling_lethality", cooling)):
        name = f"at_place.{figure}"
        beyond = 1.0 + getattr(best.at_place, figure)
        found[name] = max(found[name], beyond * worth * of_bias(part)) + beyond * cubics * tolerance * worth
    found["at_place.end_of_heating"] = max(found["at_place.end_of_heating"], of_bias(heating)) + LEFT * tolerance
    for figure, now in (("temperature", time <= heated_until), ("cooling_temperature", time > heated_until)):
        largest = [float(np.abs(one[now]).max(initial=0.0)) for one in apart]
        found[f"at_place.{figure}"] = counted[0] * largest[0] + counted[1] * largest[1] + LEFT * tolerance
    # errors of both cancel at most as far as the smaller goes
    for figure in ("lethality", "heating_lethality", "end_of_heating"):
        one, other = (
            found[f"{name}.{figure}"] / (1.0 if figure == "end_of_heating" else getattr(getattr(best, name), figure))
            for name in ("reading", "without_probe")
        )
        beyond = 1.0 if figure == "end_of_heating" else 1.0 + getattr(best.at_place, figure)
        found[f"at_place.{figure}"] = max(found[f"at_place.{figure}"], beyond * abs(one - other))
    return found | _against_the_cold_spot(best, found, known, worth * of_bias(cooling))


def near_probe(effect: ProbeEffect, undisturbed: Refined, probed: Refined) -> dict[str, Array]:
    """Typical differences to the coarser fields near a probe, for :func:`uncertainty_of`.

    What lethality a probe reads in all is known far better by the course of its difference.
    """
    tip, least = effect.reading, effect.least_lethality
    places = (("reading", probed, tip), ("without_probe", undisturbed, tip), ("least_lethality", probed, least))
    found = {name: nearby(fields, place.r, place.z) for name, fields, place in places}
    found["reading"][1] = math.nan
    return found


def unsure_of_move(
    effect: ProbeEffect, cold_spot: Curve, unsure: Mapping[str, float], known: Mapping[str, float]
) -> float:
    """Uncertainty of how far the cold spot moved [m]: of both places, so far as it went that way."""
    parts = []
    for axis in "rz":
        off = math.hypot(unsure[f"least_lethality.{axis}"], known[f"cold_spot.least_lethality.{axis}"])
        by = abs(getattr(effect.least_lethality, axis) - getattr(cold_spot, axis))
        parts.append(min(1.0, (by + off) / max(effect.moved, 1e-12)) * off)
    return MOVED * math.hypot(*parts)


def slowness_of(readings: Readings | None, case: Case) -> float:
    """Slowness with which errors of a reading fall: see :func:`thermsim.assess.fields.apart.slowness`."""
    if readings is None:
        return 1.0
    worth = math.log(10.0) / case.lethality.z
    values = (np.array([worth * one.end_of_heating, one.log_lethality, one.log_heating]) for one in readings)
    return slowness(*values, corner=corner_of(case))


def _against_the_cold_spot(
    best: ProbeEffect, found: Mapping[str, float], known: Mapping[str, float], of_cooling: float
) -> dict[str, float]:
    """Uncertainties of what a reading is beyond the cold spot: those of both."""
    spot, bias = "cold_spot.least_lethality", best.at_cold_spot
    sums = {}
    for figure in ("lethality", "heating_lethality"):
        reading = getattr(best.reading, figure)
        truth = reading / (1.0 + getattr(bias, figure))
        relative = math.hypot(found[f"reading.{figure}"] / reading, known[f"{spot}.{figure}"] / truth)
        sums[figure] = COMMON[0] * (1.0 + getattr(bias, figure)) * relative
    gained = best.reading.lethality - best.reading.heating_lethality
    if gained > 0.0:
        due = best.reading.lethality / (1.0 + bias.lethality)
        relative = math.hypot(of_cooling, known[f"{spot}.lethality"] / due)
        sums["cooling_lethality"] = max(
            found["at_cold_spot.cooling_lethality"], COMMON[0] * (1.0 + bias.cooling_lethality) * relative
        )
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


def _bias(effect: ProbeEffect) -> Array:
    """Excess of a probe's reading over its place without it, over time [K]."""
    return effect.reading.temperature - effect.without_probe.temperature


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
