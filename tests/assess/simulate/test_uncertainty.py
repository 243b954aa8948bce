"""What is stated as uncertain: parts of both differences, those over time too, and what the time steps leave.

Rung: hand-worked. One small can is solved; the other two computations are made up.
"""

import dataclasses
import functools
import math
from types import SimpleNamespace

import numpy as np
from numpy.testing import assert_allclose
from probed import PASTE, STEEL, probed_can
from small_cans import small_can

from thermsim.assess.fields.error_estimate import PLACE, SLOWLY, curve_uncertainty, nearby
from thermsim.assess.fields.family import Family, looser_scale
from thermsim.assess.probe.uncertainty import slowness_of
from thermsim.assess.simulate.result import Findings
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.simulate.uncertainty import uncertainties
from thermsim.assess.spots import hold
from thermsim.assess.spots.hold import required_hold
from thermsim.solve.march.history import History


def test_both_parts_count_and_differences_that_vanish_leave_the_steps_error():
    result = simulate(small_can())
    credit = result.case.lethality
    spots, cold_spot = result.spots, result.cold_spot
    best = Findings(cold_spot, spots, (), result.case.process.heated_until)

    def moved(kelvin, seconds, metres):
        curve = dataclasses.replace(
            spots[0], end_of_heating=spots[0].end_of_heating + kelvin, lethality=spots[0].lethality - seconds
        )
        spot = dataclasses.replace(cold_spot.least_lethality, z=cold_spot.least_lethality.z + metres)
        return dataclasses.replace(
            best, spots=(curve, spots[1]), cold_spot=dataclasses.replace(cold_spot, least_lethality=spot)
        )

    stated = uncertainties(best, moved(1.6, 32.0, 3.2e-3), moved(-0.3, -6.0, -6e-4), tolerance=0.01, lethality=credit)
    # as in a wall: errors that fall four times leave a quarter of what lies between the best value and the coarser
    # one, what is gathered less
    name, own, worth = "cold_spot.least_lethality", spots[0].lethality, math.log(10) / 10
    assert_allclose(stated[f"{name}.end_of_heating"], 1.6 / 4 + 0.3 / 3 + 0.003 * 0.01, rtol=1e-9)
    relative = 0.21 * abs(math.log(1 - 32.0 / own)) + math.log(1 + 6.0 / own) / 3 + 0.003 * 0.01 * worth
    assert_allclose(stated[f"{name}.lethality"], own * relative, rtol=1e-9)
    assert_allclose(stated[f"{name}.z"], 3.2e-3 / 4 + 6e-4 / 3, rtol=1e-9)
    # where errors of either cold spot's figures fall slowly, those of places and of the zone do too
    slowly = dataclasses.replace(best, slowness=(2.0, 1.0))
    wider = moved(0.0, 0.0, 0.0)
    zone = dataclasses.replace(cold_spot.zone, r_high=cold_spot.zone.r_high + 1e-4, part=cold_spot.zone.part + 0.01)
    wider = dataclasses.replace(wider, cold_spot=dataclasses.replace(wider.cold_spot, zone=zone))
    for one, times in ((best, 1.0), (slowly, 2.0)):
        found = uncertainties(one, moved(0.0, 0.0, 1e-3), best, tolerance=0.01, lethality=credit)
        assert_allclose(found[f"{name}.z"], times * 1e-3 / 4, rtol=1e-9)
        found = uncertainties(one, wider, best, tolerance=0.01, lethality=credit)
        assert_allclose(found["cold_spot.zone.r_high"], times * 1e-4 / 5 + zone.resolution[0], rtol=1e-9)
        assert_allclose(found["cold_spot.zone.part"], times * 0.01 / 7, rtol=1e-9)
    # where its part happens to stay the same its bounds still say how far it may be off
    zone = dataclasses.replace(zone, part=cold_spot.zone.part)
    wider = dataclasses.replace(wider, cold_spot=dataclasses.replace(wider.cold_spot, zone=zone))
    found = uncertainties(best, wider, best, tolerance=0.01, lethality=credit)
    by_r, by_z = 1e-4 / 5 + zone.resolution[0], zone.resolution[1]
    assert_allclose(found["cold_spot.zone.part"], 0.65 * cold_spot.zone.part_within(by_r, by_z), rtol=1e-9)
    # and where they do, and every computation agrees on them, what the lethality is uncertain by
    found = uncertainties(best, moved(0.0, -500.0, 0.0), best, tolerance=0.01, lethality=credit)
    by_r, by_z = cold_spot.zone.bounds_within(0.25 * found[f"{name}.lethality"] / own)
    bounds = [found[f"cold_spot.zone.{axis}_{end}"] for axis in "rz" for end in ("low", "high")]
    on_axis = cold_spot.zone.resolution[0]
    assert_allclose(bounds, [on_axis, by_r, by_z, by_z], rtol=1e-9)
    # one that the coarser grids have on the surface may lie there
    off = moved(0.0, 0.0, 1e-3)
    there = dataclasses.replace(off.cold_spot.least_lethality, inside=not cold_spot.least_lethality.inside)
    off = dataclasses.replace(off, cold_spot=dataclasses.replace(off.cold_spot, least_lethality=there))
    found = uncertainties(best, off, best, tolerance=0.01, lethality=credit)
    assert_allclose(found[f"{name}.z"], 1e-3, rtol=1e-9)
    same = uncertainties(best, best, best, tolerance=0.01, lethality=credit)
    # parts of the tolerance, and what as much temperature is worth
    assert_allclose(same[f"{name}.end_of_heating"], 0.00003)
    assert_allclose(same[f"{name}.lethality"], own * 0.00003 * worth)


def test_what_a_jump_leaves_counts_for_more_in_a_wall():
    result = simulate(small_can())
    curve, credit = result.spots[0], result.case.lethality
    jumped = curve.temperature.copy()
    jumped[1] += 0.8
    other = dataclasses.replace(curve, temperature=jumped)
    best, coarser = (
        Findings(result.cold_spot, result.spots, (one,), result.case.process.heated_until) for one in (curve, other)
    )
    for near, share in ((None, 3.0 / 8.0), (np.zeros(3), 1.0 / 4.0)):
        where = dataclasses.replace(best, near=(np.zeros(3), np.zeros(3), near))
        stated = uncertainties(where, coarser, best, tolerance=0.01, lethality=credit)
        assert_allclose(stated["points.0.temperature"], 0.8 * share + 0.01 * 0.01, rtol=1e-9)


def test_differences_over_time_that_cancel_in_a_lethality_count_all_the_same():
    result = simulate(small_can())
    curve, credit = result.spots[0], result.case.lethality
    to_and_fro = 0.2 * np.where(np.arange(curve.time.size) % 2, 1.0, -1.0)
    other = dataclasses.replace(curve, temperature=curve.temperature + to_and_fro)
    heated_until = result.case.process.heated_until
    found = curve_uncertainty(curve, (other, curve), lethality=credit, heated_until=heated_until, tolerance=0.0)
    assert_allclose(found["lethality"], curve.lethality * 0.1 / 4 * math.log(10) / 10, rtol=1e-9)
    assert_allclose([found["end_of_heating"], found["temperature"]], [0.1 / 4, 0.2 / 4], rtol=1e-9)


def test_cold_spots_may_lie_off_a_surface(monkeypatch):
    plain = simulate(small_can()).uncertainty
    for by, name in ((3e-3, "off_surface"), (4e-3, "off_level")):
        monkeypatch.setattr(f"thermsim.assess.simulate.findings.{name}", lambda *_, by=by: by)
    stated = simulate(small_can()).uncertainty
    for which in ("least_lethality", "slowest_heating"):
        for axis, by in (("r", 3e-3), ("z", 4e-3)):
            name = f"cold_spot.{which}.{axis}"
            assert plain[name] < by <= stated[name]


def test_where_a_difference_vanishes_what_there_is_nearby_counts():
    result = simulate(small_can())
    curve, credit = result.spots[0], result.case.lethality
    stating = functools.partial(
        curve_uncertainty,
        curve,
        (curve, curve),
        lethality=credit,
        heated_until=result.case.process.heated_until,
        tolerance=0.0,
        counted=PLACE,
        near=np.array([0.3, 0.06, 0.012]),
    )
    # beside plastic a quarter; never of a lethality in all, much of which a jump leaves, whose errors fall fast
    for slow, share in ((1.0, 1 / 6), (2.0, 1 / 6), (1.1 * SLOWLY, 1 / 4)):
        stated = stating(slow=slow)
        assert_allclose(stated["end_of_heating"], slow * 0.3 * share, rtol=1e-9)
        assert_allclose(stated["lethality"], slow * 0.06 / 8 * curve.lethality, rtol=1e-9)
        assert_allclose(stated["heating_lethality"], slow * 0.012 * share * curve.heating_lethality, rtol=1e-9)
    # of a whole field that differs by as much everywhere that is typical anywhere in the product
    fields, grid = np.broadcast_to([[[1.0]], [[2.0]], [[3.0]]], (3, *result.grid.shape)), result.grid
    best, coarser = (SimpleNamespace(ends=part * fields) for part in (1.5, 1.0))
    assert_allclose(nearby(SimpleNamespace(grid=grid, best=best, coarser=coarser), curve.r, curve.z), [0.5, 1.0, 1.5])
    # and nothing where it differs at the lid alone
    coarser = SimpleNamespace(ends=best.ends - (grid.z > grid.z.max() - 1e-3))
    assert_allclose(nearby(SimpleNamespace(grid=grid, best=best, coarser=coarser), curve.r, curve.z), 0.0)


def test_no_temperature_is_stated_as_worse_known_than_such_grids_know_it():
    """Curves too: half a kelvin is asked for, and a field that is wrong altogether would be off by tens."""
    stated = simulate(small_can()).uncertainty
    kelvin = {name: value for name, value in stated.items() if name.endswith(("temperature", "end_of_heating"))}
    assert len(kelvin) >= 5 and max(kelvin.values()) < 2.0, kelvin


def test_finer_grids_find_the_hold_within_what_is_stated(monkeypatch):
    case = small_can()
    found = required_hold(case, 300.0, tolerance=0.02)
    monkeypatch.setattr(hold, "Family", functools.partial(Family, refinement=2.0))
    finer = required_hold(case, 300.0, tolerance=0.005)
    assert abs(finer.hold - found.hold) <= found.uncertainty + finer.uncertainty


def test_a_looser_march_counts_by_the_steps_that_it_saved():
    def march(steps):
        nothing = np.zeros((1, 1, 1))
        return History(np.zeros(1), nothing, nothing, 0.0, 0.0, 1.0, steps, 0)

    def factor(middle, looser):
        return looser_scale((march(50), march(middle), march(looser), march(50)))

    # errors go with the square of the steps: of half as many four times, so that the difference is thrice the error
    assert_allclose([factor(80, 40), factor(60, 40), factor(60, 20)], [1.0, 3.0 / (1.5**2 - 1.0), 3.0 / 8.0])
    assert factor(40, 40) == factor(40, 45) == 6.0


def test_a_reading_whose_errors_fall_by_twos_counts_the_more_for_it():
    """A ratio of two leaves 1 - 1/15 of the difference where one of four leaves 1/3 - 1/15."""

    def readings(ratio):
        off = np.array([0.4, 0.02, 0.03])
        values = (np.array([100.0, 5.0, 4.0]) + off / ratio**k for k in range(3))
        names = "end_of_heating", "log_lethality", "log_heating"
        return tuple(SimpleNamespace(**dict(zip(names, one, strict=True))) for one in values)

    twos = (1.0 - 1 / 15) / (1 / 3 - 1 / 15)
    # about no edge half of what is more than usual counts, as at any place: grids are too coarse yet
    for stem, slow in ((STEEL, twos), (PASTE, (1.0 + twos) / 2.0)):
        case = probed_can(stem=stem)
        assert_allclose(slowness_of(readings(2.0), case), slow, rtol=1e-9)
        for none in (readings(4.0), None):
            assert_allclose(slowness_of(none, case), 1.0, rtol=1e-9)
