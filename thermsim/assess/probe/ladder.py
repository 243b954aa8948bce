"""What a ladder of depths says between its rungs: the best depth, the window round it, depths that confirm it.

Readings are smooth in depth, so between the rungs a cubic spline serves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from thermsim.assess.probe.advice import Criterion, Rung, Truth

Array = NDArray[np.float64]


def best_depth(ladder: Sequence[Rung], truth: Truth, criterion: Criterion) -> tuple[float, bool]:
    """The depth whose reading is nearest the truth, and whether it is the first or last of the ladder.

    Where the reading meets the truth at several depths, the one nearest to where readings are lowest is taken: far
    from there errors of place and of the stem merely cancel.
    """
    if len(ladder) == 1:
        return ladder[0].depth, False
    depths = [rung.depth for rung in ladder]
    curve = _through(depths, [math.log(rung.measure(criterion) / truth.measure(criterion)) for rung in ladder])
    fine = np.linspace(depths[0], depths[-1], 4001)
    values = curve(fine)
    lowest = int(values.argmin())
    best = lowest
    if values[lowest] < 0.0:
        meets = np.flatnonzero(np.sign(values[1:]) != np.sign(values[:-1]))
        if meets.size:
            best = int(meets[np.abs(meets - lowest).argmin()])
    return float(fine[best]), best in (0, fine.size - 1)


def window_round(ladder: Sequence[Rung], depth: float, criterion: Criterion, margin: float) -> tuple[float, float]:
    """Depths round the given one at which the reading stays within the margin of that there."""
    if len(ladder) == 1:
        return depth, depth
    depths = [rung.depth for rung in ladder]
    curve = _through(depths, [math.log(rung.measure(criterion)) for rung in ladder])
    fine = np.linspace(depths[0], depths[-1], 4001)
    outside = np.abs(np.expm1(curve(fine) - float(curve(depth)))) > margin
    below, above = fine[outside & (fine < depth)], fine[outside & (fine > depth)]
    return (
        float(below[-1]) if below.size else depths[0],
        float(above[0]) if above.size else depths[-1],
    )


def confirmation_depths(
    ladder: Sequence[Rung], depth: float, accuracy: float, possible: Array | None = None
) -> tuple[float, ...]:
    """Depths round the recommended one at which a sensor of this accuracy [K] would tell the difference.

    On each side the nearest depth at which the temperature when heating ends differs by twice the accuracy, and the
    nearest at which it differs by four times; fewer where the container ends before, or where none of the depths that
    are ``possible`` [m], if these are given, differs so much.
    """
    if len(ladder) < 2:
        return ()
    curve = _through([rung.depth for rung in ladder], [rung.end_of_heating for rung in ladder])
    fine = np.linspace(ladder[0].depth, ladder[-1].depth, 2001) if possible is None else possible
    differs = np.abs(curve(fine) - float(curve(depth)))
    found = []
    for side in (fine < depth, fine > depth):
        for times in (2.0, 4.0):
            far = fine[side & (differs >= times * accuracy)]
            if far.size:
                found.append(float(far[np.abs(far - depth).argmin()]))
    return tuple(sorted(set(found)))


def interpolated(ladder: Sequence[Rung], depth: float) -> Rung:
    """What the ladder says of a depth between its rungs."""
    if len(ladder) == 1:
        return ladder[0]
    depths = [rung.depth for rung in ladder]

    def between(name: str) -> float:
        logs = [math.log(getattr(rung, name)) for rung in ladder]
        return math.exp(float(_through(depths, logs)(depth)))

    ends = {
        name: float(_through(depths, [getattr(rung, name) for rung in ladder])(depth))
        for name in ("end_of_heating", "without_end")
    }
    lethalities = ("lethality", "heating_lethality", "without_lethality", "without_heating")
    return Rung(depth=depth, **ends, **{name: between(name) for name in lethalities})


def _through(depths: Sequence[float], values: Sequence[float]) -> Callable[[Array | float], Array]:
    """A smooth curve through the rungs, whose turns may lie between them."""
    return CubicSpline(np.array(depths), np.array(values))  # type: ignore[no-any-return]
