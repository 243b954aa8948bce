"""Doubts that the containers of a run share: the medium's column, how the record begins and heating ends, all depths.

Each is said once, and stands as a flag beside every container whose figures rest on it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence

import numpy as np

from thermsim.assess.measured.doubts.suspicion import fall_within
from thermsim.assess.measured.result import (
    BEGINS_HOT,
    CLOCK_TOO_FAR,
    COPIED,
    ENDED_OTHERWISE,
    EXCHANGED,
    UNSEEN_END,
    Measured,
)
from thermsim.case.file.measured_medium import cooling_start
from thermsim.case.process import Process
from thermsim.loggers.logger import pause_at
from thermsim.loggers.run import FEWEST, Course, Run
from thermsim.notice import Notice
from thermsim.quantities import LETHALITY

#: A medium that has done this part of the come-up in its first samples is hot already.
HOT_ALREADY = 0.5
#: A probe that is hotter than the medium by so much [K] in more than this part of its heating is no probe.
AHEAD, MOSTLY = 10.0, 0.3
#: Heating ended at another time where clocks tell of more than so many intervals between samples, and of so much [s].
INTERVALS_APART, LEAST_APART = 1.5, 20.0
#: A come-up that is not in the record moves a fitted clock by so much at most [s]: by 54 s where 14 min lack.
BY_COME_UP = 120.0
#: Columns of which more than this part of the steps are the same are one probe's.
COPY = 0.9
#: Cooling may be said to start so far from where the medium leaves its hold: valves take their time [s].
SAID_WELL = 180.0
#: ... and hardly be said later than that.
SAID_LATE = 60.0
#: What a column shows by itself, whatever it is compared with.
SEEN_ALONE = ("probe-failed", "record-short", "reading-steps")


@dataclasses.dataclass(frozen=True)
class Doubt:
    """A danger of a run, the containers whose figures it puts in doubt, and what their rows say of it."""

    said: Notice
    names: tuple[str, ...]
    row: str


def doubts_of_run(planned: Process, process: Process, run: Run, containers: Sequence[Measured]) -> Iterator[Doubt]:
    """Dangers that are said once of a run and put the figures of its containers in doubt.

    Parameters
    ----------
    planned, process : Process
        As the case has it, and what the containers went through.
    run : Run
    containers : sequence of Measured
        Fitted.
    """
    everyone = tuple(one.name for one in containers)
    yield from (Doubt(said, everyone, "medium?") for said in _on_exchanged(run.medium, run.courses))
    yield from _on_copies(run.courses)
    yield from (Doubt(said, everyone, "no come-up?") for said in _on_start(planned, run))
    yield from (Doubt(said, everyone, "cooling when?") for said in (*_on_said(run), *_on_unseen_end(run)))
    if not any(_on_unseen_end(run)):
        yield from _on_turn(process, run, containers, 0.0 if record_stands(planned, run) else BY_COME_UP)


def record_stands(planned: Process, run: Run) -> bool:
    """True if a record begins with the process, and its medium is one: else the curves tell nothing of probes."""
    return not any((*_on_exchanged(run.medium, run.courses), *_on_start(planned, run), *_on_unseen_end(run)))


def flagged_by_run(doubts: Sequence[Doubt], one: Measured) -> Measured:
    """A container with a flag for each of its run's doubts that concerns it, the first of all.

    Where the record itself does not stand, that explains whatever its curve seemed to say of its probe.
    """
    new = tuple(dataclasses.replace(doubt.said, brief=doubt.row) for doubt in doubts if one.name in doubt.names)
    if any(flag.code in (BEGINS_HOT, EXCHANGED, UNSEEN_END) for flag in new):
        seen = tuple(flag for flag in one.flags if flag.code in SEEN_ALONE)
        one = dataclasses.replace(one, flags=seen, depth=None, there=None)
    return dataclasses.replace(one, flags=(*new, *one.flags))


def _on_exchanged(medium: Course | None, courses: Sequence[Course]) -> Iterator[Notice]:
    """Say that a column named a probe is hotter than the one named the medium while it heats: no food is."""
    if medium is None:
        return
    for course in courses:
        heating = slice(0, int(course.temperature.argmax()) + 1)
        ahead = course.temperature[heating] - np.interp(course.time[heating], medium.time, medium.temperature)
        if float((ahead > AHEAD).mean()) <= MOSTLY:
            continue
        text = (
            f'MEDIUM AND PROBE LOOK EXCHANGED: "{course.name}", named a probe, is up to {ahead.max():.0f} K hotter '
            f'than "{medium.name}", named the medium, while it heats. Nothing here holds if they are.'
        )
        yield Notice(EXCHANGED, "danger", "logger", text, {"ahead": float(ahead.max())})


def _on_copies(courses: Sequence[Course]) -> Iterator[Doubt]:
    """Say that columns go up and down together to the last digit: no two probes do."""
    for k, one in enumerate(courses):
        for other in courses[k + 1 :]:
            both, here, there = np.intersect1d(one.time, other.time, return_indices=True)
            apart = np.diff(one.temperature[here] - other.temperature[there])
            moves = np.abs(np.diff(one.temperature[here])) > 0.0
            if moves.sum() < FEWEST or float((np.abs(apart[moves]) < 1e-6).mean()) < COPY:
                continue
            text = (
                f'"{one.name}" AND "{other.name}" ARE ONE PROBE\'S: {both.size} samples go up and down together to '
                "the last digit, as no two probes do. One of the cans was not measured; which, no column can tell."
            )
            said = Notice(COPIED, "danger", "logger", text, {"samples": float(both.size)})
            yield Doubt(said, (one.name, other.name), "copied?")


def _on_start(planned: Process, run: Run) -> Iterator[Notice]:
    """Say that the record begins when the medium is hot, where the process has a come-up."""
    come_up = next((stage for stage in planned.stages if stage.name == "come-up"), None)
    if run.medium is None or come_up is None:
        return
    cold, hold = float(come_up.medium[0]), float(come_up.medium[-1])
    first = float(run.medium.temperature[:3].min())  # between rare samples a medium may come up
    if first - cold <= HOT_ALREADY * (hold - cold):
        return
    text = (
        f"COME-UP NOT IN THE RECORD: the medium is at {first:.1f} degC in its first samples; the process comes up "
        f"from {cold:.4g} degC. What the containers took up before is not in the model: neither starts, depths "
        "and clocks nor factors and corrected lethalities hold. Give a record from steam on."
    )
    brief = "COME-UP NOT IN THE RECORD: nothing that is fitted holds. Give a record from steam on."
    yield Notice(BEGINS_HOT, "danger", "logger", text, {"first": first}, brief)


def _on_said(run: Run) -> Iterator[Notice]:
    """Say that the medium leaves its hold at quite another time than cooling is said to start."""
    medium, columns = run.medium, run.columns
    if medium is None or columns.cooling is None:
        return
    said, fell = columns.cooling - columns.start, cooling_start(medium)
    if fell >= medium.time[-1] or -SAID_LATE <= fell - said <= SAID_WELL or pause_at(medium.time, said):
        return
    more = (
        "Film coefficients, fh, jh, fc, jc and what is read until heating ends go by what is said. Leave it out, or "
        "count it from the first sample of the record."
    )
    yield ended_otherwise(fell - said, said, f'the column "{medium.name}"', "what is said", more)


def _on_unseen_end(run: Run) -> Iterator[Notice]:
    """Say that cooling began while the record has no samples, unless it is said when."""
    medium = run.medium
    gap = None if medium is None else pause_at(medium.time, cooling_start(medium))
    if gap is None or run.columns.cooling is not None:
        return
    text = (
        f"COOLING BEGAN WHERE THE RECORD HAS A GAP, between {gap[0] / 60:.4g} and {gap[1] / 60:.4g} min: when is not "
        "known, and no corrected lethality stands. Say when by --cooling-min, as the retort's own record has it."
    )
    yield Notice(UNSEEN_END, "danger", "logger", text, {"first": gap[0], "last": gap[1]})


def ended_later(process: Process, run: Run, one: Measured) -> float:
    """Time by which heating ended later by a probe's own turn than by the process [s], where samples tell that.

    Below 0: earlier; 0 where they agree, and where the probe is said to have a clock of its own.
    """
    offset = None if one.fit is None or one.own_clock or one.failure else one.fit.value("offset")
    if offset is None:
        return 0.0
    interval = max(float(np.median(np.diff(one.time))), _ending_within(process, run))
    return offset if abs(offset) > max(INTERVALS_APART * interval, LEAST_APART) else 0.0


def _ending_within(process: Process, run: Run) -> float:
    """Time [s] within which a record of the medium has the end of heating; 0 where the process has no record."""
    ends = process.heated_until
    if run.medium is not None:
        time = run.medium.time
        after = int(np.clip(np.searchsorted(time, ends, side="right"), 1, time.size - 1))
        return float(np.diff(time[max(0, after - 2) : after + 2]).max())
    return fall_within(process)


def _on_turn(process: Process, run: Run, containers: Sequence[Measured], least: float) -> Iterator[Doubt]:
    """Say that the probes turn to cooling at another time than the process: its clock, or its hold, is not theirs.

    ``least`` is what else may move the turn [s].
    """
    by: dict[float, list[str]] = {}
    for one in containers:
        later = ended_later(process, run, one)
        if abs(later) > least and not one.flagged(CLOCK_TOO_FAR):
            later = one.held.later if one.held is not None and one.held.likelier else later
            by.setdefault(round(later), []).append(one.name)
    for later, names in by.items():
        whose = _record_of(process, run)
        who = "the probes" if len(names) == len(containers) > 1 else ", ".join(f'"{name}"' for name in names)
        told = _either(later, [one for one in containers if one.name in names])
        either = f"Either two clocks differ, or {whose} is not this run's. "
        more = (
            f"{told or either}Compare both with a third clock. Until then all of it is in doubt: what is read until "
            f"heating ends is counted to the turn; fh, jh, fc, jc and the time of heating go by {whose}."
        )
        said = ended_otherwise(later, process.heated_until, f"the turn of {who}", whose, more, told)
        yield Doubt(said, tuple(names), "whose clock?")


def _either(later: float, containers: Sequence[Measured]) -> str:
    """Least lethality corrected if the clocks differ, and if heating was longer or shorter: where both are known."""
    holds = [one.held for one in containers if one.held is not None]
    if not holds or all(one.corrected is None for one in containers):
        return ""
    clocks = [one.corrected.lethality for one in containers if one.corrected is not None and not _stopped(one)]
    if clocks and all(held.likelier is False for held in holds):
        return f"The curves tell for clocks that differ: least corrected lethality {LETHALITY.text(min(clocks))}. "
    least = LETHALITY.text(min(held.lethality for held in holds))
    really = f"heating was really {'longer' if later > 0 else 'shorter'}"
    if not clocks:
        return f"The curves tell that {really}: least corrected lethality {least}. "
    tells = "so the curves tell" if all(held.likelier for held in holds) else "the curves do not tell which"
    return (
        f"If the clocks differ, the least corrected lethality is {LETHALITY.text(min(clocks))}; if {really}, {least} "
        f"({tells}). "
    )


def _stopped(one: Measured) -> bool:
    """True if its clock is further off than is looked for: what is corrected by that stands for nothing."""
    return one.fit is not None and any(estimate.at_bound for estimate in one.fit.estimates)


def ended_otherwise(later: float, ends: float, by: str, than: str, more: str, told: str = "") -> Notice:
    """The danger that heating ended later [s] by one record than by another, by which it ends at ``ends`` [s]."""
    first = (
        f"HEATING ENDED {abs(later) / 60:.1f} min {'later' if later > 0 else 'EARLIER'} by {by} "
        f"than by {than}: at {(ends + later) / 60:.1f}, not {ends / 60:.1f} min"
    )
    brief = f"{first}. {told.strip() or 'Whose clock?'}"
    return Notice(ENDED_OTHERWISE, "danger", "logger", f"{first}. {more}", {"later": later}, brief)


def _record_of(process: Process, run: Run) -> str:
    """The record that a comparison's process goes by, in words."""
    if run.medium is not None:
        return f'the column "{run.medium.name}"'
    return process.source if process.recorded else "the case's process"
