"""One computation on several grids: the extrapolated fields, and what they would be had we computed less well.

The equations are second order in space on nested grids, so two of them give a better value than either (Richardson):
fine + (fine - coarse)/3. The family has three grids, which give two such values. Where fields are smooth what is left
of their errors falls with the fourth power of the spacing, and the two give a better one again (Romberg):
best = finer + (finer - coarser)/15. "Coarser" is the value of the two coarser grids, one refinement earlier; the
middle grid followed through time less well (a basis as it was one round earlier, or a looser tolerance of the march)
shows what the time scheme does ("looser"). Every reported figure is worked out from all three. Where extrapolated
values converge like halved spacings squared, a quarter of what lies between the best and the coarser one is left; a
looser march's difference is scaled by the steps that it saved, so that a third of it is the error, and a basis a
round earlier is off by more. Of what happens at a place see :mod:`thermsim.assess.fields.error_estimate`, which also
says what is done where errors fall more slowly.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.cache import SolutionCache
from thermsim.assess.fields.family import (
    Family,
    Fields,
    Followed,
    FourSolutions,
    extrapolated,
    extrapolated_again,
    looser_scale,
    process_with_probe,
)
from thermsim.assess.fields.nesting import FINE_WEIGHT
from thermsim.assess.fields.reading import Reading, Sensor, reading_of
from thermsim.case.case import Case
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]

#: One reading in three ways, or on three grids.
Readings = tuple[Reading, Reading, Reading]
#: What counts as uncertain of a figure's difference to the coarser value, and of that to the looser one: a third. The
#: best value lies a fifteenth farther from the coarser one than that of the two finer grids, whose error this bounds.
COUNTED = (1.0 / (3.0 * FINE_WEIGHT), 1.0 / 3.0)
#: The same of a probe from the side: beside whole solutions in three dimensions a third of what the coarser grids
#: about it differ by is too little by a tenth. A choice, made on drawn cases of seeds 53 and 63 of ``honesty``.
ABOUT_A_STEM = (0.55, 1.0 / 3.0)


@dataclass(frozen=True)
class Refined:
    """The best fields of a case, and what they would be on coarser grids or with looser steps.

    ``grid`` is the finest grid, ``time`` the output times [s], ``ends`` what each grid says by itself of what does
    not change with time, ``found`` the temperatures on each. ``readings`` are what the case's probe reads, in the
    same three ways, and ``own_readings`` what it reads on each grid; None without a probe. ``family`` is ready for
    other processes.
    """

    grid: Grid
    time: Array
    ends: tuple[Array, Array, Array]
    best: Fields
    coarser: Fields
    looser: Fields
    found: FourSolutions
    readings: Readings | None
    own_readings: Readings | None
    family: Family

    @property
    def history(self) -> Followed:
        """The temperatures on the finest grid."""
        return self.found[-1]


def refine(
    case: Case,
    *,
    time: Array,
    field_time: Array | None = None,
    refinement: float = 1.0,
    tolerance: float,
    progress: Callable[[float], None] | None = None,
    kept: SolutionCache | None = None,
    once: bool = False,
) -> Refined:
    """Solve a case on the family of grids and extrapolate.

    Parameters
    ----------
    case : Case
        What is to be solved, with its probe if it has one.
    time : ndarray, shape (n_t,)
        Output times [s].
    field_time : ndarray, optional
        Times at which the fields' temperatures are kept, where only readings are wanted at all output times.
    refinement : float, optional
        Makes all spacings of all grids that many times smaller.
    tolerance : float
        Largest estimated error of a time step [K].
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).
    kept : SolutionCache, optional
        What an earlier run may have left, and where this one leaves the same.
    once : bool, optional
        The family of grids is for the case's own process and no other.

    Returns
    -------
    Refined
    """

    def family_now() -> Family:
        return Family(case, refinement=refinement, tolerance=tolerance, once=once)

    def followed_now() -> tuple[Family, FourSolutions]:
        # whatever is asked of a family, it must not matter which runs went before
        family = kept.family(case, how, family_now).without_bases() if kept else family_now()
        return family, family.followed(case, progress=progress)

    how = refinement, tolerance, once
    if kept is None:
        family, found = followed_now()
    else:
        family, found = kept.followed(case, process_with_probe(case), how, followed_now)
        family = family.copy()
    ways, ends = family.fields(case, found, time if field_time is None else field_time)
    best, coarser, looser = ways
    readings = readings_of(case, family.grids, found, time=time)
    return Refined(
        grid=family.grids[2],
        time=time,
        ends=ends,
        best=best,
        coarser=coarser,
        looser=looser,
        found=found,
        readings=readings[0] if readings else None,
        own_readings=readings[1] if readings else None,
        family=family,
    )


def differences(
    best: Mapping[str, float | Array],
    others: Sequence[Mapping[str, float | Array]],
    counted: tuple[float, float] = COUNTED,
) -> dict[str, float]:
    """Differences of each figure to the coarser and to the looser value as they count; of curves the largest."""
    return {
        name: sum(
            part * _apart(value, other[name]) for part, other in zip(counted, others, strict=True) if name in other
        )
        for name, value in best.items()
    }


def _apart(one: float | Array, other: float | Array) -> float:
    """By how much two figures differ; of curves the largest."""
    return float(np.abs(one - other).max()) if isinstance(one, np.ndarray) else abs(one - float(other))


def readings_of(
    case: Case, grids: tuple[Grid, ...], histories: FourSolutions, *, time: Array
) -> tuple[Readings, Readings] | None:
    """Readings of the case's probe: the best, one refinement earlier, with looser steps; and those on each grid."""
    if case.probe is None:
        return None
    sensor = Sensor(case.probe.tip_radius, *case.probe.sensed(case.container))
    coarse, middle, fine = grids
    on_coarse, on_middle, looser, on_fine = (
        reading_of(
            history, sensor.weights(grid), case.lethality, heated_until=case.process.heated_until, time=time
        ).stack()
        for history, grid in zip(histories, (coarse, middle, middle, fine), strict=True)
    )
    earlier = extrapolated(on_coarse, on_middle)
    best = extrapolated_again(earlier, extrapolated(on_middle, on_fine))
    unstack = Reading.unstack
    ways = unstack(best), unstack(earlier), unstack(best + looser_scale(histories) * (looser - on_middle))
    return ways, (unstack(on_coarse), unstack(on_middle), unstack(on_fine))
