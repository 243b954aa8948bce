"""The sheet of a product that flows: heights above the base, depths from the datum, hardware for them. Hand-worked.

Nothing is solved: where the trade looks follows from the case alone.
"""

from types import SimpleNamespace

import pytest
from job_cases import GAP, HIGH, OUT, PROBE, SHAPE, TEXT, TIN, replaced
from numpy.testing import assert_allclose

from thermsim import case_from_text
from thermsim.figures.bench.flowing import band, height_rows, heights, insertion, of_the_trade
from thermsim.figures.bench.setting import Bench

#: Thickness of the glass below [mm], and the product's depth.
FLOOR, DEEP = 5.0, HIGH - GAP
LOW, HIGHER = 0.10 * DEEP, 0.15 * DEEP


def placed(entry, lengths=(PROBE,), stick_out=(OUT, 85.0), inside=3):
    """The sauce in a glass, its probe put where the trade looks."""
    base = f'base = {{ material = "soda-lime glass", thickness_mm = {FLOOR} }}'
    stock = f"stock = {{ probe_lengths_mm = {list(lengths)}, stick_out_mm = {list(stick_out)} }}"
    changes = [
        ("inside_mm = 3", f"inside_mm = {inside}"),
        ('base = { material = "tinplate", thickness_mm = 0.2 }', base),
        ('entry = "lid"', f'entry = "{entry}"'),
        ("stock = { probe_lengths_mm = [90.0], stick_out_mm = [10.0, 85.0] }", stock if lengths else ""),
    ]  # fmt: skip
    case = case_from_text(replaced(TEXT, *changes))
    result = SimpleNamespace(case=case, advice=SimpleNamespace(own=SimpleNamespace(probe=case.probe)))
    return result, of_the_trade(result, Bench(None, None, case.probe, 0.0, None, (), None, (0.0, 1.0)))


def rows_of(result, bench):
    return {row.label: row.value for row in height_rows(result, bench)}


def test_a_fitting_that_reaches_beyond_the_band_keeps_the_tip_out_of_it():
    result, bench = placed("base", (), inside=20)
    # 2 mm of sensing length and 2 mm clear of the fitting
    assert_allclose(1e3 * bench.depth, FLOOR + 20 + 2 + 2, rtol=1e-9)
    assert rows_of(result, bench)["at hand"] == "nothing at hand reaches it"


def test_the_band_lies_above_the_inside_of_the_base():
    low, high = band(placed("lid")[0].case)
    assert_allclose([1e3 * low, 1e3 * high], [FLOOR + LOW, FLOOR + HIGHER], rtol=1e-12)


@pytest.mark.parametrize(("edge", "half"), [("short", 90.0), ("long", 65.0)])
def test_through_an_edge_the_axis_is_half_a_side_and_a_wall_away(edge, half):
    side = f'entry = "side"\nedge = "{edge}"'
    case = case_from_text(replaced(TEXT, (SHAPE, "brick_mm = [180.0, 130.0, 40.0]"), ('entry = "lid"', side)))
    assert_allclose(1e3 * insertion(case.probe, case, 0.005), half + TIN, rtol=1e-12)


@pytest.mark.parametrize(("entry", "lengths", "depth", "at_hand"), [
    # the lid's outer face is 110.2 mm up: the band's middle, 17.5 mm up, is 92.7 mm below it
    ("lid", (PROBE,), PROBE - OUT, "NOT REACHED: the 90 mm probe comes to 80.0 mm, 12.7 mm too short for"),
    ("lid", (PROBE, 120.0), 92.7, "the 120 mm probe reaches it: set to 92.7 mm, 27.3 mm out"),
    ("base", (PROBE,), 17.5, "the 90 mm probe reaches it: set to 17.5 mm, 72.5 mm out"),
    ("lid", (), 92.7, "nothing at hand reaches it"),
    ("base", (), 17.5, "the probe, 90.0 mm long, reaches it"),
])  # fmt: skip
def test_the_probe_is_put_to_the_middle_of_the_band_or_as_near_as_it_gets(entry, lengths, depth, at_hand):
    result, bench = placed(entry, lengths)
    rows = rows_of(result, bench)
    assert rows["tip above the inside of the base"] == f"{LOW:.1f} to {HIGHER:.1f} mm"
    face = FLOOR + HIGH + TIN
    ends = [face - FLOOR - HIGHER, face - FLOOR - LOW] if entry == "lid" else [FLOOR + LOW, FLOOR + HIGHER]
    assert rows["insertion for it"] == f"{ends[0]:.1f} to {ends[1]:.1f} mm from the datum"
    assert at_hand in rows["at hand"]
    assert_allclose(1e3 * bench.depth, depth, rtol=1e-9)
    assert_allclose(1e3 * bench.probe.insertion, depth, rtol=1e-9)


@pytest.mark.parametrize(("lengths", "hands"), [
    ((PROBE,), ["15.2 mm too short", "10.2 mm too short", "0.2 mm too short", "90 mm probe, 34.8 mm out"]),
    ((), ["not reached", "not reached", "yes", "yes"]),
])  # fmt: skip
def test_each_height_to_measure_at_has_its_depth_and_its_hardware(lengths, hands):
    """At parts of the product's depth; from the lid, whose outer face is HIGH + TIN above the inside of the base."""
    result, _ = placed("lid", lengths)
    parts = (0.10, 0.15, 0.25, 0.5)
    wanted = [(f"{part * DEEP:.1f} mm", f"{HIGH + TIN - part * DEEP:.1f} mm") for part in parts]
    found = heights(result)
    assert [row[:2] for row in found] == wanted
    assert [row[2] for row in found] == hands
