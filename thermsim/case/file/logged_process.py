"""From a logged medium temperature to the stages of a process: cut where cooling starts, thinned; its oddities."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.case.case import Lethality
from thermsim.case.keys.tables import keys_of
from thermsim.case.process import SHORTEST, Film, Process, Stage, StageName
from thermsim.case.rules import samples_of
from thermsim.errors import InputError
from thermsim.loggers.cleaning import cleaned
from thermsim.loggers.logger import Log, find_column
from thermsim.text import plain

Floats = NDArray[np.float64]

THIN = float(keys_of("process")["thin_K"].default)  # K; how far from any sample, where nothing is said
MOST_KNOTS = 600  # the solver stops at each of them; what needs more is noise
_LONGER = 1.25  # each next interval of averaging that is tried
HOLD_BELOW_HIGHEST = 0.5  # K: where the come-up counts as over
_SAME_TIME = 1e-6  # s
FALLEN = 5.0  # K below its highest: a medium that has fallen this far is no longer heating


@dataclass(frozen=True)
class Record:
    """A logged medium temperature: ``time`` [s] from 0, ``medium`` [degC], both of shape (n,)."""

    header: str
    time: Floats
    medium: Floats
    notes: tuple[str, ...] = ()


def medium_of(log: Log, choice: str | int | None) -> Record:
    """The medium's temperature out of a log; ``choice`` as in :func:`thermsim.loggers.logger.find_column`.

    Raises ``InputError`` if the column is not clear, or holds no temperatures of a medium.
    """
    column = find_column(log, choice)
    found = cleaned(log, column, of_medium=True)
    notes = tuple(f"{log.name}: {note}" for note in found.notes)
    if found.time.size < 2:
        raise InputError(f'{log.name}: column "{plain(log.columns[column])}" has fewer than two usable readings')
    return from_start(Record(log.columns[column], found.time, found.temperature, (*log.notes, *notes)))


def from_start(record: Record) -> Record:
    """The record from time 0 on: what precedes its first sample is taken as level."""
    if record.time[0] <= 0.0:
        return record
    time, medium = np.append(0.0, record.time), np.append(record.medium[0], record.medium)
    note = f'column "{plain(record.header)}" begins {record.time[0]:g} s late; until then it is taken as level.'
    return replace(record, time=time, medium=medium, notes=(*record.notes, note))


def stages_of(record: Record, cooling: float, thin: float, heating_film: Film, cooling_film: Film) -> list[Stage]:
    """The stages that a record consists of, no farther from any sample than ``thin`` [K].

    A come-up until the medium first comes within 0.5 K of the highest temperature it has while heating, a hold until
    cooling starts [s], above 0 and at most at the record's end, then the cooling; what lasts no time is left out.
    """
    (time, medium), late = _cut(record, cooling)
    reached = int(np.argmax(medium >= medium.max() - HOLD_BELOW_HIGHEST))
    parts: list[tuple[StageName, Floats, Floats, Film]] = [
        ("come-up", time[: reached + 1], medium[: reached + 1], heating_film),
        ("hold", time[reached:], medium[reached:], heating_film),
        ("cool", *late, cooling_film),
    ]
    stages = []
    for name, time, medium, film in parts:
        if time.size > 1:
            knots = thinned(time, medium, thin)
            stages.append(Stage(name, time[knots], medium[knots], film))
    return stages


def process_from_arrays(
    time: ArrayLike,
    medium: ArrayLike,
    *,
    cooling_starts: float,
    film: float | Film,
    cooling_film: float | Film | None = None,
    thin: float = THIN,
) -> Process:
    """A process whose medium is given sample by sample, thinned as that of a logger's file is.

    Parameters
    ----------
    time, medium : array-like, shape (n,)
        Times [s], growing, at which the medium has its temperatures [degC]; n >= 2. What precedes the first counts as
        level, and time 0 is the start.
    cooling_starts : float
        When [s]: above 0 and at most the last time.
    film, cooling_film : float or Film
        Heat-transfer coefficients before and after [W/m2K]; the second is needed where samples follow.
    thin : float, optional
        How far the straight lines of the process may be from any sample [K].

    Returns
    -------
    Process
        A come-up until the medium first comes within 0.5 K of the highest temperature it has while heating, a hold,
        the cooling. Where that takes more than 600 knots, the samples are averaged over ever longer intervals.

    Raises
    ------
    InputError
        If the samples are none of a course, or cooling starts outside of them.

    Examples
    --------
    >>> import numpy as np
    >>> from thermsim import process_from_arrays
    >>> time = np.arange(0.0, 7200.0, 10.0)
    >>> retort = 121.0 - 80.0 * np.exp(-time / 300.0)
    >>> process = process_from_arrays(time, retort, cooling_starts=time[-1], film=450.0)
    >>> len(time), sum(len(stage.time) for stage in process.stages)
    (720, 60)
    """
    times, values = samples_of(time, medium=medium)
    rule = ""
    if times[0] < 0.0:
        rule = f"time begins at {times[0]:g} s; it must not begin before 0, the start of the process"
    elif not SHORTEST <= cooling_starts <= times[-1]:
        rule = (
            f"cooling_starts = {cooling_starts:g} s must be at least {SHORTEST:g} s, and not after the last time, "
            f"{times[-1]:g} s"
        )
    elif cooling_film is None and cooling_starts < times[-1]:
        rule = f"cooling_film is missing, although {times[-1] - cooling_starts:g} s follow the start of cooling"
    elif not thin > 0.0:
        rule = f"thin = {thin:g} K must be above 0 K"
    if rule:
        raise InputError(rule)
    record, _ = calmed(from_start(Record("medium", times, values)), cooling_starts, thin)
    films = Film.given(film), Film.given(film if cooling_film is None else cooling_film)
    return Process(tuple(stages_of(record, cooling_starts, thin, *films)), "arrays")


def calmed(record: Record, cooling: float, thin: float, most: int = MOST_KNOTS) -> tuple[Record, float]:
    """A record that thinning leaves with so many knots at most: itself, or its means over equal intervals.

    With it their length [s], 0 if the record is as it was; see :func:`stages_of`.
    """
    film = Film.everywhere(0.0)  # of no influence on the knots
    pieces = [piece for piece in _cut(record, cooling) if piece[0].size > 1]
    calm, interval = record, 0.0
    while knots_of(stages_of(calm, cooling, thin, film, film)) > most:
        interval = _LONGER * interval or float(np.median(np.diff(record.time)))
        means = [averaged(*piece, interval) for piece in pieces]
        # the cooling start ends one piece and begins the next
        time = np.concatenate([means[0][0], *(later[0][1:] for later in means[1:])])
        medium = np.concatenate([means[0][1], *(later[1][1:] for later in means[1:])])
        calm = replace(record, time=time, medium=medium)
    return calm, interval


def knots_of(stages: Sequence[Stage]) -> int:
    """Number of times at which the medium of stages that follow one another may bend, the ends included."""
    return sum(stage.time.size for stage in stages) - len(stages) + 1


def _cut(record: Record, cooling: float) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Times and temperatures of the record until cooling starts, and from then on."""
    at_cooling = float(np.interp(cooling, record.time, record.medium))
    before, after = record.time < cooling - _SAME_TIME, record.time > cooling + _SAME_TIME
    return (
        (np.append(record.time[before], cooling), np.append(record.medium[before], at_cooling)),
        (np.append(cooling, record.time[after]), np.append(at_cooling, record.medium[after])),
    )


def averaged(time: Floats, values: Floats, interval: float) -> tuple[Floats, Floats]:
    """Means of the straight lines between samples over equal intervals that are no longer than one is [s].

    Times and values, shape (m,): the ends as they are; between them, evenly spaced, the mean over an interval centred
    on each. Of the n >= 2 samples the times grow strictly.
    """
    count = math.ceil((time[-1] - time[0]) / interval)
    places = np.linspace(time[0], time[-1], count + 1)
    edges = (places[1:] + places[:-1]) / 2
    at = np.interp(edges, time, values)
    areas = np.append(0.0, np.cumsum(np.diff(time) * (values[1:] + values[:-1]) / 2))
    sample = np.searchsorted(time, edges, side="right") - 1
    integral = areas[sample] + (edges - time[sample]) * (values[sample] + at) / 2
    return places, np.concatenate([values[:1], np.diff(integral) / np.diff(edges), values[-1:]])


def thinned(time: Floats, values: Floats, tolerance: float) -> NDArray[np.int64]:
    """Samples that are enough for straight lines between them to come within ``tolerance`` of all the others.

    Greedy: from each knot the line goes to the last sample that it can reach, looking on from sample to sample
    while the slopes that suit all those passed leave a cone, and the sample itself lies in it. Returned are the
    indices of the knots, the first and the last of the n >= 2 samples among them; times grow strictly.
    """
    times, heights = time.tolist(), values.tolist()
    knots = [0]
    lowest, highest = -np.inf, np.inf
    place = 1
    while place < len(times):
        run = times[place] - times[knots[-1]]
        rise = heights[place] - heights[knots[-1]]
        if lowest <= rise / run <= highest:
            lowest = max(lowest, (rise - tolerance) / run)
            highest = min(highest, (rise + tolerance) / run)
            place += 1
        else:
            # the neighbour can always be reached, so this moves on
            knots.append(place - 1)
            lowest, highest = -np.inf, np.inf
    return np.array([*knots, len(times) - 1])


def on_process(process: Process, initial: float) -> Iterator[str]:
    """Oddities of a process with at least one stage; ``initial`` is the product's temperature at the start."""
    highest = process.medium_range[1]
    if highest <= initial:
        yield (
            f"Nothing is heated: the medium, {highest:g} degC at most, never gets hotter than the product is at the "
            f"start, {initial:g} degC."
        )
    heating = [stage for stage in process.stages if stage.start < process.heated_until]
    last = float(heating[-1].medium[-1])
    if highest - last > FALLEN:
        reached = any(float(np.max(stage.medium)) == highest for stage in heating)
        yield (
            f"The medium is {'already' if reached else 'still'} {highest - last:.3g} K below its highest temperature "
            f"when heating is said to end (at {process.heated_until / 60:.6g} min): check where cooling starts "
            "(cooling_starts_min, or the stages' names)."
        )


def on_thinning(thin: float, lethality: Lethality) -> str:
    """Error that a lethality may have because the medium follows its record within ``thin`` [K].

    Temperatures inside differ by no more than those of the medium do (maximum principle), so a lethal rate
    10^((T - reference)/z) is off by a factor of 10^(thin/z) at most.
    """
    most = 100.0 * (10.0 ** (thin / lethality.z) - 1.0)
    return (
        f"Following the record within {thin:g} K may change a lethality by at most {most:.2g} % "
        f"(10^({thin:g}/{lethality.z:g}) - 1); this is not counted in the numerical uncertainty."
    )
