"""Advice about a probe: ladders of depths, recommendations, and how candidates compare."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.probe.mismatch import GOOD
from thermsim.case.probe import Probe
from thermsim.case.study import CRITERIA, Criterion
from thermsim.values import Sealed

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Rung:
    """One depth of a ladder: outer face to tip [m], and what a probe there reads (lethality [s], degC).

    ``without_lethality``, ``without_heating`` [s] and ``without_end`` [degC] are those of its place without it.
    """

    depth: float
    lethality: float
    heating_lethality: float
    end_of_heating: float
    without_lethality: float
    without_heating: float
    without_end: float

    def measure(self, criterion: Criterion) -> float:
        """The figure that the criterion compares [s]."""
        return self.lethality if criterion == "least lethality" else self.heating_lethality


@dataclass(frozen=True)
class Recommendation:
    """The depth for one criterion.

    Parameters
    ----------
    criterion : {"least lethality", "slowest heating"}
        Which undisturbed cold spot the reading is to follow: through the whole process that of least lethality, or
        until heating ends the slowest-heating one.
    depth : float
        Outer face of the entered wall to the tip [m].
    window : (float, float)
        Depths whose mismatch is at most the least plus ``margin`` [m].
    margin : float
        A fraction.
    mismatch : float
        How far the reading's history is from the place's, a fraction: see :mod:`thermsim.assess.probe.mismatch`.
    lethality, heating_lethality, end_of_heating : float
        The reading at that depth [s, s, degC].
    truth : float
        What the lethality that the criterion compares should be [s].
    over_reading, heating_over_reading, cooling_over_reading : float
        What the reading gathers beyond the place: by what the criterion compares, until heating ends, and after; as
        fractions of what it should be (0 where nothing is gathered in cooling).
    heating_bias : float
        What the probe itself does until heating ends: its lethality less that of its place without it, as a fraction.
    uncertainty, reading_uncertainty, mismatch_uncertainty : float
        Numerical uncertainty of ``over_reading``, of the reading alone as a part of it, of ``mismatch``: fractions.
    at_limit : bool
        Whether a still better depth may lie beyond what is allowed.
    needed_length : float or None
        Length of a probe that reaches the better depth [m]; None where the depth is at no limit, or no length helps.
    """

    criterion: Criterion
    depth: float
    window: tuple[float, float]
    margin: float
    mismatch: float
    lethality: float
    heating_lethality: float
    end_of_heating: float
    truth: float
    over_reading: float
    heating_over_reading: float
    cooling_over_reading: float
    heating_bias: float
    uncertainty: float
    reading_uncertainty: float
    mismatch_uncertainty: float
    at_limit: bool
    needed_length: float | None = None

    @property
    def good(self) -> bool:
        """Tell whether the reading follows its place closely enough and over-reads little enough while heating."""
        return self.mismatch <= GOOD and self.heating_over_reading <= GOOD


@dataclass(frozen=True, eq=False)
class Profile(Sealed):
    """Mismatch over depth, rungs among the depths; arrays of shape (n,).

    ``depth`` [m]; ``mismatch`` against the place of least lethality, ``heating_mismatch`` against the slowest-heating
    one until heating ends, fractions.
    """

    depth: Array
    mismatch: Array
    heating_mismatch: Array

    def of(self, criterion: Criterion) -> Array:
        """The mismatch that a criterion goes by."""
        return (self.mismatch, self.heating_mismatch)[CRITERIA.index(criterion)]

    def at(self, depth: float, criterion: Criterion) -> float:
        """The mismatch at a depth [m]."""
        return float(np.interp(depth, self.depth, self.of(criterion)))


@dataclass(frozen=True, eq=False)
class Ladder(Sealed):
    """Readings of a probe over its depth, as arrays of shape (n,), shallow to deep.

    Parameters
    ----------
    depth : ndarray
        Outer face of the entered wall to the tip [m].
    lethality, heating_lethality, end_of_heating : ndarray
        What is read there: of the whole process, until heating ends [s], when it ends [degC].
    without_lethality, without_heating, without_end : ndarray
        The same of the place without the probe.
    over_reading : ndarray
        What the reading gathers beyond the undisturbed place of least lethality, a fraction of that.
    heating_bias : ndarray
        What the probe itself adds to its place until heating ends, a fraction.
    mismatch : ndarray
        How far the reading's history is from that of the undisturbed place of least lethality, a fraction.
    """

    depth: Array
    lethality: Array
    heating_lethality: Array
    end_of_heating: Array
    without_lethality: Array
    without_heating: Array
    without_end: Array
    over_reading: Array
    heating_bias: Array
    mismatch: Array


@dataclass(frozen=True)
class Candidate:
    """One probe at one entry: recommendations (least lethality first), ladder (shallow to deep), profile."""

    probe: Probe
    recommendations: tuple[Recommendation, Recommendation]
    ladder: tuple[Rung, ...]
    profile: Profile

    def recommended(self, criterion: Criterion) -> Recommendation:
        """The recommendation for a criterion."""
        return self.recommendations[CRITERIA.index(criterion)]

    @property
    def arrays(self) -> Ladder:
        """The ladder as arrays."""
        names = [field.name for field in dataclasses.fields(Rung)]
        rungs = {name: np.array([getattr(rung, name) for rung in self.ladder]) for name in names}
        return Ladder(
            **rungs,
            over_reading=rungs["lethality"] / self.recommended("least lethality").truth - 1.0,
            heating_bias=rungs["heating_lethality"] / rungs["without_heating"] - 1.0,
            mismatch=np.array([self.profile.at(depth, "least lethality") for depth in rungs["depth"]]),
        )


@dataclass(frozen=True)
class Setting:
    """A combination of hardware and where it puts the tip.

    ``depth`` outer face of the entered wall to the tip, ``misfit`` how much deeper that is than recommended [m];
    ``in_window`` whether the reading stays within the window. ``length`` of the probe, ``stick_out``, what remains
    outside of the wall's outer face and can be measured there, and ``travel``, the shallowest and deepest that it can
    be set to [m], for a probe through the wall; ``spacers`` from the wall up, their heights [m], for one inside.
    ``worth`` is what this very hardware reads there; None where it was not solved.
    """

    depth: float
    misfit: float
    in_window: bool
    length: float | None = None
    stick_out: float | None = None
    spacers: tuple[float, ...] = ()
    travel: tuple[float, float] | None = None
    worth: Recommendation | None = None


@dataclass(frozen=True)
class Stem:
    """Effect of another stem at the recommended depth: diameter [m] or conductivity along it [W/mK] is another.

    ``heating_bias`` is its lethality until heating ends less that of its place without it, a fraction;
    ``temperature`` the difference when heating ends [K].
    """

    diameter: float
    conductivity: float
    heating_bias: float
    temperature: float


@dataclass(frozen=True)
class Advice:
    """Candidates, the good ones first, sorted by their mismatch by the chosen criterion.

    ``chosen`` is the place of the case's own probe among the ``candidates``; ``confirmation`` are depths round the
    recommended one whose readings differ by more than the sensor's accuracy, ``sensor_accuracy`` [K]; ``settings``
    are what the hardware at hand can do, the nearest first (none where no stock is given); ``stems`` what thinner,
    thicker, less and more conducting stems would do. ``given`` is the case's own insertion, where it has one.
    """

    criterion: Criterion
    candidates: tuple[Candidate, ...]
    chosen: int
    confirmation: tuple[float, ...]
    sensor_accuracy: float
    settings: tuple[Setting, ...] = ()
    stems: tuple[Stem, ...] = ()
    given: Recommendation | None = None

    @property
    def own(self) -> Candidate:
        """The candidate that is the case's own probe at its own entry."""
        return self.candidates[self.chosen]
