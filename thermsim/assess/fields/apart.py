"""Distance of two computations of one course, where its lethality is gathered, and the uncertainty that follows.

Differences of opposite sign cancel in a lethality, and one at a single moment may happen to vanish; the errors behind
them do not cancel alike. So half of their root mean square counts, each time by the lethality that is gathered then,
wherever that is more than the figures' own difference.

Where errors fall four times from one extrapolation to the next, the value of all three grids is off by a quarter of
what lies between it and the value of the two coarser ones. Beside a corner of more than half a turn, as between a
wall and what conducts no heat, they fall more slowly: three grids show how fast at a place, and so much more counts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.lethality import lethal_rate
from thermsim.assess.fields.nesting import AGAIN
from thermsim.case.case import Case, Lethality
from thermsim.case.probe import Probe

Array = NDArray[np.float64]

#: What counts of a difference to the coarser value, and of that to the looser one.
QUARTER = (1.0 / 4.0, 1.0 / 3.0)
#: Time tolerances that a temperature may be off by on the finest grid, where no looser computation is looked at; that
#: one may be when heating ends, well behind all bends; and those that a lethality's may be, which lie on cubics
#: between times: on all grids between the same.
LEFT, ENDING, CUBICS = 0.15, 0.06, 0.15
#: The same of what a probe from the side reads: its change lies on the cubics of the march about the stem.
STEM_CUBICS = 0.6


def cubics_of(probe: Probe | None) -> float:
    """Time tolerances that the temperatures of a reading's lethality may be off by between times."""
    return STEM_CUBICS if probe is not None and probe.entry == "side" else CUBICS


#: Errors are not taken to fall more slowly than this from grid to grid: then nothing is known.
SLOWEST = 1.5


#: Beside a corner of three quarters of a turn fields go with the distance to the power of two thirds, and errors, far
#: from it too, with the spacing to the power of four thirds: extrapolation takes away all else and leaves those.
CORNER = 2.0 ** (4.0 / 3.0)


def has_corner(case: Case) -> bool:
    """True where the side wall goes on beside an insulated headspace."""
    insulated = case.headspace_height > 0.0 and case.headspace.model == "insulated"
    return insulated and case.container.side is not None


def slowness(coarse: Array, middle: Array, fine: Array, *, corner: bool = False) -> float:
    """Factor by which more than usual counts of a difference to the coarser value, by figures (n,) of three grids.

    Errors that fall by a ratio from each grid to the next leave (1/(ratio - 1) - 1/15) 15/16 of that difference in
    the value of all three; usual is a ratio of four. Where the body has a ``corner`` at which a wall goes on beside
    what conducts no heat, any that is seen to be less is due to that.
    """
    before, after = float(np.linalg.norm(middle - coarse)), float(np.linalg.norm(fine - middle))
    ratio = min(max(before / after, SLOWEST), 4.0) if after > 0.0 else 4.0
    if corner and ratio < 4.0:
        ratio = min(ratio, CORNER)
    return (1.0 / (ratio - 1.0) - AGAIN) / (1.0 / 3.0 - AGAIN)


def gathering(time: Array, temperature: Array, lethality: Lethality, low: float, high: float) -> Array:
    """Part of its lethality that a course (n_t,) [degC] gathers about each time, from one time to another [s]."""
    rate = lethal_rate(temperature - temperature.max() + lethality.reference, lethality)
    part = np.where((time >= low) & (time <= high), rate * np.gradient(time), 0.0)
    return np.asarray(part / part.sum()) if part.any() else part


def spread(part: Array, difference: Array) -> float:
    """Half of the root mean square of a difference over time, by the part that each time has."""
    return math.sqrt(float(part @ difference**2)) / 2.0


def unsure_of_curve(
    best: Curve,
    others: Sequence[Curve],
    *,
    lethality: Lethality,
    heated_until: float,
    tolerance: float,
    counted: tuple[float, float] = QUARTER,
    slow: float = 1.0,
    cubics: float = CUBICS,
) -> dict[str, float]:
    """Uncertainty of what is gathered at a place, of its temperature when heating ends, and of its whole course.

    Parameters
    ----------
    best : Curve
    others : pair of Curve
        The same place by a coarser and by a looser computation.
    lethality : Lethality
        Reference temperature and z.
    heated_until : float
        When heating ends [s].
    tolerance : float
        Of the time steps [K].
    counted : pair of float, optional
        What counts of the differences to the two.
    slow : float, optional
        So many times more of that to the coarser one: see :func:`slowness`.
    cubics : float, optional
        Time tolerances that the temperatures of a lethality may be off by between times.

    Returns
    -------
    dict of str to float
        By the figures' names, in their units.
    """
    whole, heating = (
        gathering(best.time, best.temperature, lethality, best.time[0], end) for end in (np.inf, heated_until)
    )
    apart = [best.temperature - other.temperature for other in others]
    worth = math.log(10.0) / lethality.z
    counted = slow * counted[0], counted[1]
    largest = [float(np.abs(one).max()) for one in apart]
    found = {"temperature": (slow * largest[0] + largest[1]) / 3.0 + LEFT * tolerance}
    for figure, part in (("lethality", whole), ("heating_lethality", heating)):
        own = getattr(best, figure)
        relative = sum(
            share * max(abs(math.log(getattr(other, figure) / own)), worth * spread(part, one))
            for share, other, one in zip(counted, others, apart, strict=True)
        )
        found[figure] = own * (relative + cubics * tolerance * worth)
    found["end_of_heating"] = ENDING * tolerance + sum(
        share * max(abs(other.end_of_heating - best.end_of_heating), spread(heating, one))
        for share, other, one in zip(counted, others, apart, strict=True)
    )
    return found
