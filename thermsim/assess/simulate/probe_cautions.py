"""Findings that a reader must know of beside what is said of a probe."""

from __future__ import annotations

import math

import numpy as np

from thermsim.assess.probe.advice import Advice, Candidate, Recommendation
from thermsim.assess.probe.effect import ProbeEffect
from thermsim.assess.probe.mismatch import GOOD
from thermsim.assess.probe.unsafe import NOTABLE, reads_high
from thermsim.assess.side.background import changes, on_the_way
from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.brick_field import brick_field
from thermsim.case.mounting import heights_for
from thermsim.notice import Notice, Severity

#: Immersion that common practice asks for, in stem diameters; no source.
TEN_DIAMETERS = 10.0
#: Room between probe and side wall, as a part of the inner radius, below which it is spoken of.
NEAR_SIDE = 0.2
#: A hole so far from the cold spot's height is spoken of [m].
OFF_HEIGHT = 1.0e-3
#: Bow of the faces of a body from the side above which it is spoken of [m].
BOW = 0.2e-3
#: Part of the product's volume from which a probe's own volume is spoken of.
FILLING = 0.02


def notices_of_probe(result: Result) -> tuple[Notice, ...]:
    """Cautions about a probe that stands in the container."""
    effect = result.probe
    if effect is None:
        return ()
    found = (
        reads_high(effect, result.uncertainty),
        _hidden(effect),
        _beside_stem(effect),
        _short_immersion(result, effect),
        _near_wall(result, effect),
        _much_of_the_product(result, effect),
        _bowed(result, effect),
        _too_coarse(result, effect),
        _beside_cold_spot(result, effect),
        _properties_at_one_temperature(result, effect),
    )
    return tuple(notice for notice in found if notice is not None)


def notices_of_advice(result: Result) -> tuple[Notice, ...]:
    """Cautions about a recommended depth."""
    advice = result.advice
    if advice is None:
        return ()
    chosen = advice.own.recommended(advice.criterion)
    found = (
        _no_good_depth(advice, chosen),
        _at_limit(advice),
        _criteria_apart(advice.own),
        _others_off_height(result, advice),
    )
    return tuple(notice for notice in found if notice is not None)


def _hidden(effect: ProbeEffect) -> Notice | None:
    """Say when the errors of the two phases cancel."""
    bias = effect.at_place
    if bias.heating_lethality * bias.cooling_lethality >= 0.0:
        return None
    if abs(bias.lethality) > 0.5 * abs(bias.heating_lethality) or abs(bias.heating_lethality) <= NOTABLE:
        return None
    text = (
        f"The errors of heating ({100 * bias.heating_lethality:+z.0f} % of lethality) and of cooling "
        f"({100 * bias.cooling_lethality:+z.0f} %) partly cancel to {100 * bias.lethality:+z.0f} % in all: a small "
        "total proves nothing about the reading."
    )
    figures = {"heating_bias": bias.heating_lethality, "cooling_bias": bias.cooling_lethality}
    return Notice("errors-cancel", "warning", "probe", text, figures)


def _beside_stem(effect: ProbeEffect) -> Notice | None:
    """Say when the probed container has its least lethality at the probe."""
    if not effect.beside_stem:
        return None
    spot = effect.least_lethality
    text = (
        f"With the probe in place the product's least lethality lies on the probe's surface (r = {spot.r * 1e3:.1f} "
        f"mm, z = {spot.z * 1e3:.1f} mm): the stem carries heat off in cooling."
    )
    return Notice("least-at-stem", "note", "probe", text, {"r": spot.r, "z": spot.z})


def _short_immersion(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say when the stem is too short in the product for the usual rule."""
    case = result.case
    if effect.probe.mount == "inside":
        return None
    tip = effect.probe.tip(case.container) or 0.0
    immersed = {
        "lid": case.surface - tip,
        "base": tip - case.bottom,
        "side": case.container.halves(effect.probe.edge)[0] - tip,
    }[effect.probe.entry]
    if immersed >= TEN_DIAMETERS * 2.0 * effect.probe.tip_radius:
        return None
    text = (
        f"The stem is immersed over {immersed * 1e3:.0f} mm, less than ten of its diameters (common practice, no "
        "source)."
    )
    return Notice("short-immersion", "warning", "probe", text, {"immersed": immersed}, pressing=True)


def _near_wall(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say when the probe comes so near to a wall that the gap between them decides."""
    case, probe = result.case, effect.probe
    tip = probe.tip(case.container) or 0.0
    left = {
        "lid": tip - case.bottom,
        "base": case.surface - tip,
        "side": case.container.halves(probe.edge)[0] + tip,
    }[probe.entry]
    if left < 2.0 * probe.tip_radius:
        text = (
            f"The tip ends {left * 1e3:.1f} mm from the other end of the product, nearer than its own diameter: "
            "there a small error of depth changes the reading much."
        )
        return Notice("tip-near-wall", "warning", "probe", text, {"left": left}, pressing=True)
    if probe.entry == "side":
        return _near_end(result, effect)
    beside, inside = min(
        (radius - segment.radius, radius)
        for segment, low, high in probe.placed(case.container)
        for radius in (case.container.radius_at(low), case.container.radius_at(high))
    )
    if beside < NEAR_SIDE * inside:
        brief = (
            f"Only {beside * 1e3:.1f} mm of product are left between the probe and the side wall: a probe that "
            "stands a little beside the axis reads quite differently"
        )
        text = f"{brief}, and such a narrow gap is resolved by few nodes."
        return Notice("probe-near-side", "warning", "probe", text, {"left": beside}, f"{brief}.", pressing=True)
    return None


def _near_end(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say when a probe from the side comes near to the product's upper or lower end."""
    case, height = result.case, effect.probe.z or 0.0
    left = min(case.surface - height, height - case.container.floor) - effect.probe.widest / 2
    beside = case.container.halves(effect.probe.edge)[1]
    if case.container.brick is not None:
        beside = min(beside, case.fill_height / 2)  # a pouch is thinner than wide
    if left >= NEAR_SIDE * beside:
        return None
    text = (
        f"Only {left * 1e3:.1f} mm of product are left above or below the probe from the side: what is beyond (lid, "
        "headspace, base) is taken as layers without heat flow along them but by conduction in the wall, and a probe "
        "that enters a little higher or lower reads quite differently."
    )
    brief = (
        f"Only {left * 1e3:.1f} mm of product are left above or below the probe from the side: one that enters a "
        "little higher or lower reads quite differently."
    )
    return Notice("near-end", "warning", "probe", text, {"left": left}, brief, pressing=True)


def _beside_cold_spot(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say when a hole in the side wall is not at the cold spot's height, how far off it is, and what that costs."""
    case, probe, spot = result.case, effect.probe, result.spots_beside[0]
    if probe.entry != "side" or probe.z is None:
        return None
    off = result.off_height(probe.z)
    if abs(off) <= max(OFF_HEIGHT, case.accuracy.place):
        return None
    low, high = heights_for(probe, case.container, case.surface)
    more = lethality_at(result, probe.z) / spot.lethality - 1.0
    where = f"{abs(off) * 1e3:.1f} mm {'below' if off > 0 else 'above'} the place of least lethality"
    why = (
        f"the nearest that the probe with its fitting, {probe.widest * 1e3:.1f} mm wide, leaves product above and "
        "below it"
        if not low <= spot.z <= high
        else "as the case gives it"
    )
    brief = (
        f"THE PROBE IS NOT AT THE COLD SPOT'S HEIGHT: z = {probe.z * 1e3:.1f} mm, {where}. On the axis at that "
        f"height the product gathers {100 * more:.1f} % more lethality."
    )
    text = (
        f"{brief} The height is {why}; the place of least lethality is at z = {spot.z * 1e3:.1f} mm. A narrower "
        "fitting, or an entry through the lid or the base, comes nearer."
    )
    figures = {"off": off, "more_lethality": more}
    severity: Severity = "danger" if more > GOOD else "warning"
    return Notice("hole-off-cold-spot", severity, "depth", text, figures, brief, pressing=severity == "warning")


def lethality_at(result: Result, z: float) -> float:
    """Lethality of the undisturbed product, of a brick itself if that is compared, on the axis at a height z [s]."""
    if result.beside == "brick":
        log, _ = brick_field(result.case, fine=True).logs_at(np.array([[0.0, 0.0, z]]))
        return float(np.exp(log[0]))
    heights, values = result.grid.z[0], result.lethality[0]
    known = np.isfinite(values)
    return float(np.exp(np.interp(z, heights[known], np.log(values[known]))))


def _bowed(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say how far the faces of a wide body from the side are from flat."""
    probe, inner = effect.probe, result.case.container.profile.narrowest
    if probe.entry != "side" or result.case.container.brick is not None:
        return None
    bow = max(inner - math.sqrt(inner**2 - segment.radius**2) for segment in probe.segments)
    if bow < BOW:
        return None
    text = (
        f"The faces across the body from the side are computed bowed like the side wall, by up to {bow * 1e3:.1f} "
        "mm: a flat foot of that width leaves a gap of product at its edges, or tilts. Keep that much doubt in its "
        "depth."
    )
    return Notice("bowed-faces", "warning", "probe", text, {"bow": bow}, pressing=True)


def _too_coarse(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say when the two grids about a stem from the side leave more doubt than was asked for."""
    if effect.section is None:
        return None
    accuracy, known = result.case.accuracy, result.uncertainty
    end, lethality = (
        known["probe.reading.end_of_heating"],
        known["probe.reading.lethality"] / effect.reading.lethality,
    )
    if end <= accuracy.temperature and lethality <= accuracy.lethality:
        return None
    text = (
        f"The reading of the probe from the side is uncertain by {end:.2f} K when heating ends and by "
        f"{100 * lethality:.1f} % of its lethality, more than [accuracy] asks for: there are two grids about a stem, "
        "and they are not refined further."
    )
    figures = {"end_of_heating": end, "lethality": lethality}
    brief = text.partition(", more than")[0] + "."
    return Notice("side-reading-uncertain", "warning", "accuracy", text, figures, brief, pressing=True)


def _properties_at_one_temperature(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say at what temperature properties are taken for a stem from the side where they change."""
    if effect.probe.entry != "side" or not changes(result.case, effect.probe):
        return None
    near = on_the_way(result.case, result.cold_spot.slowest_heating.end_of_heating)
    text = (
        f"What a stem from the side changes is computed with the properties that product and stem have at {near:.0f} "
        "degC, near the end of heating, as they change with temperature; what that leaves open is part of the +-."
    )
    return Notice("stem-properties", "note", "probe", text, {"temperature": near})


def _much_of_the_product(result: Result, effect: ProbeEffect) -> Notice | None:
    """Say when the probe takes the place of a notable part of the product."""
    case = result.case
    low, high = case.bottom, case.surface
    if effect.probe.entry == "side":
        high = case.container.halves(effect.probe.edge)[0]
        low = -high
    taken = sum(
        math.pi * segment.radius**2 * max(0.0, min(top, high) - max(bottom, low))
        for segment, bottom, top in effect.probe.placed(case.container)
    )
    part = taken / case.product_volume
    if part <= FILLING:
        return None
    text = (
        f"The probe takes {100 * part:.1f} % of the room up to the fill height. The fill height is kept as given: "
        "with the probe in it the container holds that much less product."
    )
    return Notice("displaces-product", "note", "probe", text, {"part": part})


def _no_good_depth(advice: Advice, chosen: Recommendation) -> Notice | None:
    """Say plainly when no depth is good, and what could be done."""
    if chosen.good:
        return None
    other = advice.candidates[0]
    left = other.recommended(advice.criterion)
    better = briefly = ""
    if left.good:
        is_good = f'probe "{other.probe.name}" through the {other.probe.wall} is good'
        better = (
            f" Of those compared, {is_good}: its mismatch is {100 * left.mismatch:.1f} %, and until heating ends it "
            f"reads {100 * left.heating_over_reading:+z.1f} %."
        )
        briefly = f" P{is_good[1:]}."
    reads = f"until heating ends it reads {100 * chosen.heating_over_reading:+z.1f} %"
    text = (
        f"NO DEPTH IS GOOD for this probe: at the best one its mismatch with the place it is to show is "
        f"{100 * chosen.mismatch:.1f} % of lethality, and {reads} against that place (good is within "
        f"{100 * GOOD:.0f} %). A thinner stem, a sheath that conducts less, the other entry or a longer immersion "
        f"reads less wrong.{better}"
    )
    brief = (
        f"NO DEPTH IS GOOD for this probe: mismatch {100 * chosen.mismatch:.1f} % at best, good is within "
        f"{100 * GOOD:.0f} %.{briefly}"
    )
    figures = {"mismatch": chosen.mismatch, "heating_over_reading": chosen.heating_over_reading}
    return Notice("no-good-depth", "danger", "depth", text, figures, brief)


def _at_limit(advice: Advice) -> Notice | None:
    """Say where a best depth is the last that is possible: for every criterion, of every probe at every entry."""
    ended = [(candidate, one) for candidate in advice.candidates for one in candidate.recommendations if one.at_limit]
    if not ended:
        return None
    chosen = advice.own.recommended(advice.criterion)
    others = "; ".join(
        f'"{candidate.probe.name}" through the {candidate.probe.wall}, for the {one.criterion}: '
        f"{one.depth * 1e3:.1f} mm, {beyond_limit(one)}"
        for candidate, one in ended
        if one is not chosen
    )
    text = (
        f"The recommended depth of {chosen.depth * 1e3:.1f} mm is at the end of what this probe, its fitting and "
        f"the hardware at hand allow: {beyond_limit(chosen)}. {'At such an end too: ' if others else ''}"
        if chosen.at_limit
        else "At the end of what is possible: "
    )
    severity: Severity = "warning" if chosen.at_limit else "note"
    brief = text.partition(" At such an end too")[0].strip()
    text = f"{text}{others}{'.' if others else ''}".strip()
    return Notice("depth-at-limit", severity, "depth", text, {}, brief, pressing=chosen.at_limit)


def _others_off_height(result: Result, advice: Advice) -> Notice | None:
    """Say which of the other probes compared cannot enter at the cold spot's height, and how far off they are."""
    spot = result.spots_beside[0].z
    far = [
        f'"{one.probe.name}" at z = {one.probe.z * 1e3:.1f} mm, {abs(off) * 1e3:.1f} mm off'
        for one in advice.candidates
        if one is not advice.own
        and one.probe.z is not None
        and abs(off := result.off_height(one.probe.z)) > OFF_HEIGHT
    ]
    if not far:
        return None
    text = (
        f"Compared from the side, not at the height of the place of least lethality, z = {spot * 1e3:.1f} mm: "
        f"{'; '.join(far)}."
    )
    return Notice("holes-off-cold-spot", "note", "depth", text)


def beyond_limit(one: Recommendation) -> str:
    """Length that a better depth beyond the end of what is possible needs, in words."""
    if one.needed_length is None:
        return "no other length helps"
    return f"the better depth beyond needs a probe of {one.needed_length * 1e3:.1f} mm"


def _criteria_apart(candidate: Candidate) -> Notice | None:
    """Say when the two criteria ask for different depths."""
    least, slowest = candidate.recommendations
    if abs(least.depth - slowest.depth) <= max(1e-3, least.window[1] - least.window[0]):
        return None
    text = (
        f"The two criteria ask for different depths: {least.depth * 1e3:.1f} mm to show the least lethality, "
        f"{slowest.depth * 1e3:.1f} mm to show the slowest heating. A record of lethality should use the first, "
        "which is where the whole process, cooling included, does least; heat-penetration factors are usually taken "
        "at the second. Which the record uses is the process authority's decision: the scheduled process rests on it."
    )
    figures = {"least_lethality": least.depth, "slowest_heating": slowest.depth}
    return Notice("criteria-apart", "note", "depth", text, figures)
