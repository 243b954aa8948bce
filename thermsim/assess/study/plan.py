"""Nouns of a study and its result: quantities, the plan of its runs, the figures of each run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from thermsim.case.case import Case
from thermsim.case.keys.paths import Place
from thermsim.case.study import Study
from thermsim.quantities import DEPTH, LENGTH, LETHALITY, PART, TEMPERATURE, TIME, Quantity, R, Z
from thermsim.values import Sealed, read_only

if TYPE_CHECKING:
    from pandas import DataFrame

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Figure:
    """One figure of every run: name, quantity, what it is."""

    name: str
    quantity: Quantity
    meaning: str

    @property
    def label(self) -> str:
        """Its name with its unit at the edge, as in "least lethality [min]"."""
        return f"{self.name.replace('_', ' ')} [{self.quantity.unit}]"

    @property
    def key(self) -> str:
        """Its name with its unit at the edge as keys and columns have it, as in "least_lethality_min"."""
        return self.quantity.key(self.name)


_PLACES = (
    Figure("least_lethality", LETHALITY, "least lethality of the whole process"),
    Figure("least_r", R, "its place, distance from the axis"),
    Figure("least_z", Z, "its place, height above the outside of the base"),
    Figure("least_heating_lethality", LETHALITY, "lethality there until heating ends"),
    Figure("least_end_of_heating", TEMPERATURE, "temperature there when heating ends"),
    Figure("slowest_end_of_heating", TEMPERATURE, "lowest temperature when heating ends"),
    Figure("slowest_r", R, "its place, distance from the axis"),
    Figure("slowest_z", Z, "its place, height above the outside of the base"),
    Figure("slowest_lethality", LETHALITY, "lethality there of the whole process"),
    Figure("slowest_heating_lethality", LETHALITY, "lethality there until heating ends"),
    Figure("distance", LENGTH, "between the two places"),
    Figure("surface_z", Z, "height of the product's surface above the outside of the base"),
    Figure("bottom_z", Z, "height of the product's lower end at the axis above the outside of the base"),
    Figure("least_z_uncertainty", LENGTH, "numerical uncertainty of least_z"),
    Figure("least_lethality_uncertainty", LETHALITY, "numerical uncertainty of least_lethality"),
)
_HOLD = (Figure("required_hold", TIME, "hold that just reaches the target lethality, cooling included"),)
_READING = (
    Figure("reading_lethality", LETHALITY, "lethality that the probe reads"),
    Figure("reading_heating_lethality", LETHALITY, "lethality that the probe reads until heating ends"),
    Figure("reading_end_of_heating", TEMPERATURE, "temperature that the probe reads when heating ends"),
    Figure("bias", PART, "reading less the undisturbed least lethality, a part of it"),
    Figure(
        "bias_until_heating_ends", PART, "the same until heating ends, at the undisturbed place of least lethality"
    ),
    Figure("own_bias", PART, "reading less its place without the probe, a part of it"),
    Figure("own_heating_bias", PART, "the same until heating ends"),
)
_DEPTH = (
    Figure("recommended_depth", DEPTH, "recommended depth, outer face to tip"),
    Figure("mismatch", PART, "mismatch of the reading there with the undisturbed cold spot"),
    Figure("over_reading", PART, "what the reading there is above the undisturbed cold spot, a part of it"),
    Figure("heating_over_reading", PART, "the same until heating ends"),
    Figure("cooling_over_reading", PART, "the same in cooling"),
    Figure("heating_bias", PART, "what the probe itself adds there until heating ends, a part of it"),
    Figure("window_low", LENGTH, "shallow end of the window of depths that are as good"),
    Figure("window_high", LENGTH, "deep end of the window of depths that are as good"),
)
#: What a run gives at each of the plan's depths, by the criterion's place.
ALONG = ("mismatch", "over_reading", "heating_over_reading", "cooling_over_reading")
#: Every figure that a run may have, by name.
FIGURES: Mapping[str, Figure] = {figure.name: figure for figure in (*_PLACES, *_HOLD, *_READING, *_DEPTH)}


def figures_wanted(study: Study, places: tuple[Place, ...], case: Case) -> tuple[Figure, ...]:
    """The figures that the runs of a study have."""
    inserted = any(place.trail in (("probe", "insertion_mm"), ("probe", "insertion")) for place in places)
    reads = case.probe is not None and (inserted or case.probe.depth(case.container) is not None)
    return (
        *_PLACES,
        *(_HOLD if study.required_hold else ()),
        *(_DEPTH if study.recommend_depth else _READING if reads else ()),
    )


@dataclass(frozen=True, eq=False)
class Plan(Sealed):
    """The runs of a study.

    Parameters
    ----------
    study : Study
    places : tuple of Place
        The quantities varied.
    values : ndarray, shape (n_runs, n_quantities)
        In the units of the places; NaN: as the case leaves it.
    matrix : ndarray of int, shape (n_runs,)
        Of a spread: 0 for the first sample, 1 for the second, 2 + k for the first with quantity k from the second.
    sample : ndarray of int, shape (n_runs,)
        Of a spread: number of the sampled point.
    figures : tuple of Figure
        What every run gives.
    depths : ndarray, shape (n_depths,)
        Depths at which the probe's reading is judged [m]; none where no depth is recommended.
    """

    study: Study
    places: tuple[Place, ...]
    values: Array
    matrix: NDArray[np.int64]
    sample: NDArray[np.int64]
    figures: tuple[Figure, ...]
    depths: Array

    @property
    def runs(self) -> int:
        """Number of runs."""
        return int(self.values.shape[0])

    @property
    def independent(self) -> NDArray[np.bool_]:
        """Runs drawn from the distributions, independent of each other, as a mask of shape (n_runs,)."""
        return self.matrix < 2


@dataclass(frozen=True)
class StudyRun:
    """Outcome of one run: its number, figures by name, those of ``ALONG`` at the plan's depths, or why it failed."""

    index: int
    figures: Mapping[str, float] = field(default_factory=dict)
    along: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    failure: str = ""


@dataclass(frozen=True, eq=False, repr=False)
class StudyResult(Sealed):
    """All that a study found; its arrays are read-only.

    Parameters
    ----------
    case : Case
        The case that was varied, with its study.
    plan : Plan
    figures : mapping of str to ndarray, shape (n_runs,)
        In SI units and degC; NaN where a run failed or has no such figure.
    along : mapping of str to ndarray, shape (n_runs, n_depths)
        The figures of ``ALONG`` at each depth; NaN where a depth is not possible.
    failures : mapping of int to str
        Why runs failed, by their numbers.
    """

    case: Case
    plan: Plan
    figures: Mapping[str, Array]
    along: Mapping[str, Array]
    failures: Mapping[int, str]

    def __repr__(self) -> str:
        names = ", ".join(self.values)
        failed = f", {len(self.failures)} failed" if self.failures else ""
        return f"<StudyResult: {self.plan.study.kind} of {names}; {self.plan.runs} runs{failed}>"

    def to_dataframe(self) -> DataFrame:
        """A row for each run as a ``pandas.DataFrame``: quantities, figures in SI units and degC, why a run failed.

        Raises
        ------
        ImportError
            If pandas is not there.
        """
        import thermsim  # the front door: tables are laid out in a room above

        return thermsim.dataframe_of(self)

    @property
    def values(self) -> Mapping[str, Array]:
        """The quantities of every run by their paths, each of shape (n_runs,), in the units of their places."""
        return {place.path: read_only(self.plan.values[:, k]) for k, place in enumerate(self.plan.places)}

    @property
    def good(self) -> NDArray[np.bool_]:
        """Mask of the runs that did not fail, shape (n_runs,)."""
        fine = np.ones(self.plan.runs, dtype=bool)
        fine[list(self.failures)] = False
        return fine

    def sampled(self, name: str) -> Array:
        """A figure over the independent runs of a spread that have it."""
        values = self.figures[name][self.plan.independent]
        return np.asarray(values[np.isfinite(values)])

    def shown(self, name: str) -> bool:
        """True if the runs have a figure at all."""
        return name in self.figures and bool(np.isfinite(self.figures[name]).any())


class Gathered:
    """Finished runs as they come in, in arrays whose size does not grow."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.done = np.zeros(plan.runs, dtype=bool)
        self.figures = {figure.name: np.full(plan.runs, np.nan) for figure in plan.figures}
        self.along = {name: np.full((plan.runs, plan.depths.size), np.nan) for name in ALONG}
        self.failures: dict[int, str] = {}

    def add(self, run: StudyRun) -> None:
        """Keep one run; one that is there already is replaced."""
        self.done[run.index] = True
        if run.failure:
            self.failures[run.index] = run.failure
            return
        for name, value in run.figures.items():
            self.figures[name][run.index] = value
        for name, values in run.along.items():
            self.along[name][run.index] = values

    def result(self, case: Case) -> StudyResult:
        """Result of the study."""
        failures = dict(sorted(self.failures.items()))
        return StudyResult(case, self.plan, self.figures, self.along, failures)
