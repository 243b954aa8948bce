"""Error estimate of a course from two computations of it, by where its lethality is gathered; how slowly errors fall.

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
from thermsim.assess.fields.refinement import Refined
from thermsim.case.case import Case, Lethality
from thermsim.case.probe import Probe

Array = NDArray[np.float64]

#: What counts of a difference to the coarser value, and of that to the looser one.
QUARTER = (1.0 / 4.0, 1.0 / 3.0)
#: What counts of the typical difference to the coarser fields nearby, and beside that of the one at a place itself.
#: Choices, made on drawn cases: those of seeds 9 and 10 of ``benchmarks/honesty.py``.
NEARBY = 1.0 / 6.0
PLACE = NEARBY, 1.0 / 3.0
#: The same of what is gathered in all: of the typical difference nearby or over time, and of the one at a place
#: itself. Much of that a jump leaves, whose errors fall fast, beside a corner too: what goes slowly there counts as
#: :func:`slowness` by itself. A choice likewise: of seed 23.
GATHERED = 1.0 / 8.0
#: What counts of both uncertainties, a reading's and the cold spot's, in their difference: of lethalities, in which
#: both are off alike in part on grids that are alike, and of temperatures. Choices likewise.
COMMON = (0.75, 1.0)
#: The same until heating ends, at least, where all three computations say what reading and cold spot differ by.
APART = 0.65
#: So far from a place is nearby, as a part of the product's radius or half its height.
REACH = 0.3
#: Temperatures when heating ends are taken with those of the last part of heating: differences may change their sign
#: just then, and what a wall was off by when it was still cold is long gone.
LATE = 0.25
#: Time tolerances that any temperature may be off by, and those of any lethality: a march of a hundredth of the
#: tolerance is off by about so much, and nothing closer was there to hold one against.
LEFT = 0.01
#: The same in a wall, of when heating ends too: what a jump left of error dies away there within moments.
IN_WALLS = 0.003
#: The same of what a probe from the side gathers: its change lies on the cubics of the march about the stem. A choice
#: likewise: of seeds 53 and 63.
STEM_CUBICS = 0.1
#: What counts of what a place in a wall gathers. A choice likewise: of seeds 29 and 61.
GATHERED_IN_WALLS = 0.21
#: What counts in a wall of the largest difference over time to the coarser value: right after a jump errors fall more
#: slowly than later, and no other places see as much of it. A choice likewise: of seed 23.
JUMP_IN_WALLS = 3.0 / 8.0


def cubics_of(probe: Probe | None) -> float:
    """Time tolerances that the temperatures of a reading's lethality may be off by."""
    return STEM_CUBICS if probe is not None and probe.entry == "side" else LEFT


#: Errors are not taken to fall more slowly than this from grid to grid: then nothing is known.
SLOWEST = 1.5
#: From so many times more than usual on, as beside plastic, what is left at a place is all of one sign and counts in
#: full; of a lethality in all, much of which a jump leaves, no more than elsewhere.
SLOWLY = 2.3
#: Errors that fall as smooth fields let them fall so many times from one grid to the next.
USUAL = 4.0
#: Where an edge may let them fall more slowly, they are seen not to if those of all figures fall at least and most
#: so many times: errors of two kinds and signs may seem to fall fast in one figure alone. A choice likewise.
SEEN = (3.0, 4.4)
#: What counts of how much more slowly errors are seen to fall at a place than a corner lets them: the coarsest grid
#: is too coarse yet for them to fall as they will. A choice likewise: of seeds 29 and 37.
STILL_COARSE = 0.5


def corner_of(case: Case) -> float:
    """Ratio by which errors fall from grid to grid where something goes on beside an insulated headspace.

    That is the side wall, or the stem of a probe from the lid: a quarter of a turn of product meets half a turn of
    it. Fields go with the distance to a power p for which (product) tan(p pi/2) = -(other) tan(p pi), with the
    conductivities of both: two thirds where they are alike. Errors, far from it too, go with the spacing to the
    power of 2 p: extrapolation takes away all else and leaves those. What conducts better, metal above all, is so
    thin that grids do not show the power that would be its own: it counts as if it conducted alike.
    """
    if case.headspace_height <= 0.0 or case.headspace.model != "insulated":
        return USUAL
    side, probe = case.container.side, case.probe
    beside = [side.material.conductivity] if side else []
    if probe is not None and probe.entry == "lid":
        beside += [segment.material.conductivity for segment in probe.segments]
    if not beside:
        return USUAL
    return _where_it_goes_on(min(beside) / case.product.material.conductivity)


def _where_it_goes_on(quotient: float) -> float:
    """The ratio of :func:`corner_of` by what the one that goes on conducts over what the product does."""
    return math.pow(4.0, 2.0 / math.pi * math.atan(math.sqrt(1.0 + 2.0 * min(1.0, quotient))))


def edge_of(case: Case) -> float:
    """Ratio by which errors fall from grid to grid about the edge of a probe's tip.

    A quarter of a turn of stem meets three of product: fields go with the distance to a power p for which
    tan(3 p pi/4) = -k tan(p pi/4), with k the conductivity of the one over the other or, if that is less than one,
    the other way round: two thirds of metal, nearly one of plastic, which bends hardly any of the flow. Of several
    segments it is that of the one least like the product.
    """
    if case.probe is None:
        return USUAL
    product = case.product.material.conductivity
    stem = [segment.material.conductivity for segment in case.probe.segments]
    quotient = min(*(one / product for one in stem), *(product / one for one in stem))
    return math.pow(4.0, 4.0 / math.pi * math.atan(math.sqrt((1.0 + 3.0 * quotient) / (3.0 + quotient))))


def end_of(case: Case, place: float, tip: float) -> float:
    """Ratio by which errors fall from grid to grid at a place on a stem that has an end there, within its radius.

    ``place`` and ``tip`` are heights [m]. At the edge of a tip, see :func:`edge_of`, and where a stem from the lid
    leaves the product, see :func:`corner_of` (gas hardly conducts), fields go with the distance to a power p; so do
    errors at that very place, where farther off they go with twice that.
    """
    probe = case.probe
    if probe is None:
        return USUAL
    ratios = [USUAL]
    if abs(place - tip) <= probe.tip_radius:
        ratios.append(edge_of(case))
    if probe.entry == "lid" and case.headspace_height > 0.0 and case.surface - place <= probe.tip_radius:
        least = min(segment.material.conductivity for segment in probe.segments)
        ratios.append(_where_it_goes_on(least / case.product.material.conductivity))
    return math.sqrt(min(ratios)) if min(ratios) < USUAL else USUAL


def slowness(coarse: Array, middle: Array, fine: Array, *, corner: float = USUAL, edge: float = USUAL) -> float:
    """Factor by which more than usual counts of a difference to the coarser value, by figures (n,) of three grids.

    Errors that fall by a ratio from each grid to the next leave (1/(ratio - 1) - 1/15) 15/16 of that difference in
    the value of all three; usual is a ratio of four. Beside a body's ``corner``, see :func:`corner_of`, it counts as
    no more than there, whatever is seen: errors that fall fast and are of the other sign may hide those that do not.
    Beside an ``edge`` it does so unless every figure is :data:`SEEN` to converge as usual. Elsewhere what is seen
    beyond that counts in part: :data:`STILL_COARSE`.
    """
    differences = middle - coarse, fine - middle
    before, after = (float(np.linalg.norm(one)) for one in differences)
    ratio = min(max(before / after, SLOWEST), USUAL) if after > 0.0 else USUAL
    seen, least = left_by(ratio), left_by(corner)
    if edge == USUAL:
        return max(least, least + STILL_COARSE * (seen - least))
    low, high = (share * differences[1] for share in SEEN)
    within = (differences[0] - low) * (differences[0] - high) <= 0.0
    return max(seen, least, 0.0 if within.all() else left_by(edge))


def left_by(ratio: float) -> float:
    """Factor by which more than usual is left by errors that fall by a ratio from each grid to the next."""
    return (1.0 / (ratio - 1.0) - AGAIN) / (1.0 / 3.0 - AGAIN)


def gathering(time: Array, temperature: Array, lethality: Lethality, low: float, high: float) -> Array:
    """Part of its lethality that a course (n_t,) [degC] gathers about each time, from one time to another [s]."""
    rate = lethal_rate(temperature - temperature.max() + lethality.reference, lethality)
    part = during(time, low, high) * rate
    return np.asarray(part / part.sum()) if part.any() else part


def during(time: Array, low: float, high: float) -> Array:
    """Part that each of some times (n_t,) has in those from one to another [s]."""
    part = np.where((time >= low) & (time <= high), np.gradient(time), 0.0)
    return np.asarray(part / part.sum()) if part.any() else part


def nearby(refined: Refined, r: float, z: float) -> Array:
    """Root mean square of what coarser grids change in the product round a place [m], shape (3,).

    Of the temperature when heating ends [K], and of the logarithms of lethality. A difference may happen to vanish at
    a place; the errors behind it do not vanish alike.
    """
    grid, apart = refined.grid, refined.best.ends - refined.coarser.ends
    product = grid.product_nodes
    reach = REACH * max(float(grid.r[product].max()), float(np.ptp(grid.z[product])) / 2.0)
    area = np.gradient(grid.columns)[:, None] * np.gradient(grid.levels)
    part = np.where(product & (np.hypot(grid.r - r, grid.z - z) <= reach), area, 0.0)
    return np.asarray(np.sqrt((apart**2 * part).sum(axis=(1, 2)) / max(float(part.sum()), 1e-300)))


def spread(part: Array, difference: Array) -> float:
    """Half of the root mean square of a difference over time, by the part that each time has."""
    return math.sqrt(float(part @ difference**2)) / 2.0


def curve_uncertainty(
    best: Curve,
    others: Sequence[Curve],
    *,
    lethality: Lethality,
    heated_until: float,
    tolerance: float,
    counted: tuple[float, float] = QUARTER,
    slow: float = 1.0,
    cubics: float = LEFT,
    in_wall: bool = False,
    jump: float = QUARTER[0],
    near: Array | None = None,
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
        What counts of the differences to the two; of the one nearby see :data:`NEARBY`.
    slow : float, optional
        So many times more of that to the coarser one: see :func:`slowness`.
    cubics : float, optional
        Time tolerances that the temperatures of a lethality may be off by.
    in_wall : bool, optional
        Whether the place is in a wall.
    jump : float, optional
        What counts at least of the largest difference over time to the coarser value.
    near : ndarray, shape (3,), optional
        Typical difference to the coarser fields nearby: see :func:`nearby`; NaN where the one over time tells more.

    Returns
    -------
    dict of str to float
        By the figures' names, in their units.
    """
    worth, time = math.log(10.0) / lethality.z, best.time
    least = QUARTER[0] if slow > SLOWLY else 0.0
    counted = max(counted[0], least), counted[1]
    apart = [best.temperature - other.temperature for other in others]
    largest = [float(np.abs(one).max()) for one in apart]
    if in_wall:
        cubics, jump = IN_WALLS, JUMP_IN_WALLS
    course = slow * max(counted[0], jump) * largest[0] + counted[1] * largest[1]
    found = {"temperature": course + LEFT * tolerance}
    for k, (figure, part) in enumerate(
        (
            ("end_of_heating", during(time, (1.0 - LATE) * heated_until, heated_until)),
            ("lethality", gathering(time, best.temperature, lethality, time[0], np.inf)),
            ("heating_lethality", gathering(time, best.temperature, lethality, time[0], heated_until)),
        )
    ):
        own, beside = getattr(best, figure), [getattr(other, figure) for other in others]
        by = [abs(other - own) if k == 0 else abs(math.log(other / own)) / worth for other in beside]
        shares, typical = counted, counted[0]
        if in_wall and k > 0:
            shares = max(GATHERED_IN_WALLS, least), counted[1]
        elif near is not None and figure == "lethality":
            typical = GATHERED
            shares = typical, counted[1]
        elsewhere = [share * spread(part, one) for share, one in zip(shares, apart, strict=True)]
        if near is not None and not math.isnan(near[k]):
            elsewhere[0] = typical * float(near[k]) / (1.0 if k == 0 else worth)
        coarse, loose = (max(share * one, some) for share, one, some in zip(shares, by, elsewhere, strict=True))
        kelvin = slow * coarse + loose
        kelvin += (cubics if in_wall or k > 0 else LEFT) * tolerance
        found[figure] = kelvin if k == 0 else own * worth * kelvin
    return found
