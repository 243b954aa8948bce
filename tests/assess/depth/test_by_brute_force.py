"""Recommended depths against 25 depths solved one by one, mismatch integrated by hand.

Rung: another path of the program. Every depth is solved with its probe on all grids; nothing of the ladder is used.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import CASES
from probed import POLYMER, logger_can, probed_can
from small_jars import ROUGH, shouldered_case, tapered_case

from thermsim.assess.depth.limits import allowed_depths
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate_container, with_probe
from thermsim.case.file.reader import read_case

DEPTHS = 25


def ready(name):
    return read_case(CASES / name).replace(probes=(), stock=None)


PROBED = {
    "steel stem through the lid": lambda: probed_can(insertion=None),
    "polymer stem through the base": lambda: probed_can(insertion=None, stem=POLYMER, entry="base"),
    "logger on a spacer": logger_can,
    "tapered cup": lambda: tapered_case().replace(accuracy=ROUGH, stock=None),
    "shouldered jar": lambda: shouldered_case().replace(accuracy=ROUGH, stock=None),
    "ready can": lambda: ready("can_probe.toml"),
}


def lethal_rate(temperature, case):
    return 10.0 ** ((temperature - case.lethality.reference) / case.lethality.z)


#: Tried before a change lands: the others before a release.
QUICKEST = ("tapered cup", "logger on a spacer")


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.long if name in QUICKEST else pytest.mark.whole) for name in PROBED]
)
def test_the_recommended_depth_is_that_of_brute_force(name):
    case = PROBED[name]()
    bare = case.replace(probe=None)
    result, refined = simulate_container(bare)
    place = result.spots[0]
    time, heats = place.time, place.time <= case.process.heated_until
    true = lethal_rate(place.temperature, case)

    def solved(depth):
        placed = case.probe.at_depth(depth, case.container)
        read = with_probe(result, refined, case.replace(probe=placed)).probe.reading
        mismatch = np.trapezoid(np.abs(lethal_rate(read.temperature, case) - true), time) / np.trapezoid(true, time)
        rates = [lethal_rate(one.temperature, case)[heats] for one in (read, place)]
        gained, due = (np.trapezoid(rate, time[heats]) for rate in rates)
        return mismatch, gained / due - 1.0

    depths = np.linspace(*allowed_depths(case, case.probe), DEPTHS)
    mismatch, over = np.array([solved(depth) for depth in depths]).T
    own = recommend(dataclasses.replace(case)).advice.own
    chosen = own.recommended("least lethality")
    at_chosen = solved(chosen.depth)
    # 0.2 points of lethality: what the ladder's coarser grids and its splines may miss near the best depth
    assert_allclose([chosen.mismatch, chosen.heating_over_reading], at_chosen, rtol=0, atol=0.002)
    near = mismatch < mismatch.min() + 0.1
    profile = [own.profile.at(depth, "least lethality") for depth in depths[near]]
    assert_allclose(profile, mismatch[near], rtol=0, atol=0.004)
    # none of the depths is better: by its mismatch, or as good by it and less over-reading while heating
    alike = mismatch <= min(mismatch.min(), at_chosen[0]) + 0.01 - 0.002
    assert at_chosen[0] <= mismatch.min() + 0.01 + 0.002
    assert max(0.0, at_chosen[1]) <= np.maximum(0.0, over[alike]).min(initial=np.inf) + 0.005
    low, high = chosen.window
    within = (depths >= low) & (depths <= high)
    assert (mismatch[within] <= own.profile.mismatch.min() + 0.02 + 0.002).all()
