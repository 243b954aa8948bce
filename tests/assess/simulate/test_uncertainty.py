"""What is stated as uncertain: a third of both differences, never less than the steps' own error.

Rung: hand-worked. One small can is solved; the other two computations are made up.
"""

import dataclasses
import math

from numpy.testing import assert_allclose
from small_cans import small_can

from thermsim.assess.fields.family import Family
from thermsim.assess.simulate.result import Findings
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.simulate.uncertainty import uncertainties
from thermsim.assess.spots.hold import required_hold


def test_both_parts_count_by_a_third_and_differences_that_vanish_leave_the_steps_error():
    result = simulate(small_can())
    spots, cold_spot = result.spots, result.cold_spot
    best = Findings(cold_spot, spots, (), result.case.process.heating_end)

    def moved(kelvin, seconds, metres):
        curve = dataclasses.replace(
            spots[0], end_of_heating=spots[0].end_of_heating + kelvin, lethality=spots[0].lethality - seconds
        )
        spot = dataclasses.replace(cold_spot.least_lethality, z=cold_spot.least_lethality.z + metres)
        return dataclasses.replace(
            best, spots=(curve, spots[1]), cold_spot=dataclasses.replace(cold_spot, least_lethality=spot)
        )

    stated = uncertainties(best, moved(1.6, 32.0, 3.2e-3), moved(-0.3, -6.0, -6e-4), tolerance=0.01, z=10.0)
    # what three grids agree on lies a fifteenth farther from two of them than the finer of those
    name = "cold_spot.least_lethality"
    assert_allclose(stated[f"{name}.end_of_heating"], 1.6 * 15 / 16 / 3 + 0.3 / 3, rtol=1e-9)
    assert_allclose(stated[f"{name}.lethality"], 32.0 * 15 / 16 / 3 + 6.0 / 3, rtol=1e-9)
    assert_allclose(stated[f"{name}.z"], 3.2e-3 * 15 / 16 / 3 + 6e-4 / 3, rtol=1e-9)
    same = uncertainties(best, best, best, tolerance=0.01, z=10.0)
    # two and a half tolerances, and what that much temperature is worth
    assert_allclose(same[f"{name}.end_of_heating"], 0.025)
    assert_allclose(same[f"{name}.lethality"], spots[0].lethality * 0.025 * math.log(10) / 10)


def test_no_temperature_is_stated_as_worse_known_than_such_grids_know_it():
    """Curves too: half a kelvin is asked for, and a field that is wrong altogether would be off by tens."""
    stated = simulate(small_can()).uncertainty
    kelvin = {name: value for name, value in stated.items() if name.endswith(("temperature", "end_of_heating"))}
    assert len(kelvin) >= 5 and max(kelvin.values()) < 2.0, kelvin


def test_finer_grids_find_the_hold_within_what_is_stated():
    case = small_can()
    found = required_hold(case, 300.0, tolerance=0.02)
    finer = required_hold(case, 300.0, tolerance=0.005, family=Family(case, refinement=2.0, tolerance=0.005))
    assert abs(finer.hold - found.hold) <= found.uncertainty + finer.uncertainty
