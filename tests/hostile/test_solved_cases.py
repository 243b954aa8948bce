"""Cases with other numbers that are accepted: solved at loose accuracy, their answers keep to what physics allows.

Rung: conservation and bounds (maximum principle, balance of heat, the least is the least).
"""

import contextlib
import random
import signal

import numpy as np
import pytest
from mutated_cases import ATTACHMENTS, bases, dumped, nudged

from thermsim.assess.simulate.simulation import simulate
from thermsim.case import case_from_text
from thermsim.errors import CaseError, ThermsimError

KNOWN = bases()
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


def accepted(seeds):
    for seed in seeds:
        with contextlib.suppress(CaseError):
            yield seed, case_from_text(dumped(nudged(random.Random(seed), KNOWN)), attachments=ATTACHMENTS)


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
    least, unsure = result.cold_spot.least_lethality, result.uncertainty["cold_spot.least_lethality.lethality"]
    for place in (*result.points, *result.spots):
        inside = case.bottom <= place.z <= case.surface and place.r < case.container.radius_at(place.z)
        if inside and place.lethality < least.lethality * (1.0 - 1e-9) - 3.0 * unsure:
            yield f"{place.name} has less than the least lethality"
    for spot in (least, result.cold_spot.slowest_heating):
        if not (case.container.floor <= spot.z <= case.surface + 1e-9 and spot.r <= case.container.outer_radius):
            yield "a cold spot outside of the product"


@pytest.mark.parametrize(
    "seeds", [range(20, 24), *(pytest.param(range(k, k + 40), marks=pytest.mark.long) for k in range(0, 400, 40))]
)
def test_what_is_accepted_is_solved_without_nonsense(seeds):
    solved = 0
    for seed, case in accepted(seeds):
        with not_for_ever():
            try:
                result = simulate(case)
            except ThermsimError:
                continue
        assert [*nonsense(case, result)] == [], seed
        solved += 1
    assert solved
