"""Notes that the reader of a comparison must know before using a figure."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence

import numpy as np

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.fields.lethality import LEAST
from thermsim.assess.measured.doubts.common import ALL_DEPTHS, ALL_FILLINGS, SHARED, common_fault
from thermsim.assess.measured.doubts.whole_run import INTERVALS_APART, LEAST_APART, doubts_of_run, ended_otherwise
from thermsim.assess.measured.result import (
    BEGINS_HOT,
    COPIED,
    ENDED_OTHERWISE,
    EXCHANGED,
    UNSEEN_END,
    Comparison,
    Measured,
)
from thermsim.assess.measured.shared import SECOND_CLOCK
from thermsim.assess.probe.unsafe import Excess
from thermsim.assess.simulate.cautions import notices_of_case
from thermsim.case.file.measured_medium import cooling_start
from thermsim.loggers.logger import long_pauses
from thermsim.notice import Notice

#: Always beside a verdict.
AUTHORITY = (
    "Whether a process is adequate is decided by the process authority, under local regulation and licensed "
    "practice; a figure within or outside a limit here does not decide it."
)
#: Intervals are of the samples and the model's fit, no more.
INTERVALS = (
    "95 % intervals account for sensor noise, allowing for correlated samples. They do not cover the sensors' "
    "calibration, the properties that were not fitted, or whether the model is right."
)
#: A reading that ends so much before the process [s].
ENDS_EARLY = 60.0
#: What is said once of a run, and not again of each container that it flags.
SAID_ONCE = (
    ALL_DEPTHS,
    *ALL_FILLINGS.values(),
    BEGINS_HOT,
    ENDED_OTHERWISE,
    EXCHANGED,
    COPIED,
    UNSEEN_END,
    SECOND_CLOCK,
)
#: Part of the lethality read over a gap in time from which that is spoken of.
IN_GAP = 0.01
#: What a sum of trapezoids may have too much before it is said [-].
SUMMED_WELL = 0.01


def notices_on(found: Comparison) -> Iterator[Notice]:
    """Notices about a comparison."""
    yield from (notice for notice in notices_of_case(found.case) if notice.topic == "convection")
    fault = common_fault([one.flags for one in found.containers if one.failure is None and one.depth is not None])
    shared = [] if fault is None else [_of_common_fault(*fault, len(found.containers))]
    doubts = doubts_of_run(found.case.process, found.process, found.run, found.containers)
    turns = [doubt.said for doubt in doubts]
    # what the turn tells of clocks goes by what is wrong with all curves
    yield from (*shared, *turns) if all(one.code == ENDED_OTHERWISE for one in turns) else (*turns, *shared)
    yield from _on_two_records(found)
    yield from _on_common_cause(found)
    yield from _on_gaps(found)
    once = {*SAID_ONCE, *(fault or ())[:1]}
    for one in found.containers:  # in its row a flag needs no name, here it does
        yield from (
            dataclasses.replace(flag, brief=f'"{one.name}": {flag.short}')
            for flag in one.flags
            if flag.code not in once
        )
    yield from _on_left_out(found)
    yield from _on_loggers(found)
    for one in found.containers:
        yield from _on_fit(one)
    for one in found.containers:
        yield from _on_reading(found, one)
    yield from _on_factors(found.containers)
    if not found.plan.fit:
        text = "Nothing was fitted: the logger's lethality stands as it was read, the probe's own error in it."
        yield Notice("nothing-fitted", "warning", "fit", text)


def _on_fit(one: Measured) -> Iterator[Notice]:
    fit = one.fit
    if fit is None:
        return
    for first, second, correlation in fit.indistinct:
        text = (
            f'CANNOT BE TOLD APART: "{first}" and "{second}" of "{one.name}" (correlation {correlation:+z.3f}): the '
            "data determine only their combined effect; fit one of them and give the other."
        )
        yield Notice("fit-indistinct", "warning", "fit", text, {"correlation": correlation})


def _on_two_records(found: Comparison) -> Iterator[Notice]:
    """Say that the logger's column of the medium falls at another time than the retort's record in the case."""
    medium, recorded = found.run.medium, found.case.process
    if medium is None or not recorded.recorded:
        return
    fell, ends = cooling_start(medium), recorded.heated_until
    later, interval = fell - ends, float(np.median(np.diff(medium.time)))
    if fell >= medium.time[-1] or abs(later) <= max(INTERVALS_APART * interval, LEAST_APART):
        return
    more = (
        "Either two clocks differ, or the records do not begin together, or they are of two runs. All "
        f"figures of the containers go by the logger's column; holds for the target go by {recorded.source}."
    )
    yield ended_otherwise(later, ends, f'the logger\'s column "{medium.name}"', recorded.source, more)


def _on_common_cause(found: Comparison) -> Iterator[Notice]:
    """Say what all tips or fillings share, once and before what is said of single containers."""
    for code in (SECOND_CLOCK, ALL_DEPTHS, *ALL_FILLINGS.values()):
        shared = {flag.text: flag for one in found.containers for flag in one.flags if flag.code == code}
        yield from (dataclasses.replace(flag, brief="") for flag in shared.values())


def _of_common_fault(code: str, size: float, count: int) -> Notice:
    """That all probes have one fault, of one sign: what they share is likelier at fault than each of them."""
    first = f"ALL {count} PROBES {SHARED[code].format(size)}"
    if code == "start-uneven":
        how = "hotter than the middle: heated before the record begins" if size > 0 else "colder: left to stand"
        text = (
            f"ALL {count} CANS {SHARED[code]}, their outside {how}. jh goes by that; corrected lethalities hardly do."
        )
        return Notice("all-starts-uneven", "warning", "logger", text, {"size": size}, pressing=True)
    text = (
        f"{first}: check what they share before single cans, the medium's column first: its sensor and where it is "
        "(a cold corner, beside the steam), its unit, its clock, whether it begins with the come-up; then the films "
        "and the start in the case. No corrected lethality stands until then."
    )
    if code == "gap-in-doubt":
        text = (
            f"{first}: it was {'hotter' if size > 0 else 'colder'} there than a straight line between its ends, and "
            "nobody has seen it. No corrected lethality stands."
        )
    return Notice("all-probes-in-doubt", "danger", "logger", text, {"size": size})


def _on_gaps(found: Comparison) -> Iterator[Notice]:
    """Say how much of F was read over gaps in time, where it matters; a line between two samples stands for it."""
    credited: dict[tuple[float, float], list[tuple[str, float]]] = {}
    for one in found.containers:
        course, total = one.general.course, max(one.general.lethality, LEAST)
        for place in np.flatnonzero(long_pauses(one.time)).tolist():
            ends = float(one.time[place]), float(one.time[place + 1])
            credited.setdefault(ends, []).append((one.name, float(course[place + 1] - course[place]) / total))
    come_up = max((stage.end for stage in found.process.stages if stage.name == "come-up"), default=0.0)
    for (first, last), parts in sorted(credited.items()):
        most = max(part for _, part in parts)
        inside = "; it lies in the come-up" if first < come_up else ""
        if most < IN_GAP and not inside:
            continue
        read = ", ".join(f'{100.0 * part:.1f} % in "{name}"' for name, part in parts)
        gap = f"NO SAMPLES for {(last - first) / 60:.3g} min from {first / 60:.4g} min on"
        text = (
            f"{gap}: of the lethality, {read} is read over it, along a straight line between two samples{inside}. "
            "What was hotter or colder in between nobody has seen."
        )
        read = f"up to {100.0 * most:.1f} % of the lethality is read over it{inside}"
        brief = f"{gap}: {read if most >= IN_GAP else inside.removeprefix('; ')}."
        figures = {"first": first, "last": last, "part": most}
        yield Notice("gap-in-time", "warning", "logger", text, figures, brief, pressing=True)


def _on_left_out(found: Comparison) -> Iterator[Notice]:
    """Say which containers stand for nothing in what follows."""
    out = [one.name for one in found.containers if not one.whole]
    doubt = [one.name for one in found.containers if one.whole and not one.sound]
    if len(found.containers) < 2 or not (out or doubt):
        return
    left = f"{_names(out)} {'are' if len(out) > 1 else 'is'} left out of the least lethality and of all spreads"
    unsure = f"{_names(doubt)} {'are' if len(doubt) > 1 else 'is'} in doubt and left out of all spreads"
    parts = "; ".join(part for part, of in ((left, out), (unsure, doubt)) if of)
    text = f"OF {len(found.containers)} CONTAINERS {parts}."
    yield Notice("containers-left-out", "danger", "logger", text, {"left_out": float(len(out) + len(doubt))})


def _names(names: list[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def _on_loggers(found: Comparison) -> Iterator[Notice]:
    """Say that loggers credit more than their cold spots get, of all containers at once."""
    over = {one.name: excess for one in found.containers if (excess := _excess(one)) is not None and excess.unsafe}
    if not over:
        return
    by = "; ".join(f'"{name}" {excess.text}' for name, excess in over.items())
    text = (
        "UNSAFE SIDE: a logger credits more lethality than the cold spot of its container gets by the fitted model: "
        f"{by}."
    )
    heating, whole = (max(getattr(excess, phase) for excess in over.values()) for phase in ("heating", "whole"))
    brief = (
        f"UNSAFE SIDE: loggers credit more lethality than their cold spots get: up to {Excess(heating, whole).most}."
    )
    if any(one.flagged(ENDED_OTHERWISE) for one in found.containers):
        unsure = " When heating ended is in doubt, and so is what is said until then."
        text, brief = f"{text}{unsure}", f"{brief}{unsure}"
    figures = {"heating_over_reading": heating, "over_reading": whole}
    yield Notice("logger-unsafe-side", "danger", "probe", text, figures, brief)


def _excess(one: Measured) -> Excess | None:
    """Excess of what a logger credits over its cold spot, uncertain by the interval of the corrected lethality."""
    spot = one.corrected
    if spot is None:
        return None
    unsure = max(spot.high - spot.lethality, spot.lethality - spot.low, spot.numerical) / spot.lethality
    least = spot.lethality if one.otherwise is None else min(spot.lethality, one.otherwise.lethality)
    whole = spot.over_reading if least == spot.lethality else one.general.lethality / least - 1.0
    return Excess(spot.heating_over_reading, whole, unsure, unsure)


def _on_reading(found: Comparison, one: Measured) -> Iterator[Notice]:
    early = found.process.end - float(one.time[-1])
    if early > ENDS_EARLY:
        ends = "ends" if one.failure is None else "fails"
        text = (
            f'"{one.name}" {ends} {early / 60:.3g} min before the process: its own lethality lacks what came after'
            + ("." if one.corrected is None else "; the corrected one counts the whole process.")
        )
        yield Notice("reading-ends-early", "warning", "logger", text, {"early": early})
    general = one.general
    if general.trapezoids > 0.0 and abs(general.trapezoidal_error) > SUMMED_WELL * general.trapezoids:
        more = general.trapezoidal_error / general.trapezoids
        text = (
            f'"{one.name}": trapezoids of the lethal rate sum to {100 * more:+z.1f} % too much (estimated); the '
            "figure given takes the temperature as straight between samples instead."
        )
        yield Notice("sparse-samples", "note", "logger", text, {"trapezoids_more": more})


def _on_factors(containers: Sequence[Measured]) -> Iterator[Notice]:
    """Say why there are no factors, or doubtful ones, once for all containers of which one thing is to be said."""
    by: dict[tuple[str, str, bool], list[str]] = {}
    for one in containers:
        for phase, factors in (("heating", one.heating), ("cooling", one.cooling)):
            if factors is not None and factors.remark:
                by.setdefault((phase, factors.remark, factors.line is None), []).append(one.name)
            elif factors is not None:
                yield from _on_early_part(one.name, phase, factors)
    for (phase, remark, none), names in by.items():
        who = f"All {len(names)} containers" if len(names) == len(containers) > 1 else _names(names)
        text = f"{who}, {phase}: {f'no f and j: {remark}' if none else remark}."
        yield Notice("factors-doubtful", "warning" if none else "note", "logger", text, pressing=none)


def _on_early_part(name: str, phase: str, factors: Penetration) -> Iterator[Notice]:
    if factors.line is not None and factors.line.automatic and factors.line.early and phase == "heating":
        after = (factors.line.start - factors.line.zero) / factors.line.f
        text = (
            f'"{name}": the straight part begins {after:.2f} f after the zero, where a conduction curve may still '
            "bend unseen: f and j may be off by some per cent."
        )
        yield Notice("straight-part-early", "warning", "logger", text, {"after": after})
