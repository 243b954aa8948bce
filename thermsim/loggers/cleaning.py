"""Samples of a logged column that cannot be readings: blanks, drop-outs beyond any food's temperature, and spikes."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from thermsim.errors import InputError
from thermsim.loggers.logger import Log, lines_named, long_pauses, pauses
from thermsim.physics.scales import COLDEST, HOTTEST, other_scale
from thermsim.text import plain

Floats = NDArray[np.float64]

#: Samples on either side of one that its median is taken over.
BESIDE = 3
#: A spike stands out from the median of its neighbours by more than this [K] (in food, in the medium) ...
SPIKE, MEDIUM_SPIKE = 1.0, 10.0
#: ... and by more than so many times the noise.
TIMES_NOISE = 8.0
#: More drop-outs and spikes than this part of a column are no record any more.
MOST_DROPPED = 0.2
#: A step between neighbouring samples of a probe that is larger than this [K] is named.
JUMP = 20.0


@dataclass(frozen=True)
class Cleaned:
    """Times [s] and readings [degC] that are left, and what is to be said of the others."""

    time: Floats
    temperature: Floats
    notes: tuple[str, ...]


def noise_of(values: Floats) -> float:
    """Standard deviation of the noise of a smooth course, from its second differences [K].

    The median of their sizes, which spikes and bends hardly touch, over 0.6745 (the median of the size of a standard
    normal variable) and sqrt(6) (the second difference of independent noise is that much larger).
    """
    second = np.diff(values, 2)
    return float(np.median(np.abs(second)) / (0.6745 * np.sqrt(6.0))) if second.size else 0.0


def running_median(values: Floats, beside: int = BESIDE) -> Floats:
    """Median over each sample and so many on either side of it; towards the ends over as many as both sides have."""
    found = values.astype(float)
    if values.size > 2 * beside:
        found[beside:-beside] = np.median(sliding_window_view(values, 2 * beside + 1), axis=1)
    for near in range(1, min(beside, (values.size + 1) // 2)):
        width = 2 * near + 1
        found[near], found[-1 - near] = np.median(values[:width]), np.median(values[-width:])
    return found


def cleaned(log: Log, place: int, *, of_medium: bool) -> Cleaned:
    """The column at a place without blanks, drop-outs and spikes; the medium may jump where food cannot.

    Raises ``InputError`` if more than a fifth of the readings cannot be temperatures of food.
    """
    header, values = plain(log.columns[place]), log.values[:, place]
    filled = np.isfinite(values)
    possible = filled & (values >= COLDEST) & (values <= HOTTEST)
    odd = filled & ~possible
    notes: list[str] = []
    if not possible.any():
        first = values[filled][0] if filled.any() else np.nan
        raise InputError(
            f'{log.name} line {log.lines[0]}: column "{header}" holds no temperature from {COLDEST:g} to {HOTTEST:g} '
            f"degC; it reads {first:g}{_scale(header, first)}"
        )
    if not filled.all():
        notes.append(
            f'column "{header}" has no number in {int((~filled).sum())} of {values.size} samples '
            f"({_lines(log, ~filled)}); they are left out."
        )
    # what comes after the last reading that can be one is the end of a probe, not of a record
    ended = np.arange(values.size) > np.flatnonzero(possible)[-1]
    if odd.any():
        first, line = values[odd][0], log.lines[odd][0]
        if (odd & ~ended).sum() > MOST_DROPPED * (filled & ~ended).sum():
            raise InputError(
                f'{log.name} line {line}: column "{header}" reads {first:g} degC; '
                f"{int(odd.sum())} of {int(filled.sum())} samples are beyond any food, below {COLDEST:g} or above "
                f"{HOTTEST:g} degC{_scale(header, first)}"
            )
        notes.append(
            f'column "{header}" drops out in {int(odd.sum())} samples; the first of them reads {first:g} degC '
            f"({_lines(log, odd)}); they are left out."
        )
    where = np.flatnonzero(possible)
    # what follows a long pause is no neighbour of what comes before it
    runs = np.split(values[where], np.flatnonzero(long_pauses(log.time[where])) + 1)
    spikes = np.concatenate([_spikes(run, MEDIUM_SPIKE if of_medium else SPIKE) for run in runs])
    if spikes.any():
        marked = np.zeros(values.size, dtype=bool)
        marked[where[spikes]] = True
        if spikes.sum() > MOST_DROPPED * where.size:
            jumping = (
                f'column "{header}" jumps to and fro in {int(spikes.sum())} of {where.size} samples '
                f"({_lines(log, marked)})"
            )
            if not of_medium:
                raise InputError(f"{log.name}: {jumping}; no temperature does that")
            notes.append(f"{jumping}: check it; it is taken as it is.")
            return Cleaned(log.time[where], values[where], tuple(notes))
        notes.append(
            f'column "{header}" has spikes in {int(spikes.sum())} sample{"s" if spikes.sum() > 1 else ""}, which '
            f"no temperature makes ({_lines(log, marked)}); they are left out."
        )
        where = where[~spikes]
    if not of_medium and where.size > 1:
        notes += _jumps(log, where, place)
    if of_medium:
        # samples that are not there at all are noted with the log
        known = set(log.lines[1:][long_pauses(log.time)].tolist())
        notes += pauses(log.time[where], log.lines[where].tolist(), besides=known)
    return Cleaned(log.time[where], values[where], tuple(notes))


def _scale(header: str, first: float) -> str:
    """The scale that a reading may be meant in, and how to say so; "" where none fits."""
    hint, bare = other_scale(first), re.sub(r"\s*[\[(][^\[(]*[\])]\s*$", "", header)
    unit = "K" if "mean K" in hint else "degF"
    return hint and f'{hint} If so, let the header say so: "{bare} [{unit}]"'


def _spikes(values: Floats, least: float) -> NDArray[np.bool_]:
    """Samples that stand out from the median of their neighbours; a step or a ramp does not."""
    if values.size < 2 * BESIDE + 1:
        return np.zeros(values.size, dtype=bool)
    off = np.abs(values - running_median(values))
    return np.asarray(off > max(least, TIMES_NOISE * noise_of(values)))


def _jumps(log: Log, where: NDArray[np.intp], place: int) -> list[str]:
    """Warn of steps in a probe's curve that no food makes."""
    steps = np.abs(np.diff(log.values[where, place]))
    jumps = np.flatnonzero(steps > JUMP)
    if not jumps.size:
        return []
    marked = np.zeros(log.time.size, dtype=bool)
    marked[where[jumps + 1]] = True
    return [
        f'column "{plain(log.columns[place])}" steps by up to {steps.max():.3g} K from one sample to the next '
        f"({_lines(log, marked)}): check the probe and its cable."
    ]


def _lines(log: Log, which: NDArray[np.bool_]) -> str:
    """Places of samples in words, the first few of them."""
    return lines_named(log.lines[which].tolist())
