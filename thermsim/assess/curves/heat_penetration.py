"""Heat-penetration factors of a heating curve: the straight line in log10(unaccomplished temperature) over time.

log10((T_M - T)/(T_M - T_0)) = log10(j) - t/f, with T_M the medium's and T_0 the start temperature. Of a measured or
computed reading under a real process the lag factor counts from a corrected zero: only a part of the come-up is
credited (42 % by custom: common practice, no source), as if the medium jumped at 58 % of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.assess.curves.straight_part import Break, Line, broken_line, straight_line
from thermsim.case.file.logged_process import process_from_arrays
from thermsim.case.file.measured_medium import cooling_start
from thermsim.case.process import Process
from thermsim.case.rules import samples_of
from thermsim.loggers.cleaning import noise_of, running_median
from thermsim.loggers.run import Course

Array = NDArray[np.float64]

#: The straight part lies below this unaccomplished fraction; above, a conduction curve still bends.
STRAIGHT_BELOW = 0.1
#: Unaccomplished fractions below this are not used: what is left to go is too small to be known well.
STRAIGHT_ABOVE = 0.01
#: Part of the come-up that counts as heating (common practice, no source).
CREDIT = 0.42
#: The straight part ends where less than this is left [K], or so many times the noise: what is left is then known
#: too badly, since sensors of probe and medium differ by some tenths of a kelvin (common practice, no source).
FLOOR, TIMES_NOISE = 1.0, 8.0
#: A medium that falls so far below its mean in the hold [K] makes a curve that no straight line is of.
FELL = 5.0
#: The start temperature is the mean of the first samples up to this time [s], as long as they are alike within four
#: times the noise, or this [K].
AT_START, START_TOLERANCE = 60.0, 0.05
#: Where heating ends before the straight part is long enough, a line may begin here.
BENT_BELOW = 0.3


@dataclass(frozen=True)
class Factors:
    """Slope factor ``f`` [s] and lag factor ``j`` of a heating curve, from so many ``samples``."""

    f: float
    j: float
    samples: int


def heating_factors(time: Array, temperature: Array, *, medium: float, start: float) -> Factors | None:
    """Fit the straight part of a heating curve under a constant medium.

    Parameters
    ----------
    time, temperature : ndarray, shape (n,)
        Times since heating began [s] and temperatures [degC].
    medium, start : float
        Temperatures of the medium and of the product at time 0 [degC].

    Returns
    -------
    Factors or None
        None if the curve ends before its straight part.
    """
    left = (medium - temperature) / (medium - start)
    straight = straight_samples(left)
    if straight is None:
        return None
    slope, level = np.polyfit(time[straight], np.log10(left[straight]), 1)
    if slope >= 0.0:
        return None
    return Factors(f=float(-1.0 / slope), j=float(10.0**level), samples=int(straight.sum()))


def straight_samples(left: Array) -> NDArray[np.bool_] | None:
    """Samples that a straight line is fitted to, by the parts of the first difference left (n,); None if too few."""
    least = max(STRAIGHT_ABOVE, float(left.min()))
    top = min(max(STRAIGHT_BELOW, 3.0 * least), BENT_BELOW)
    straight = (left <= top) & (left >= least)
    return None if straight.sum() < 5 or top < 1.5 * least else straight


def factors_uncertainty(
    time: Array, temperature: Array, unsure: Array, worst: Sequence[float], *, medium: float, start: float
) -> tuple[float, float] | None:
    """Uncertainty of both factors of a heating curve from that of its temperatures.

    ``unsure`` (k, n) [K]: in what ways they may be off, each over time. What each does to a factor counts, as what is
    off alike everywhere hardly turns a line, or a part of what the worst signs would do, of each in ``worst`` (k,).
    The ways have nothing to do with each other. Other parameters as for :func:`heating_factors`; None where there
    are no factors.
    """
    left = (medium - temperature) / (medium - start)
    straight, found = straight_samples(left), heating_factors(time, temperature, medium=medium, start=start)
    if straight is None or found is None:
        return None
    weights = np.linalg.pinv(np.stack([time[straight], np.ones(int(straight.sum()))], axis=1))
    off = unsure[:, straight] / ((medium - temperature[straight]) * math.log(10.0))
    signs = np.abs(weights) @ np.abs(off.T) * np.asarray(worst)
    of_slope, of_level = np.linalg.norm(np.maximum(np.abs(weights @ off.T), signs), axis=1)
    return float(found.f**2 * of_slope), float(found.j * math.log(10.0) * of_level)


@dataclass(frozen=True)
class Penetration:
    """Heat-penetration factors of the heating or the cooling of a reading.

    Parameters
    ----------
    medium : float
        Mean temperature of the medium in the hold, or in the later half of cooling [degC].
    start : float
        Temperature of the reading at the start of it [degC].
    zero : float
        Time from which the lag factor counts [s].
    line : Line or None
        Slope and lag factors; None where ``remark`` says why.
    broken : Break or None
        The best two lines, whether or not they are better than one.
    remark : str
    """

    medium: float
    start: float
    zero: float
    line: Line | None
    broken: Break | None
    remark: str = ""


@dataclass(frozen=True)
class HeatPenetration:
    """Heat-penetration factors of a curve: of its heating, and of its cooling where it has one.

    ``fh``, ``fc`` [s] and ``jh``, ``jc`` are NaN where there are none; ``heating`` and ``cooling`` say why, and hold
    the intervals, the straight part and whether it breaks.
    """

    heating: Penetration
    cooling: Penetration | None

    @property
    def fh(self) -> float:
        """Slope factor of heating [s]."""
        return math.nan if self.heating.line is None else self.heating.line.f

    @property
    def jh(self) -> float:
        """Lag factor of heating, from the corrected zero."""
        return math.nan if self.heating.line is None else self.heating.line.j

    @property
    def fc(self) -> float:
        """Slope factor of cooling [s]."""
        return math.nan if self.cooling is None or self.cooling.line is None else self.cooling.line.f

    @property
    def jc(self) -> float:
        """Lag factor of cooling."""
        return math.nan if self.cooling is None or self.cooling.line is None else self.cooling.line.j


def heat_penetration(
    time: ArrayLike,
    temperature: ArrayLike,
    medium: ArrayLike | float,
    *,
    cooling_starts: float | None = None,
    credit: float = CREDIT,
    floor: float = FLOOR,
    part: tuple[float, float] | None = None,
) -> HeatPenetration:
    """Heat-penetration factors fh, jh, fc and jc of any curve.

    Parameters
    ----------
    time, temperature : array-like, shape (n,)
        Times [s], growing, 0 being the start of the process, and readings [degC].
    medium : array-like, shape (n,), or float
        Temperature of the medium at these times [degC]; one number: constant from the first on.
    cooling_starts : float, optional
        When [s]; where it is left out it is where the medium leaves its hold.
    credit : float, optional
        Part of the come-up that is credited, 0 to 1 (42 % by custom: common practice, no source).
    floor : float, optional
        What a straight part leaves to the medium's temperature [K].
    part : pair of float, optional
        Beginning and end of the straight part of heating [s]; found where left out.

    Returns
    -------
    HeatPenetration

    Raises
    ------
    InputError
        If the arrays are none of a curve, or cooling starts outside of them.

    Examples
    --------
    >>> import numpy as np
    >>> import thermsim
    >>> time = np.arange(0.0, 6000.0, 15.0)
    >>> reading = np.maximum(40.0, 120.0 - 1.8 * 80.0 * 10 ** (-time / 1800.0))
    >>> found = thermsim.heat_penetration(time, reading, 120.0)
    >>> round(found.fh), round(found.jh, 3), found.cooling is None
    (1800, 1.8, True)
    """
    times, values, given = samples_of(time, temperature=temperature, medium=np.broadcast_to(medium, np.shape(time)))
    cooling = cooling_start(Course("medium", times, given)) if cooling_starts is None else cooling_starts
    # films play no part in the factors
    process = process_from_arrays(times, given, cooling_starts=cooling, film=math.inf, cooling_film=math.inf)
    heating = heating_penetration(times, values, process, credit=credit, floor=floor, part=part)
    return HeatPenetration(heating, cooling_penetration(times, values, process, floor=floor))


def heating_penetration(
    time: Array,
    temperature: Array,
    process: Process,
    *,
    credit: float = CREDIT,
    floor: float = FLOOR,
    part: tuple[float, float] | None = None,
) -> Penetration:
    """Heat-penetration factors fh and jh of a reading under a process.

    Parameters
    ----------
    time, temperature : ndarray, shape (n,)
        Process times [s] and readings [degC].
    process : Process
        Its hold gives the medium's temperature, its come-up stages the corrected zero.
    credit : float, optional
        Part of the come-up that is credited, 0 to 1.
    floor : float, optional
        What must be left to the medium's temperature [K].
    part : pair of float, optional
        Beginning and end of the straight part [s].

    Returns
    -------
    Penetration
    """
    come_up = sum(stage.end - stage.start for stage in process.stages if stage.name == "come-up")
    begin = next((stage.start for stage in process.stages if stage.name == "hold"), 0.0)
    medium = _mean_medium(process, begin, process.heated_until)
    start = start_of(time, temperature)
    zero = process.stages[0].start + (1.0 - credit) * come_up
    heating = (time >= zero) & (time <= process.heated_until)
    coldest = float(process.medium_at(np.linspace(begin, process.heated_until, 2001)[:-1]).min())
    if part is None and coldest < medium - FELL:
        remark = f"the medium fell to {coldest:.0f} degC in the hold, and factors are of one that stays"
        return Penetration(medium, start, zero, None, None, remark)
    return _penetration(
        time[heating], medium - temperature[heating], medium - start, medium, start, zero, floor, part
    )


def cooling_penetration(
    time: Array, temperature: Array, process: Process, *, floor: float = FLOOR
) -> Penetration | None:
    """Heat-penetration factors fc and jc of a reading, from the start of cooling; None without cooling.

    Parameters
    ----------
    time, temperature : ndarray, shape (n,)
        Process times [s] and readings [degC].
    process : Process
    floor : float, optional
        What must be left to the medium's temperature [K].

    Returns
    -------
    Penetration or None
    """
    zero, end = process.heated_until, process.end
    cooling = (time >= zero) & (time <= end)
    if end <= zero or cooling.sum() < 2:
        return None
    medium = _mean_medium(process, (zero + end) / 2, end)
    start = float(np.interp(zero, time, temperature))
    return _penetration(
        time[cooling], temperature[cooling] - medium, start - medium, medium, start, zero, floor, None
    )


def start_of(time: Array, temperature: Array) -> float:
    """Temperature at the start of a reading [degC], from its first samples."""
    still = np.abs(temperature - temperature[0]) <= max(4.0 * noise_of(temperature), START_TOLERANCE)
    first = (time <= time[0] + AT_START) & np.logical_and.accumulate(still)
    return float(temperature[first].mean())


def _mean_medium(process: Process, begin: float, end: float) -> float:
    return float(process.medium_at(np.linspace(begin, end, 2001)[:-1]).mean())


def _penetration(
    time: Array,
    left: Array,
    first: float,
    medium: float,
    start: float,
    zero: float,
    floor: float,
    part: tuple[float, float] | None,
) -> Penetration:
    """The factors of one phase, ``left`` being the distance to the medium's temperature [K]."""
    if first < 2.0 * floor or time.size < 4:
        return Penetration(
            medium, start, zero, None, None, "the reading starts too close to the medium's temperature"
        )
    least = max(floor, TIMES_NOISE * noise_of(left))
    low = np.flatnonzero(running_median(left) < least)
    end = int(low[0]) if low.size else time.size
    above = left[:end] > 0.0
    time, left = time[:end][above], left[:end][above]
    if time.size < 4:
        return Penetration(medium, start, zero, None, None, "there are too few samples")
    line = straight_line(time, left, first=first, zero=zero, part=part)
    if line is None:
        return Penetration(medium, start, zero, None, None, "the curve ends before its straight part")
    remark = "even the straightest part of the curve still bends" if line.bends else ""
    return Penetration(medium, start, zero, line, broken_line(time, left, first=first), remark)
