"""The process of a measured run: its medium as the logger's column has it, its film coefficients as the case says."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np

from thermsim.case.case import Case
from thermsim.case.file.logged_process import FALLEN, Record, calmed, from_start, knots_of, stages_of
from thermsim.case.process import Process, Stage
from thermsim.errors import InputError
from thermsim.loggers.cleaning import noise_of, running_median
from thermsim.loggers.logger import pause_at
from thermsim.loggers.run import Course, Run
from thermsim.text import plain

#: How closely the medium is followed [K], or within so many times its noise but no more than the third, as what hunts
#: from sample to sample is none; and how many knots are allowed for it: every fit marches over them often.
THIN, THIN_NOISE, THINNEST, MOST_KNOTS = 0.05, 3.0, 0.5, 160
#: The medium has left its hold where it stays more than this below it [K], or so many times its noise.
LEFT_HOLD, TIMES_NOISE = 1.0, 4.0
#: A fall of the medium by this much between two samples is worth a word [K].
FALLEN_AT_ONCE = 30.0
#: Of two scales the other is meant where it is so many times nearer to what the case says.
FAR_BETTER = 5.0
#: A fall that no sample tells of takes so long [s].
AT_ONCE = 30.0


def process_of(run: Run, case: Case) -> tuple[Process, tuple[str, ...]]:
    """The process that the containers of a run went through, and notes on what was made of the medium's column.

    It goes to the column's last sample, with the case's film coefficients, stage by stage: where they change in the
    middle of a come-up, a hold or the cooling, as long after its start as in the case. Without a column it is the
    case's own.

    Raises ``InputError`` if cooling starts outside of the record, or the case lacks the film coefficient for a stage
    of it.
    """
    medium, columns = run.medium, run.columns
    if medium is None:
        if columns.cooling is not None:
            raise InputError(
                f"{run.file}: when cooling starts is said, but no column of the medium; the case's process holds then"
            )
        return case.process, (f"{run.file}: no column of the medium is named: the medium is that of the case.",)
    cooling = columns.cooling - columns.start if columns.cooling is not None else cooling_start(medium)
    if not 0.0 < cooling <= medium.time[-1]:
        raise InputError(
            f"{run.file}: cooling is said to start at {(cooling + columns.start) / 60:g} min; it must lie after the "
            f"start of the process and before the end of the record, {(medium.time[-1] + columns.start) / 60:.6g} min"
        )
    _check_scale(run.file, medium, case)
    record = from_start(_falling(Record(medium.name, medium.time, medium.temperature), cooling))
    films = [stage.film for stage in case.process.stages]
    if case.process.heated_until == case.process.end and cooling < medium.time[-1]:
        raise InputError(
            f"{run.file}: the record goes on for {(medium.time[-1] - cooling) / 60:.3g} min of cooling, but the "
            "case's process has no cool stage: add one, with its heat-transfer coefficient"
        )
    thin = min(max(THIN, THIN_NOISE * noise_of(medium.temperature)), THINNEST)
    calm, interval = calmed(record, cooling, thin, MOST_KNOTS)
    stages = [part for stage in stages_of(calm, cooling, thin, *films[:1] * 2) for part in _with_films(stage, case)]
    fall = _fall(medium, cooling)
    how = "as said" if columns.cooling is not None else "where the medium leaves its hold"
    means = f"means over {interval:.3g} s of " if interval > 0.0 else ""
    return Process(tuple(stages), run.file), (
        f'{run.file}: the medium is {means}column "{plain(medium.name)}", followed within {thin:.2g} K by '
        f"{knots_of(stages)} knots; heat-transfer coefficients are the case's.",
        f"{run.file}: cooling starts at {(cooling + columns.start) / 60:.4g} min of the record, {how}."
        if cooling < medium.time[-1]
        else f"{run.file}: the record ends before cooling.",
        *(f"{run.file}: {note}" for note in record.notes),
        *fall,
    )


def _check_scale(file: str, medium: Course, case: Case) -> None:
    """Refuse a medium in degC that is read as degF by its header: it would be the case's otherwise."""
    hottest, planned = float(medium.temperature.max()), case.process.medium_range[1]
    meant = hottest * 1.8 + 32.0
    if abs(meant - planned) < abs(hottest - planned) / FAR_BETTER:
        raise InputError(
            f'{file}: the medium, column "{plain(medium.name)}", gets {hottest:.1f} degC hot by the unit in its '
            f"header, and {planned:.1f} degC by the case; its numbers go up to {meant:.1f}: are they degC already? "
            "If so, let the headers say so"
        )


def _falling(record: Record, cooling: float) -> Record:
    """The record with its fall where cooling is said to start in a pause of it: at once, to its next sample."""
    pause = pause_at(record.time, cooling)
    if pause is None or cooling <= pause[0] or cooling + AT_ONCE >= pause[1]:
        return record
    after = int(np.searchsorted(record.time, pause[1]))
    time = np.insert(record.time, after, [cooling, cooling + AT_ONCE])
    medium = np.insert(record.medium, after, [record.medium[after - 1], record.medium[after]])
    return dataclasses.replace(record, time=time, medium=medium)


def _fall(medium: Course, cooling: float) -> tuple[str, ...]:
    """A fall between two samples: when it happened is not known any better."""
    after = int(np.searchsorted(medium.time, cooling + 1e-6))
    if not 0 < after < medium.time.size:
        return ()
    step, wide = medium.temperature[after] - medium.temperature[after - 1], np.diff(medium.time)[after - 1]
    if abs(step) < FALLEN_AT_ONCE:
        return ()
    return (
        f'At the start of cooling "{plain(medium.name)}" falls by {-step:.0f} K between two samples; it is taken as '
        f"falling evenly, and cooling may have begun up to {wide:.0f} s later. A fitted offset takes that up.",
    )


def cooling_start(medium: Course) -> float:
    """Time at which a logged medium leaves its hold [s]: the last sample before it falls, the end if it does not."""
    calm = running_median(medium.temperature)
    hot = calm >= calm.max() - FALLEN
    hold = float(np.median(calm[hot]))
    margin = max(LEFT_HOLD, TIMES_NOISE * noise_of(medium.temperature))
    last = int(np.flatnonzero(hot & (calm >= hold - margin))[-1])
    # the median runs ahead of a fall by half its width: the samples themselves say where that begins
    while last + 1 < calm.size and medium.temperature[last + 1] >= hold - margin:
        last += 1
    if last + 1 == calm.size or calm[last:].min() >= calm.max() - FALLEN:
        return float(medium.time[-1])
    return float(medium.time[last])


def _with_films(stage: Stage, case: Case) -> list[Stage]:
    """A stage of a record in parts with the film coefficients of the case's stages of that name.

    Where the case has none of that name, with those of its hold or, without one, of its first stage.
    """
    planned = case.process.stages
    own = [one for one in planned if one.name == stage.name] or [one for one in planned if one.name == "hold"]
    own = own or list(planned[:1])
    found, rest, ends = [], dataclasses.replace(stage, film=own[0].film), stage.start
    for one, following in itertools.pairwise(own):
        ends += one.end - one.start
        if not rest.start < ends < rest.end:
            break
        if following.film != rest.film:
            found.append(rest.until(ends))
            rest = dataclasses.replace(rest.since(ends), film=following.film)
    return [*found, rest]
