"""How an answer is looked at that nobody has worked out: what it may not hold, and how long it may take."""

import contextlib
import signal

import numpy as np

#: Processor time in which a case is solved or refused [s]; a case that takes longer hangs.
HANGS = 150


@contextlib.contextmanager
def not_for_ever():
    def stop(*_):
        raise TimeoutError("still at it")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, HANGS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def nonsense(case, result):
    """What an answer holds that cannot be."""
    low, high = case.met
    slack = case.accuracy.temperature
    if np.nanmin(result.temperature) < low - slack or np.nanmax(result.temperature) > high + slack:
        yield "a temperature beyond start and medium"
    if abs(result.energy.relative_defect) > 1e-6 and "energy-not-balanced" not in {n.code for n in result.notices}:
        yield f"heat is lost: {result.energy.relative_defect:.1e}"
    if not np.isfinite(list(result.uncertainty.values())).all():
        yield "an uncertainty is not finite"
    least = result.cold_spot.least_lethality
    # a probe through an edge is held against the spots of the brick itself; the cylinder round it is no bound of them
    of, own = ("brick", result.brick.least_lethality) if result.beside == "brick" else ("cold_spot", least)
    for body, lowest, places in (("cold_spot", least, result.points), (of, own, result.spots)):
        slack = 3.0 * result.uncertainty[f"{body}.least_lethality.lethality"]
        for place in places:
            inside = case.bottom <= place.z <= case.surface and place.r < case.container.radius_at(place.z)
            if inside and place.lethality < lowest.lethality * (1.0 - 1e-9) - slack:
                yield f"{place.name} has less than the least lethality"
    for spot in (least, result.cold_spot.slowest_heating):
        if not (case.container.floor <= spot.z <= case.surface + 1e-9 and spot.r <= case.container.outer_radius):
            yield "a cold spot outside of the product"
