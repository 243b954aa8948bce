"""Comparison of a measured run with the model: its nouns. SI units and degC."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.fit import Estimate, Fit
from thermsim.assess.curves.general_method import GeneralMethod
from thermsim.assess.curves.heat_penetration import CREDIT, FLOOR, Penetration
from thermsim.assess.measured.doubts.explanation import Depth, Held
from thermsim.assess.measured.doubts.failure import Failure
from thermsim.case.case import Case
from thermsim.case.process import Process
from thermsim.loggers.run import Columns, Run
from thermsim.notice import Notice, of_severity
from thermsim.quantities import LETHALITY
from thermsim.text import plain
from thermsim.values import Sealed

Array = NDArray[np.float64]

#: What is fitted where nothing is said.
USUAL_FIT = ("diffusivity", "initial", "offset")
#: Dangers that a run's containers share: the medium's column is a probe's, its come-up is missing, and heating ended
#: at another time by the probes' turn.
EXCHANGED, BEGINS_HOT, ENDED_OTHERWISE = "columns-exchanged", "come-up-missing", "heating-ended-otherwise"
#: Columns that are one probe's; a record without samples where cooling begins.
COPIED, UNSEEN_END = "columns-copied", "cooling-unseen"
#: The flag of a container whose clock is further off than is looked for.
CLOCK_TOO_FAR = "clock-too-far"
#: Flags that leave f and j in doubt too: they are of the medium's column, of the clock, or of the reading itself.
OF_FACTORS = (
    EXCHANGED, BEGINS_HOT, ENDED_OTHERWISE, UNSEEN_END, CLOCK_TOO_FAR, "clock-in-doubt", "clocks-differ",
    "columns-swapped",
    "calibration-in-doubt", "drift-in-doubt", "contact-in-doubt", "slide-in-doubt", "reading-steps", "start-uneven",
    "gap-in-doubt", "probe-noisy",
)  # fmt: skip


@dataclass(frozen=True)
class Limits:
    """Bounds that a verdict goes by; all are common practice, no source, and can be set.

    Parameters
    ----------
    rms_K, largest_K : float
        Residuals of the fitted model: root mean square and largest [K].
    diffusivity_percent : float
        Fitted diffusivity against the case's, either way.
    f_percent, j_percent : float
        Factors of the reading against those of the fitted model's reading, either way.
    break_ratio : float
        Change of slope at a break of the reading against that of the fitted model's reading.
    read_percent : float
        Lethality of the fitted model's reading against that of the reading, either way.
    depth_percent : float
        Lethality read at another depth against the model's there, either way.
    spread_percent : float
        Slope factors of containers alike: largest less smallest, of the mean.
    lethality_spread_percent : float
        Lethalities of containers alike: largest less smallest, of the mean.
    offset_s : float
        Fitted offset of the clocks, either way.
    tip_mm : float
        How far the interval of the depth that a curve shows may be from the depth stated.
    own_clock_s, calibration_K, contact_percent : float
        A column's own offset against the others', a reading's error throughout or in the end, and the part of it that
        is the wall's: less is no suspicion.
    alike_percent, start_K : float
        Diffusivity against the median of containers alike, either way; start against theirs and the case's.
    """

    rms_K: float = 0.3
    largest_K: float = 1.5
    diffusivity_percent: float = 15.0
    f_percent: float = 5.0
    j_percent: float = 10.0
    break_ratio: float = 1.3
    read_percent: float = 5.0
    depth_percent: float = 15.0
    spread_percent: float = 10.0
    lethality_spread_percent: float = 30.0
    offset_s: float = 60.0
    tip_mm: float = 1.0
    own_clock_s: float = 10.0
    calibration_K: float = 0.4
    contact_percent: float = 1.5
    alike_percent: float = 5.0
    start_K: float = 3.0


@dataclass(frozen=True)
class Deviations:
    """Deviations of a process: a colder medium and product [K], and a come-up slower by a part of it."""

    medium_K: float = 1.0
    initial_K: float = 5.0
    come_up_percent: float = 25.0


@dataclass(frozen=True)
class Plan:
    """Options of a comparison.

    ``fit`` names what is fitted (none: nothing is), ``credit`` is the part of the come-up that lag factors credit,
    ``floor`` what a straight part leaves to the medium [K], ``straight`` its beginning and end [s of the process]
    where they are given, ``target`` the lethality wanted [s] where it is not the case's; ``together`` names what the
    containers share, which is fitted over all of them.

    Examples
    --------
    >>> from thermsim import Columns, Plan
    >>> Plan(Columns(probes=("Can 1",), medium="Retort"), fit=("diffusivity", "offset")).credit
    0.42
    """

    columns: Columns = Columns()
    fit: tuple[str, ...] = USUAL_FIT
    credit: float = CREDIT
    floor: float = FLOOR
    straight: tuple[float, float] | None = None
    target: float | None = None
    limits: Limits = field(default_factory=Limits)
    deviations: Deviations = field(default_factory=Deviations)
    design: bool = True
    together: tuple[str, ...] = ("offset",)


@dataclass(frozen=True)
class Misfit:
    """Measured less computed [K]: its mean, root mean square, and the largest with its sign, at ``time`` [s]."""

    bias: float
    rms: float
    largest: float
    time: float


@dataclass(frozen=True)
class Modelled:
    """Reading of the model's probe at the samples' times [degC], its residuals and its factors."""

    temperature: Array
    misfit: Misfit
    heating: Penetration
    cooling: Penetration | None


@dataclass(frozen=True)
class Corrected:
    """The cold spot of the fitted container without its probe.

    Parameters
    ----------
    r, z : float
        Place of least lethality [m].
    lethality, heating_lethality : float
        There: of the whole process, and until heating ends [s].
    numerical : float
        Numerical uncertainty of the lethality [s].
    low, high : float
        Interval of the lethality from those of the fitted parameters [s].
    end_of_heating : float
        [degC].
    time, temperature : ndarray, shape (m,)
        The curve there.
    over_reading : float
        What the logger's lethality has more, a fraction of the corrected one.
    heating_over_reading : float
        The same until heating ends.
    """

    r: float
    z: float
    lethality: float
    heating_lethality: float
    numerical: float
    low: float
    high: float
    end_of_heating: float
    time: Array
    temperature: Array
    over_reading: float
    heating_over_reading: float


@dataclass(frozen=True)
class Measured:
    """One container of the run.

    Parameters
    ----------
    name : str
        Its probe's column.
    insertion : float
        Outer face of the entered wall to the tip [m].
    own_depth : bool
        Whether that is not the case's.
    time, temperature : ndarray, shape (n,)
        What was read, within the process.
    general : GeneralMethod
    heating : Penetration
    cooling : Penetration or None
    as_case : Modelled
        What the case as it stands says.
    fit : Fit or None
    fitted : Modelled or None
    corrected : Corrected or None
    predicted : float or None
        At another depth: the lethality [s] that the model fitted at the case's depth reads there, at its samples.
    own_clock : bool
        Whether its logger has a clock of its own.
    channel : int
        Place of the column in the file, from 1.
    failure : Failure or None
        How the column fails; what it reads from then on is left out of ``time`` and all that follows.
    seen : float or None
        Where there is no corrected lethality, as the record does not reach the end of cooling: what the cold spot of
        the fitted model gathers up to the last sample [s], less than the whole.
    own : tuple of Estimate
        What is shared with other containers, as this column by itself has it.
    depth : Depth or None
        The depth that the curve shows.
    there : float or None
        Least corrected lethality with the tip, or the filling, that the curve shows [s], where the stated one is in
        doubt.
    held : Held or None
        What holds if heating ended when the probe turned, where that is at another time than by the process.
    flags : tuple of Notice
        What must stand beside the container's figures.
    """

    name: str
    insertion: float
    own_depth: bool
    time: Array
    temperature: Array
    general: GeneralMethod
    heating: Penetration
    cooling: Penetration | None
    as_case: Modelled
    fit: Fit | None = None
    fitted: Modelled | None = None
    corrected: Corrected | None = None
    predicted: float | None = None
    own_clock: bool = False
    channel: int = 0
    failure: Failure | None = None
    seen: float | None = None
    own: tuple[Estimate, ...] = ()
    depth: Depth | None = None
    there: float | None = None
    held: Held | None = None
    flags: tuple[Notice, ...] = ()

    @property
    def lethality(self) -> float:
        """The lethality that counts [s]: the least that was corrected, or what was read where nothing is fitted."""
        if self.corrected is None:
            return self.general.lethality
        others = [] if self.there is None else [self.there]
        others += [] if self.otherwise is None else [self.otherwise.lethality]
        return min([self.corrected.lethality, *others])

    @property
    def otherwise(self) -> Held | None:
        """Its lethality if heating ended when the probe turned, unless its curve tells against that."""
        return None if self.held is None or self.held.likelier is False else self.held

    @property
    def whole(self) -> bool:
        """True if the record reaches from the start to the end of cooling and is one of food."""
        return self.failure is None and self.seen is None

    @property
    def sound(self) -> bool:
        """True if nothing is known that forbids to compare the container with others."""
        return self.whole and all(flag.severity != "danger" for flag in self.flags)

    @property
    def factors_stand(self) -> bool:
        """True if nothing is known that puts fh, jh, fc and jc of the reading in doubt."""
        failed = self.failure is not None and self.failure.kind == "reads the medium"
        return not (failed or self.flagged(*OF_FACTORS))

    def at_its_depth(self, limits: Limits) -> bool:
        """True if the depth that its curve shows is the stated one, or none is looked for."""
        return self.depth is None or self.depth.holds(self.insertion, 1e-3 * limits.tip_mm)

    def flagged(self, *codes: str) -> bool:
        """True if one of some flags stands beside the container's figures."""
        return any(flag.code in codes for flag in self.flags)


@dataclass(frozen=True)
class Check:
    """One line of the verdict: ``within`` the limit or not, None where it cannot be told.

    A ``target`` is a limit from below: it is reached or missed.
    """

    name: str
    statement: str
    limit: str
    within: bool | None
    target: bool = False

    @property
    def stands(self) -> str:
        """The verdict in a word or two."""
        if self.within is None:
            return "cannot be told"
        if self.target:
            return "reached" if self.within else "NOT reached"
        return "within" if self.within else "OUTSIDE"


@dataclass(frozen=True)
class DesignRow:
    """Effect of a deviation.

    ``lethality`` is that of the planned time from steam on to cooling [s], ``hold`` the hold that just reaches the
    target and ``heating`` the time from steam on to cooling that it makes [s]; None where ``remark`` says why.
    """

    name: str
    lethality: float
    hold: float | None
    heating: float | None
    uncertainty: float
    remark: str


@dataclass(frozen=True, eq=False, repr=False)
class Comparison(Sealed):
    """A measured run beside the model.

    Parameters
    ----------
    case : Case
    plan : Plan
    run : Run
    process : Process
        What the containers went through.
    containers : tuple of Measured
    slowest : int
        Index of the container with the least lethality.
    checks : tuple of Check
    design : tuple of DesignRow
    notices : tuple of Notice
        What was assumed, dropped, and must be known.
    designed : int or None
        Index of the container whose product the design is of: the slowest that stands, the slowest where none does.
    """

    case: Case
    plan: Plan
    run: Run
    process: Process
    containers: tuple[Measured, ...]
    slowest: int
    checks: tuple[Check, ...]
    design: tuple[DesignRow, ...]
    notices: tuple[Notice, ...]
    designed: int | None = None

    def __repr__(self) -> str:
        dangers = [f"  DANGER: {plain(one.short, 105)}" for one in of_severity(self.notices, "danger")[:3]]
        symbol = self.case.lethality.symbol
        rows = [
            f"  {plain(one.name)}: {symbol} {LETHALITY.text(one.lethality)}{'' if one.sound else ', flagged'}"
            for one in self.containers[:4]
        ]
        more = f", {len(self.containers) - 4} more containers" if len(self.containers) > 4 else ""
        last = f"  {len(self.notices)} notices{more}>"
        return "\n".join([f"<Comparison of {plain(self.run.file)!r}", *dangers, *rows, last])

    @property
    def design_stands(self) -> bool:
        """True if the holds are of a container that stands, and all records agree on when heating ended."""
        of = self.containers[self.slowest if self.designed is None else self.designed]
        return of.sound and all(one.code != ENDED_OTHERWISE for one in self.notices)

    @property
    def notes(self) -> tuple[str, ...]:
        """The texts of the notices."""
        return tuple(notice.text for notice in self.notices)
