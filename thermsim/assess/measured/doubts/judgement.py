"""Doubts about containers: depth, clock, start, sensor and column against what is said, and containers alike.

A finding needs both: a likelihood that chance explains in one sound run of a hundred at most, counted over all
columns and explanations, and a size beyond what the limits allow.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from thermsim.assess.measured.doubts.explanation import Depth, Explanation
from thermsim.assess.measured.doubts.suspicion import ACCUSED, GAP, NAMES, SLID, SLIDE, UNEVEN, UNSEEN, Column
from thermsim.assess.measured.lattice import FILL, FILLINGS, HEADSPACE, LOWER
from thermsim.assess.measured.result import Limits, Measured
from thermsim.assess.measured.shared import TWICE, median_spread, robust_mean
from thermsim.case.case import Case
from thermsim.notice import Notice
from thermsim.quantities import LENGTH

Array = NDArray[np.float64]

#: An explanation whose likelihood is below the best one's by less than this (twice its logarithm) is possible too.
AS_GOOD = 10.0
#: An interval of the depth wider than this does not confirm the depth stated [m].
UNSURE = 12e-3
#: Readings of the ends of an interval that differ by less than this nowhere [K] are told apart by no probe.
TELLS = 0.3

#: A step beyond this [K], so many times the noise, and what the model does nearby, so many samples to either side, is
#: none of food where this part of it stays; it is between samples fewer than so many intervals apart, as what lies
#: half-way is left out as a spike.
STEP, TIMES_NOISE, BESIDE, STAYS, FEW = 0.5, 8.0, 3, 0.7, 3.5

#: A reading is rough where a tenth of its second differences are more than this [K] off the model's, and more than so
#: many times what is usual.
ROUGHEST, ROUGH, ROUGHER = 0.9, 0.8, 2.5

#: What a fault is, as the likely cause of a curve, with its size.
_CAUSES: Mapping[str, str] = {
    "calibration": "a sensor that reads {:+z.1f} K off",
    "drift": "a sensor that drifts, to {:+z.1f} K in the end",
    "late drift": "a sensor that drifts in the second half, to {:+z.1f} K in the end",
    "contact": "a tip or stem that touches the wall (its reading is {:.1f} % the wall's)",
    "clock": "a clock of its own, {:+z.0f} s ahead",
    SLIDE: "a tip that slides, {} in the end",
    FILL: "product filled {}",
    HEADSPACE: "a headspace that lets through {} heat than the case says",
    UNEVEN: "a start that was not even, the outside {}",
    GAP: "a medium {} in the record's gap than its samples tell",
}


#: Other explanations than a depth, the clock among them.
EXPLANATIONS = len(NAMES) + len(FILLINGS) + 2


def critical(columns: int) -> tuple[float, float]:
    """Gains above which another depth, and any other explanation, are no chance; so many columns are looked at."""
    return float(chdtri(1, ACCUSED / columns)), float(chdtri(1, ACCUSED / (columns * EXPLANATIONS)))


def flags_of_step(one: Measured) -> Iterator[Notice]:
    """Say that a curve steps where conduction does not, and stays so: the probe slipped, too little for a failure."""
    off, interval = one.temperature - one.as_case.temperature, np.diff(one.time)
    step, moves = np.diff(off), np.abs(np.diff(one.as_case.temperature))
    noise = median_spread(step)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(moves, BESIDE, mode="edge"), 2 * BESIDE + 1).max(axis=1)
    beyond = (np.abs(step) > max(STEP, TIMES_NOISE * noise) + around) & (interval < FEW * np.median(interval))
    for place in np.flatnonzero(beyond).tolist():
        before, after = (
            float(np.median(part)) for part in (off[max(0, place - 4) : place + 1], off[place + 1 :][:5])
        )
        if abs(after - before) < STAYS * abs(step[place]) or place + 5 >= step.size:
            continue
        time = float(one.time[place])
        text = (
            f'"{one.name}" STEPS by {after - before:+.1f} K at {time / 60:.1f} min, between two samples, which food '
            "does not, and stays there; likely cause: a probe that slipped, or a plug that moved. Neither depth nor "
            "factors nor its corrected lethality hold for both parts of the run."
        )
        figures = {"time": time, "step": after - before}
        yield Notice("reading-steps", "danger", "probe", text, figures, f"slipped at {time / 60:.0f} min?")
        return


def flags_of_noise(one: Measured, others: Sequence[Measured]) -> Iterator[Notice]:
    """Say that a reading is rougher than what the logger's other probes read: a contact is loose, or a plug wet."""
    own, *usual = (
        float(np.quantile(np.abs(np.diff(can.temperature - can.as_case.temperature, 2)), ROUGHEST))
        for can in (one, *others)
    )
    if not usual or own < max(ROUGH, ROUGHER * float(np.median(usual))):
        return
    text = (
        f'"{one.name}" READS ROUGHLY: it goes to and fro by {own:.1f} K and more from sample to sample, the others '
        f"by {float(np.median(usual)):.1f} K; likely cause: a loose contact, or a wet plug. Nothing else can be told "
        "of its probe; do not take its figures."
    )
    yield Notice("probe-noisy", "danger", "probe", text, {"rough": own}, "loose contact?")


def flags_of_column(
    column: Column, one: Measured, limits: Limits, most: tuple[float, float]
) -> tuple[Depth | None, list[Notice]]:
    """The depth that a container's curve shows, and what is to be said of its probe.

    Parameters
    ----------
    column : Column
    one : Measured
    limits : Limits
    most : tuple of float
        As of :func:`critical`.
    """
    depth = column.depth(most[0])
    found = [
        explanation
        for name in (*column.names, "clock")
        if _matters(explanation := column.explained(name), column, limits) and explanation.gain > most[1]
    ]
    gain_of = {explanation.name: explanation.gain for explanation in found}
    if gain_of.get(GAP, 0.0) > gain_of.get(UNEVEN, math.inf) / 2.0:  # a gap is there to be seen
        found = [explanation for explanation in found if explanation.name != UNEVEN]
    elsewhere = depth is not None and depth.gain > most[0] and not depth.holds(column.stated, 1e-3 * limits.tip_mm)
    gains = [explanation.gain for explanation in found] + ([depth.gain] if depth is not None and elsewhere else [])
    if not gains:
        return depth, list(_unsure(column, one, depth))
    likely = sorted(
        (explanation for explanation in found if explanation.gain > max(gains) - AS_GOOD), key=lambda one: -one.gain
    )
    tip = depth is not None and elsewhere and depth.gain > max(gains) - AS_GOOD
    causes = [_cause(explanation) for explanation in likely]
    if depth is not None and tip:
        causes.insert(0, f"a tip {depth_text(depth)} deep")
    said = f"{LENGTH.edge(column.stated):.4g} mm"
    figures = {"gain": max(gains), "stated": column.stated}
    if tip and depth is not None:
        figures |= {"depth": depth.best, "low": depth.low, "high": depth.high}
    else:
        figures["size"] = _size(likely[0])
    figures |= {explanation.name: explanation.values[4] for explanation in likely if explanation.name in FILLINGS}
    if not tip and [explanation.name for explanation in likely] == [UNEVEN]:
        return depth, [_uneven(one, likely[0], figures)]
    code = "depth-in-doubt" if tip else f"{likely[0].name.split()[-1]}-in-doubt"
    text = (
        f'"{one.name}" IS NOT AS SAID: with the tip at {said} its curve is not explained; likely cause: '
        f"{' or '.join(causes)}. Its corrected lethality is in doubt until that is settled."
    )
    brief = f"tip at {_places(depth)} mm?" if tip and depth is not None else _short(likely[0])
    return depth, [Notice(code, "danger", "probe", text, figures, brief)]


def _uneven(one: Measured, explanation: Explanation, figures: dict[str, float]) -> Notice:
    """The warning that a product was not evenly warm when the record began."""
    text = (
        f'"{one.name}" DID NOT START EVENLY WARM: its curve is that of {_cause(explanation)}. jh goes by that; the '
        "corrected lethality hardly does, within its interval."
    )
    return Notice("start-uneven", "warning", "logger", text, figures, _SHORT[UNEVEN])


_SHORT = {
    "calibration": "reads off?",
    "drift": "drifts?",
    "late drift": "drifts?",
    "contact": "touches wall?",
    "clock": "own clock?",
    SLIDE: "tip slides?",
    FILL: "filled {}?",
    HEADSPACE: "headspace: {} heat?",
    UNEVEN: "uneven start?",
    GAP: "gap?",
}
#: A filling that is higher or lower by less [m], a headspace that carries hardly more or less heat (a size), and heat
#: taken up unseen of less than this [K s] are no suspicion.
_LEAST = {FILL: 2e-3, HEADSPACE: 0.4, UNEVEN: 600.0, GAP: 600.0}


def _places(depth: Depth) -> str:
    """The depths that a tip may have, in mm; along a radius there is one on either side of the axis."""
    return " or ".join(f"{LENGTH.edge(place):.1f}" for place in (depth.best, *depth.others))


def depth_text(depth: Depth) -> str:
    """A depth with its interval, and what else it may be, in mm."""
    best, low, high = (LENGTH.edge(value) for value in (depth.best, depth.low, depth.high))
    others = "".join(f" or about {LENGTH.edge(other):.0f} mm" for other in depth.others)
    return f"{best:.1f} ({low:.1f} to {high:.1f}) mm{others}"


def _size(explanation: Explanation) -> float:
    """Size of a fault: seconds of a clock, metres of a slide or a filling, kelvins and their seconds, or a part."""
    size = explanation.values[2] if explanation.name == "clock" else explanation.values[4]
    return size * {SLIDE: SLID, FILL: -LOWER, UNEVEN: UNSEEN, GAP: UNSEEN}.get(explanation.name, 1.0)


def _short(explanation: Explanation) -> str:
    size = _size(explanation)
    height = f"{LENGTH.edge(abs(size)):.0f} mm {'higher' if size > 0.0 else 'lower'}"
    words = {FILL: height, HEADSPACE: "less" if size > 0.0 else "more"}
    return _SHORT[explanation.name].format(words.get(explanation.name, ""))


def _cause(explanation: Explanation) -> str:
    size, said = _size(explanation), _CAUSES[explanation.name]
    words = {
        "contact": 100.0 * size,
        SLIDE: length_off(size),
        FILL: f"about {LENGTH.edge(abs(size)):.0f} mm {'higher' if size > 0.0 else 'lower'}",
        HEADSPACE: "less" if size > 0.0 else "more",
        UNEVEN: "hotter (heated before the record begins)" if size > 0.0 else "colder (left to stand)",
        GAP: "hotter" if size > 0.0 else "colder",
    }
    return said.format(words.get(explanation.name, size))


def filling_text(name: str, size: float) -> str:
    """A filling that is otherwise by a size of the lattice's, in words."""
    return _cause(Explanation(name, (0.0, 0.0, 0.0, 0.0, size), 0.0, 0.0))


def fills_otherwise(name: str, size: float) -> bool:
    """True if a filling is otherwise by more than is no suspicion."""
    return abs(size) * (LOWER if name == FILL else 1.0) > _LEAST[name]


def _matters(explanation: Explanation, column: Column, limits: Limits) -> bool:
    """True if a fault is larger than its limit."""
    if explanation.name == "clock":
        known = math.isfinite(column.clock.error)
        return known and abs(explanation.values[2] - column.clock.value) > limits.own_clock_s
    if explanation.name == "contact":
        return 100.0 * explanation.values[4] > limits.contact_percent
    if explanation.name == SLIDE:
        return column.moves and abs(_size(explanation)) > 1e-3 * limits.tip_mm
    if explanation.name in _LEAST:
        return abs(_size(explanation)) > _LEAST[explanation.name]
    return abs(explanation.values[4]) > limits.calibration_K


def _unsure(column: Column, one: Measured, depth: Depth | None) -> Iterator[Notice]:
    """Say that a curve does not confirm the depth stated, and which second measurement would."""
    if depth is None or (depth.high - depth.low <= UNSURE and not depth.others):
        return
    ends = [column.at(value) for value in (depth.low, depth.high, *depth.others)]
    low, high = column.lattice.depths
    tried = np.linspace(low, high, 15)
    differ = [
        max(float(np.abs(column.elsewhere(ends[0], there) - column.elsewhere(end, there)).max()) for end in ends[1:])
        for there in tried
    ]
    telling = float(tried[int(np.argmax(differ))])
    factors = [math.exp(end[0]) for end in ends]
    unlike = 100.0 * (max(factors) / min(factors) - 1.0)
    by = (
        f"a second probe {LENGTH.edge(telling):.0f} mm deep in a container alike would tell (they differ by "
        f"{max(differ):.1f} K there)"
        if max(differ) > TELLS
        else "no other depth would tell either; what they mean for the cold spot is alike"
    )
    text = (
        f'"{one.name}": DEPTH NOT CONFIRMED: its curve fits a tip {depth_text(depth)} deep as well as one at '
        f"{LENGTH.edge(column.stated):.4g} mm, with diffusivities that differ by {unlike:.1f} %: depth and "
        f"diffusivity cannot be told apart better; {by}."
    )
    yield Notice("depth-not-confirmed", "warning", "probe", text, {"low": depth.low, "high": depth.high}, "depth?")


def swapped(
    columns: Mapping[int, Column], containers: Sequence[Measured], limits: Limits, most: float
) -> dict[int, int]:
    """Columns that explain each other's curves: index to index of the other."""
    found: dict[int, int] = {}
    for i, one in columns.items():
        for k, other in columns.items():
            apart = abs(one.stated - other.stated)
            if k <= i or apart <= 2e-3 * limits.tip_mm or not one.moves or not other.moves:
                continue
            if i in found or k in found:
                continue
            as_said, exchanged = (
                one.badness + other.badness,
                one.badness_at(other.stated) + other.badness_at(one.stated),
            )
            depths = [containers[place].depth for place in (i, k)]
            # each on its own must be near the best that any depth can do
            near = all(
                depth is not None and column.badness_at(there) < column.badness - depth.gain + 3.0 * AS_GOOD
                for depth, column, there in zip(depths, (one, other), (other.stated, one.stated), strict=True)
            )
            if as_said - exchanged > most and near:
                found[i], found[k] = k, i
    return found


def length_off(shift: float) -> str:
    """A length by which a tip is elsewhere, in words."""
    return f"{LENGTH.edge(abs(shift)):.0f} mm {'deeper' if shift > 0.0 else 'less deep'}"


def flags_of_swap(one: Measured, other: Measured) -> Notice:
    """The flag of one of two columns that are exchanged."""
    text = (
        f'"{one.name}" AND "{other.name}" LOOK SWAPPED: each curve is that of the other\'s depth '
        f"({LENGTH.edge(one.insertion):.4g} and {LENGTH.edge(other.insertion):.4g} mm). Their corrected lethalities "
        "are in doubt until that is settled."
    )
    return Notice("columns-swapped", "danger", "probe", text, {"stated": one.insertion}, "swapped?")


def flags_of_replicates(case: Case, containers: Sequence[Measured], limits: Limits) -> dict[int, list[Notice]]:
    """Outliers among containers alike, with their likely cause; and starts that are not the case's."""
    found: dict[int, list[Notice]] = {}
    usable = [k for k, one in enumerate(containers) if one.whole and one.fit is not None]
    for k in usable:
        if not containers[k].sound:
            continue
        said = [
            *_product(case, containers, [i for i in usable if i != k], k, limits),
            *_start(case, containers, [i for i in usable if i != k], k, limits),
        ]
        if said:
            found[k] = said
    return found


def _product(
    case: Case, all_of: Sequence[Measured], others: Sequence[int], k: int, limits: Limits
) -> Iterator[Notice]:
    """A diffusivity far from that of containers alike."""
    fits = [all_of[i].fit for i in others if all_of[i].sound]
    values = [value for fit in fits if fit is not None and (value := fit.value("diffusivity")) is not None]
    one = all_of[k]
    own = one.fit.value("diffusivity") if one.fit is not None else None
    if own is None or not values:
        return
    logs = [math.log(value) for value in values]
    known = robust_mean(logs, [0.01] * len(logs))
    spread = median_spread(np.array(logs)) if len(logs) > 2 else 0.0
    change = 100.0 * math.expm1(math.log(own) - known.value)
    if abs(change) <= max(limits.alike_percent, 400.0 * spread):
        return
    radius, height = case.container.radius_at(case.surface / 2), case.fill_height
    rate, across, along = own / math.exp(known.value), (2.405 / radius) ** 2, (math.pi / height) ** 2
    # the same product in a cylinder of another diameter would heat at the same rate
    wider = math.sqrt(across / max(rate * (across + along) - along, 0.05 * across))
    cause = (
        f"another product or filling, or another container (a diameter {100 * (wider - 1):+z.0f} % off), "
        f"{'or a tip not where it is said to be' if one.depth is None or one.depth.others else 'not its depth'}"
    )
    if len(values) > 1:
        text = (
            f'"{one.name}" IS AN OUTLIER: it heats as if its product had a diffusivity {change:+z.1f} % off that of '
            f"the others; likely cause: {cause}. Do not take its figures for those of the others."
        )
    else:
        said = math.log(case.product.material.diffusivity)
        far = [abs(value - said) for value in (math.log(own), logs[0])]
        nearer = (
            "neither is likelier"
            if max(far) <= TWICE * min(far)
            else f"likelier {'this' if far[0] > far[1] else 'the other'}: it is further from the case's"
        )
        text = (
            f'"{one.name}" OR THE OTHER OF TWO IS OFF: it heats as if its product had a diffusivity {change:+z.1f} % '
            f"off that of the other; {nearer}. Likely cause: {cause}. A third container would tell."
        )
    brief = "outlier: product?" if len(values) > 1 else "this or the other?"
    yield Notice("outlier", "danger", "logger", text, {"change": change / 100.0}, brief)


def _start(case: Case, all_of: Sequence[Measured], others: Sequence[int], k: int, limits: Limits) -> Iterator[Notice]:
    """A start far from the case's, or from that of the others."""
    one = all_of[k]
    own = one.fit.value("initial") if one.fit is not None else None
    if own is None:
        return
    starts = [fit.value("initial") for i in others if (fit := all_of[i].fit) is not None]
    values = [value for value in starts if value is not None]
    middle = float(np.median(values)) if values else own
    said = case.product.initial
    if abs(own - middle) > limits.start_K:
        what, than = f"{own:.1f} degC, the others at {middle:.1f}", "the others"
    elif abs(own - said) > limits.start_K:
        what, than = f"{own:.1f} degC, the case says {said:.4g}", "said"
    else:
        return
    text = (
        f'"{one.name}" started at {what}: filled hotter or colder than {than}, or heated before the record begins. '
        "Its corrected figures are of the start that its curve shows."
    )
    yield Notice("start-otherwise", "warning", "logger", text, {"start": own, "said": said}, "start?")
