"""What is advised about a probe: ladders of depths, recommendations, and how candidates compare."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thermsim.assess.probe.hardware import Setting
from thermsim.case.probe import Probe

Criterion = Literal["least lethality", "slowest heating"]
CRITERIA: tuple[Criterion, Criterion] = ("least lethality", "slowest heating")

#: Above this over-reading, or above this bias until heating ends, no depth is called good.
GOOD = 0.05


@dataclass(frozen=True)
class Truth:
    """What readings are held against: the undisturbed cold spots.

    ``lethality``, ``heating_lethality`` [s] and ``end_of_heating`` [degC] at the place that the criterion names;
    ``z`` its height [m]; ``uncertainty`` is the lethality's numerical one, a fraction.
    """

    lethality: float
    heating_lethality: float
    end_of_heating: float
    z: float
    uncertainty: float = 0.0

    def measure(self, criterion: Criterion) -> float:
        """The figure that the criterion compares [s]."""
        return self.lethality if criterion == "least lethality" else self.heating_lethality


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
        Which undisturbed cold spot the reading is to match: by the lethality of the whole process at the first, or by
        what is gathered until heating ends at the second.
    depth : float
        Outer face of the entered wall to the tip [m].
    window : (float, float)
        Depths at which the reading stays within ``margin`` of that at ``depth`` [m].
    margin : float
        A fraction.
    lethality, heating_lethality, end_of_heating : float
        The reading at that depth [s, s, degC].
    truth : float
        What it should be [s].
    over_reading : float
        What is left, as a fraction of what the reading should be.
    heating_bias : float
        What the probe itself does until heating ends: its lethality less that of its place without it, as a fraction.
    uncertainty, reading_uncertainty : float
        Numerical uncertainty of ``over_reading``, and of the reading alone as a part of it: fractions.
    at_limit : bool
        Whether a still better depth may lie beyond what is allowed.
    """

    criterion: Criterion
    depth: float
    window: tuple[float, float]
    margin: float
    lethality: float
    heating_lethality: float
    end_of_heating: float
    truth: float
    over_reading: float
    heating_bias: float
    uncertainty: float
    reading_uncertainty: float
    at_limit: bool

    @property
    def good(self) -> bool:
        """Whether the reading is near enough the truth, and not only because errors of heating and cooling cancel."""
        return abs(self.over_reading) <= GOOD and self.heating_bias <= GOOD


@dataclass(frozen=True)
class Candidate:
    """One probe at one entry: its recommendations (least lethality first) and its ladder, shallow to deep."""

    probe: Probe
    recommendations: tuple[Recommendation, Recommendation]
    ladder: tuple[Rung, ...]

    def recommended(self, criterion: Criterion) -> Recommendation:
        """The recommendation for a criterion."""
        return self.recommendations[CRITERIA.index(criterion)]


@dataclass(frozen=True)
class Stem:
    """What another stem would do at the recommended depth: diameter [m] and conductivity [W/mK], one of them varied.

    ``heating_bias`` is its lethality until heating ends less that of its place without it, a fraction;
    ``temperature`` the difference when heating ends [K].
    """

    diameter: float
    conductivity: float
    heating_bias: float
    temperature: float


@dataclass(frozen=True)
class Advice:
    """Candidates, the good ones first, sorted by what they over-read for the chosen criterion.

    ``chosen`` is the place of the case's own probe among the ``candidates``; ``confirmation`` are depths round the
    recommended one whose readings differ by more than the sensor's accuracy, ``sensor_accuracy`` [K]; ``settings``
    are what the hardware at hand can do, the nearest first (none where no stock is given); ``stems`` what thinner,
    thicker, less and more conducting stems would do.
    """

    criterion: Criterion
    candidates: tuple[Candidate, ...]
    chosen: int
    confirmation: tuple[float, ...]
    sensor_accuracy: float
    settings: tuple[Setting, ...] = ()
    stems: tuple[Stem, ...] = ()

    @property
    def own(self) -> Candidate:
        """The candidate that is the case's own probe at its own entry."""
        return self.candidates[self.chosen]
