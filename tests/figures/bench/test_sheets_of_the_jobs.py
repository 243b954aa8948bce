"""From a case's text to its sheet, lengths recomputed by hand: a thin sauce, a pouch, a can by its trade size."""

import re

from thermsim.assess.depth.recommendation import recommend
from thermsim.case import case_from_text
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.sheet import plot_bench_sheet

#: Millimetres, as the texts below say.
WIDE, HIGH, TIN, GAP, PROBE, OUT = 73.0, 105.0, 0.2, 5.0, 90.0, 10.0
TEXT = """format = 1
title = "A can of sauce"
materials.food = { conductivity_W_mK = 0.55, density_kg_m3 = 1040.0, specific_heat_J_kgK = 3600.0 }
product = { material = "food", thickness = "thin sauce", initial_C = 60.0 }
fill = { headspace_mm = 5.0 }
headspace = { model = "insulated" }
lethality = { reference_C = 121.1, z_C = 10.0, target_min = 60.0 }
accuracy = { temperature_K = 10.0, lethality_percent = 50.0, place_mm = 20.0 }
stock = { probe_lengths_mm = [90.0], stick_out_mm = [10.0, 85.0] }
[container]
inner_diameter_mm = 73.0
inner_height_mm = 105.0
side = { material = "tinplate", thickness_mm = 0.2 }
base = { material = "tinplate", thickness_mm = 0.2 }
lid = { material = "tinplate", thickness_mm = 0.2 }
[process]
start_C = 60.0
film_W_m2K = 1500.0
stage = [{ name = "hold", minutes = 40.0, to_C = 121.1 }, { name = "cool", minutes = 15.0, to_C = 30.0 }]
[probe]
entry = "lid"
mount = "through"
segments = [{ diameter_mm = 2.0, length_mm = 90.0, material = "stainless steel" }]
sensing_mm = 2.0
fitting = { diameter_mm = 10, inside_mm = 3, outside_mm = 8, material = "stainless steel", hole_mm = 9 }
"""
SHAPE = "inner_diameter_mm = 73.0\ninner_height_mm = 105.0"


def pages(text):
    result = recommend(case_from_text(text))
    figures = [plot(result, program="p", digest="d") for plot in (plot_bench_sheet, plot_form)]
    return result, [
        re.sub(r"\s+", " ", " ".join(t.get_text() for t in (*one.texts, *(t for ax in one.axes for t in ax.texts))))
        for one in figures
    ]


def test_a_thin_sauce_gets_the_height_of_the_trade_and_no_depth():
    result, (sheet, form) = pages(TEXT)
    deep = HIGH - GAP
    low, high = 0.10 * deep, 0.15 * deep
    # from the outer face of the lid, over both thicknesses of tinplate
    ends = [HIGH + 2 * TIN - (TIN + height) for height in (high, low)]
    reach = PROBE - OUT
    for expected in (
        f"{low:.1f} to {high:.1f} mm",
        f"insertion for it {ends[0]:.1f} to {ends[1]:.1f} mm from the datum",
        f"NOT REACHED: the {PROBE:.1f} mm probe comes to {reach:.1f} mm, {sum(ends) / 2 - reach:.1f} mm too short",
        f"on the axis, {WIDE / 2 + TIN:.1f} mm from the outer edge",
        "drill ⌀ 9.0 mm",
    ):
        assert expected in sheet, expected
    assert sheet.index("DOES NOT HOLD") < sheet.index("1 Entry")
    assert "insertion depth" not in sheet and "correction" not in sheet
    depth = 1e3 * bench_of(result).depth
    assert f"{depth:.1f} mm" not in sheet and f"{depth:.1f}" not in form
    assert "DOES NOT HOLD" in form


def test_a_pouch_is_drilled_from_its_own_edges_and_is_not_safe_yet():
    text = TEXT.replace(SHAPE, "brick_mm = [180.0, 130.0, 40.0]").replace("thin sauce", "gel/solid")
    text = text.replace("headspace_mm = 5.0", "headspace_mm = 0.0")
    result, (sheet, form) = pages(text)
    out = PROBE - 1e3 * bench_of(result).depth
    for expected in (
        "NOT SAFE YET",
        f"{180 / 2 + TIN:.1f} mm from the ends, {130 / 2 + TIN:.1f} mm from the long edges",
        f"length outside {180 + 2 * TIN:.1f}",
        f"width outside {130 + 2 * TIN:.1f}",
        f"stick-out {out:.1f} mm",
        "section along the length",
        "section across the width",
    ):
        assert expected in sheet, expected
    # 1.04 g/ml in the brick, not in its cylinder
    assert f"fill weight {1.04 * 18 * 13 * 4:.1f} g" in form


def test_a_can_by_its_trade_size_counts_from_the_panel_and_from_the_seam():
    text = TEXT.replace(SHAPE, 'size = "603x700"').replace("thin sauce", "gel/solid")
    text = text.replace("[90.0]", "[90.0, 160.0]").replace("[10.0, 85.0]", "[10.0, 150.0]")
    result, (sheet, _) = pages(text)
    inch = 25.4
    body, seam = ((6 + 3 / 16) * inch - 3.0) / 2 + TIN, (6 + 3 / 16) * inch / 2
    depth = 1e3 * bench_of(result).depth
    # 8 mm taken off for both ends: tinplate and the countersink at each
    sunk = 8.0 / 2 - TIN
    for expected in (
        f"on the axis, {body:.1f} mm from the body's edge, {seam:.1f} mm from the seam's",
        f"insertion depth {depth:.1f} mm",
        f"from the seam {depth + sunk:.1f} mm; seam {sunk:.1f} mm (measure it)",
    ):
        assert expected in sheet, expected
