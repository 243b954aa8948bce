"""The result of a case: the fields, the cold spots, and how sure each figure is. SI units and degC."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.probe.advice import Advice
from thermsim.assess.probe.effect import ProbeEffect
from thermsim.assess.spots.brick import BrickSpots
from thermsim.assess.spots.cold_spot import Spot, Track
from thermsim.assess.spots.input_range import InputRange
from thermsim.assess.spots.zone import Zone
from thermsim.case.case import Case
from thermsim.notice import Notice, of_severity
from thermsim.quantities import LETHALITY, PART, TEMPERATURE, mm
from thermsim.solve.grid.grid import Grid
from thermsim.text import plain
from thermsim.values import Sealed, lock

if TYPE_CHECKING:
    from xarray import Dataset

Array = NDArray[np.float64]
#: Places that cannot be told from the coldest are said to be where they reach farther than this [m].
VALLEY = 0.010


@dataclass(frozen=True)
class ColdSpot:
    """The two cold spots, every local minimum of the lethality (lowest first), the cold zone and the track.

    ``distance`` lies between the two [m]; ``arrivals`` are (temperature [degC], time [s] or None) at the place of
    least lethality. ``alike`` is where the lethality cannot be told from the least, within its uncertainty; None
    where that is not known.
    """

    least_lethality: Spot
    slowest_heating: Spot
    distance: float
    minima: tuple[Spot, ...]
    zone: Zone
    track: Track
    arrivals: tuple[tuple[float, float | None], ...]
    alike: Zone | None = None

    @property
    def valley(self) -> Zone | None:
        """The zone that cannot be told from the coldest place, where it is so long that a tip may stand anywhere."""
        zone = self.alike
        wide = zone is not None and max(zone.z_high - zone.z_low, zone.r_high - zone.r_low) > VALLEY
        return zone if wide else None

    @property
    def reach_of_valley(self) -> tuple[float, float]:
        """Farthest that the valley goes from the place of least lethality along r and z [m]; 0 without one."""
        valley, least = self.valley, self.least_lethality
        if valley is None:
            return 0.0, 0.0
        ends = (valley.r_low, valley.r_high, valley.z_low, valley.z_high)
        return max(least.r - ends[0], ends[1] - least.r), max(least.z - ends[2], ends[3] - least.z)

    def off_height(self, z: float) -> float:
        """Height [m] of the place of least lethality above a height z; 0 where it cannot be told from that there."""
        zone = self.valley
        there = zone is not None and zone.z_low <= z <= zone.z_high
        return 0.0 if there else self.least_lethality.z - z


@dataclass(frozen=True)
class Findings:
    """Findings of one computation: the cold spots, their two curves, and the curves at the places the case names.

    ``heated_until`` is the time at which heating ends [s]; ``between`` what r and z of the two cold spots are
    uncertain by as they lie between nodes [m]; ``slowness``, of the two and of the places the case names, how many
    times more than usual counts of what coarser grids change; ``near`` what these change nearby, of the same places
    but those in walls.
    """

    cold_spot: ColdSpot
    spots: tuple[Curve, Curve]
    points: tuple[Curve, ...]
    heated_until: float
    between: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 0.0), (0.0, 0.0))
    slowness: tuple[float, ...] = ()
    near: tuple[Array | None, ...] = ()


@dataclass(frozen=True)
class Target:
    """The lethality asked for and the hold that would just reach it at the least-lethality place.

    ``lethality`` and ``least`` (what the process gives) [s]; ``hold`` is the present hold and ``required_hold`` the
    one that just suffices, cooling included [s]; None where the process has no hold or none suffices: ``remark``.
    """

    lethality: float
    least: float
    hold: float | None
    required_hold: float | None
    remark: str = ""

    @property
    def reached(self) -> bool:
        """Tell whether the process gives the lethality asked for."""
        return self.least >= self.lethality


@dataclass(frozen=True)
class EnergyBalance:
    """Heat that entered through the surfaces, change of the heat stored [J], and their relative difference."""

    heat_in: float
    stored: float
    relative_defect: float


@dataclass(frozen=True)
class Effort:
    """Cost of a run: nodes and time steps of the finest grid, tolerance [K], refinement, time [s]."""

    nodes: int
    steps: int
    rejected: int
    tolerance: float
    refinement: float
    seconds: float = field(compare=False)


@dataclass(frozen=True, eq=False, repr=False)
class Result(Sealed):
    """All that a run found out; its arrays are read-only.

    Parameters
    ----------
    case : Case
        What was asked.
    grid : Grid
        The finest grid.
    time : ndarray, shape (n_t,)
        Output times [s]; a time at which the medium jumps stands once, with the temperature after the jump.
    temperature : ndarray, shape (n_t, n_r, n_z)
        Temperature [degC]; NaN where nothing conducts.
    end_of_heating : ndarray, shape (n_r, n_z)
        Temperature when heating ends [degC].
    lethality, heating_lethality : ndarray, shape (n_r, n_z)
        Lethality of the whole process and until heating ended [s]; NaN outside the product.
    cold_spot : ColdSpot
    spots : pair of Curve
        What happens at the two cold spots, least lethality and slowest heating: those that a probe is compared with.
    points : tuple of Curve
        The further places followed.
    target : Target or None
    energy : EnergyBalance
    uncertainty : mapping of str to float
        Numerical uncertainty of the figures, by the dotted name of the attribute, in its unit.
    effort : Effort
    notices : tuple of Notice
        What the reader must know before using a figure.
    probe : ProbeEffect or None
        What the case's probe reads and does; all else is of the container without it.
    advice : Advice or None
        How deep a probe should go, where that was asked.
    input_range : InputRange or None
        The cold spots at the ends of the films' ranges, where a film stands for a medium's name.
    brick : BrickSpots or None
        The cold spots of a brick itself, which the target, its hold and a probe through its edge go by; all else is
        of the cylinder round it.
    """

    case: Case
    grid: Grid
    time: Array
    temperature: Array
    end_of_heating: Array
    lethality: Array
    heating_lethality: Array
    cold_spot: ColdSpot
    spots: tuple[Curve, Curve]
    points: tuple[Curve, ...]
    target: Target | None
    energy: EnergyBalance
    uncertainty: Mapping[str, float]
    effort: Effort
    notices: tuple[Notice, ...]
    probe: ProbeEffect | None = None
    advice: Advice | None = None
    input_range: InputRange | None = None
    brick: BrickSpots | None = None

    def __post_init__(self) -> None:
        lock(self)
        if self.advice is not None and self.probe is not None and self.probe.ladder is None:
            probe = dataclasses.replace(self.probe, ladder=self.advice.own.arrays)
            object.__setattr__(self, "probe", probe)

    @property
    def body(self) -> str:
        """The attribute that holds the cold spots of what is packed: "brick", or "cold_spot" of all else."""
        return "cold_spot" if self.brick is None else "brick"

    @property
    def both_spots(self) -> tuple[Spot, Spot]:
        """Least lethality and slowest heating of what is packed; a brick's own lie so far from the axis as r says."""
        found = self.cold_spot.least_lethality, self.cold_spot.slowest_heating
        if self.brick is None:
            return found
        least, slowest = (
            dataclasses.replace(
                spot,
                r=math.hypot(own.x, own.y),
                z=own.z,
                lethality=own.lethality,
                heating_lethality=own.heating_lethality,
                end_of_heating=own.end_of_heating,
            )
            for spot, own in zip(found, (self.brick.least_lethality, self.brick.slowest_heating), strict=True)
        )
        return least, slowest

    @property
    def beside(self) -> str:
        """The attribute whose cold spots a probe is compared with: "brick" for one through the edge of a brick."""
        probe = self.case.probe
        return self.body if probe is not None and probe.entry == "side" else "cold_spot"

    @property
    def spots_beside(self) -> tuple[Spot, Spot]:
        """Least lethality and slowest heating that a probe is compared with."""
        if self.beside == "brick":
            return self.both_spots
        return self.cold_spot.least_lethality, self.cold_spot.slowest_heating

    def off_height(self, z: float) -> float:
        """Distance of the least-lethality place that a probe is compared with from a height [m], upwards above 0."""
        if self.beside == "brick":
            return self.both_spots[0].z - z
        return self.cold_spot.off_height(z)

    def __repr__(self) -> str:
        return "\n".join(self._told())

    def _told(self) -> Iterator[str]:
        """Ten lines at most; what is known of the product's flow and dangers come before any number."""
        yield f"<Result of {plain(self.case.title, 80)!r}"
        grave = [one for one in self.notices if one.topic == "convection" and one.severity != "note"]
        grave += [one for one in of_severity(self.notices, "danger") if one not in grave]
        for notice in grave[:3]:
            yield f"  {notice.severity.upper()}: {plain(notice.short, 105)}"
        for name in ("least_lethality", "slowest_heating"):
            spot: Spot = getattr(self.cold_spot, name)
            told = tuple(
                quantity.text(getattr(spot, figure), self.uncertainty.get(f"cold_spot.{name}.{figure}"))
                for figure, quantity in (("lethality", LETHALITY), ("end_of_heating", TEMPERATURE))
            )
            place = f"r = {mm(spot.r):.1f} mm, z = {mm(spot.z):.1f} mm"
            yield f"  cold_spot.{name}: {place}, {self.case.lethality.symbol} {told[0]}, {told[1]} when heating ends"
        if self.target is not None:
            told_so = "reached" if self.target.reached else "NOT reached"
            yield f"  target: {LETHALITY.text(self.target.lethality)} is {told_so}"
        if self.advice is not None:
            one = self.advice.own.recommended(self.advice.criterion)
            verdict = "" if one.good else "NOT GOOD, "
            yield f"  advice: insert {mm(one.depth):.1f} mm; {verdict}mismatch {PART.text(one.mismatch)}"
        elif self.probe is not None:
            read = LETHALITY.text(self.probe.reading.lethality)
            yield f"  probe: reads {self.case.lethality.symbol} {read} at {mm(self.probe.depth):.1f} mm"
        others = len(self.notices) - len(grave[:3])
        yield f"  {self.time.size} times, {self.lethality.shape} nodes, {others} further notices>"

    def _repr_html_(self) -> str:
        """The drawing and the answer, for notebooks."""
        import thermsim  # the front door: what draws and tells stands in rooms above

        return str(thermsim.html_of(self))

    def to_xarray(self) -> Dataset:
        """Fields over time, r and z, and curves over time, as an ``xarray.Dataset`` with units and long names.

        In SI units and degC. In a container that is not straight fields run over columns and levels, whose places are
        the coordinates ``r`` and ``z``.

        Raises
        ------
        ImportError
            If xarray is not there: ``pip install "thermsim[xarray]"``.
        """
        import thermsim  # the front door: what lays files out stands in a room above

        return thermsim.dataset_of(self)

    @property
    def warnings(self) -> tuple[str, ...]:
        """The texts of the notices."""
        return tuple(notice.text for notice in self.notices)

    def noting(self, *notices: Notice) -> Result:
        """The same result with these notices after its own."""
        return dataclasses.replace(self, notices=(*self.notices, *notices))
