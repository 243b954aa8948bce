"""From a case's text to its sheet, lengths recomputed by hand: jar, flat can, logger, cup, sauce, pouch, big can."""

import math
import re

import numpy as np
import pytest
from job_cases import GAP, HIGH, OUT, PROBE, SHAPE, TEXT, TIN, WIDE, pages, replaced

from thermsim.assess.depth import insertion, recommendation
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.container.section import plot_section
from thermsim.quantities import LETHALITY
from thermsim.records.words.answer import answer

SOLID = replaced(TEXT, ("thin sauce", "gel/solid"))


@pytest.mark.long
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
        f"NOT REACHED: the {PROBE:g} mm probe comes to {reach:.1f} mm, {sum(ends) / 2 - reach:.1f} mm too short",
        f"on the axis, {WIDE / 2 + TIN:.1f} mm from the outer edge",
        "drill ⌀ 9.0 mm",
    ):
        assert expected in sheet, expected
    assert sheet.index("DOES NOT HOLD") < sheet.index("1 Entry")
    assert "insertion depth" not in sheet and "correction" not in sheet
    depth = 1e3 * bench_of(result).depth
    assert f"{depth:.1f} mm" not in sheet and f"{depth:.1f}" not in form
    assert "DOES NOT HOLD" in form


def of_the_brick(result):
    name = "brick.least_lethality.lethality"
    return LETHALITY.text(result.brick.least_lethality.lethality, result.uncertainty[name]).replace("+-", "±")


def test_a_pouch_is_drilled_from_its_own_edges_and_has_its_own_cold_spot():
    text = TEXT.replace(SHAPE, "brick_mm = [180.0, 130.0, 40.0]").replace("thin sauce", "gel/solid")
    text = text.replace("headspace_mm = 5.0", "headspace_mm = 0.0")
    result, (sheet, form) = pages(text, rungs=(3, 0, 0))
    out = PROBE - 1e3 * bench_of(result).depth
    for expected in (
        f"F0 in all {of_the_brick(result)} at its own cold spot",
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


@pytest.mark.long
def test_a_pouch_is_entered_by_the_middle_of_its_short_edge(monkeypatch):
    # one probe and few rungs: what the sheet says of them is asked here, not the best depth
    monkeypatch.setattr(recommendation, "other_entries", lambda *_, **__: [])
    monkeypatch.setattr(recommendation, "other_stems", lambda *_: ())
    monkeypatch.setattr(insertion, "COARSE", 3)
    monkeypatch.setattr(insertion, "ADDED", 0)
    monkeypatch.setattr(insertion, "SETTLED", 0)
    text = replaced(
        SOLID,
        (SHAPE, "brick_mm = [130.0, 90.0, 40.0]"),
        ("headspace_mm = 5.0", "headspace_mm = 0.0"),
        ('entry = "lid"', 'entry = "side"'),
    )
    result, (sheet, form) = pages(text)
    depth = 1e3 * bench_of(result).depth
    for expected in (
        "through the short edge",
        f"{40 / 2 + TIN:.1f} mm above the lower face, in the middle of the short edge",
        f"{90 / 2 + TIN:.1f} mm from its ends",
        f"insertion depth {depth:.1f} mm",
        f"stick-out {PROBE - depth:.1f} mm, outer face of the short edge",
        f"outer length {130 + 2 * TIN:.1f}",
        f"end to hole {90 / 2 + TIN:.1f}",
        f"outside {90 + 2 * TIN:.1f}",
        "the short edge from outside",
        "tip from the middle",
        f"{depth - 130 / 2 - TIN:.1f} past the middle",
        "solved in three dimensions",
    ):
        assert expected in sheet, expected
    assert f"fill weight {1.04 * 13 * 9 * 4:.1f} g" in form
    # what it should read is the brick's own
    assert f"it should be {of_the_brick(result)}" in sheet
    assert "cylinder" not in sheet
    told = " ".join(" ".join(answer(result)).split())
    assert f"should read {LETHALITY.number(result.brick.least_lethality.lethality)}" in told
    # drawn as long as it is, and as deep as is recommended, whatever can be set
    assert section_of(result) == (130.0, round(1e3 * result.probe.depth, 1))


def section_of(result):
    """Width of the product that the section draws, and how far its probe reaches in [mm]."""
    figure = plot_section(result)
    ax = figure.axes[0]
    (words,) = [text.get_text() for text in ax.texts if "inner length" in text.get_text()]
    (insertion_,) = [text.get_text() for text in ax.texts if text.get_text().startswith("insertion")]
    return float(words.split()[2]), float(insertion_.split()[1])


@pytest.mark.long
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


@pytest.mark.long
def test_a_jar_with_a_gland_counts_from_the_lid_and_its_hole_from_the_glass():
    glass, floor = 3.0, 5.0
    result, (sheet, form) = pages(
        replaced(
            SOLID,
            ('side = { material = "tinplate", thickness_mm = 0.2 }',
             f'side = {{ material = "soda-lime glass", thickness_mm = {glass} }}'),
            ('base = { material = "tinplate", thickness_mm = 0.2 }',
             f'base = {{ material = "soda-lime glass", thickness_mm = {floor} }}'),
            ("hole_mm = 9", 'hole_mm = 9, thread = "M9"'),
        )
    )  # fmt: skip
    depth = 1e3 * bench_of(result).depth
    outside = floor + HIGH + TIN
    for expected in (
        "through the lid",
        f"on the axis, {WIDE / 2 + glass:.1f} mm from the outer edge",
        "drill ⌀ 9.0 mm",
        "M9",
        f"insertion depth {depth:.1f} mm",
        f"stick-out {PROBE - depth:.1f} mm, outer face of the lid to the probe's outer end",
        f"beyond the fitting {PROBE - depth - 8.0:.1f} mm of it, by calipers",
        f"Filled {HIGH - GAP:.1f} mm high above the inside of the base",
        f"outer diameter {WIDE + 2 * glass:.1f}",
    ):
        assert expected in sheet, expected
    # of the confirmation table, on the page with room for it: how far the tip stands above the outside of the base
    assert f"{depth:.1f} {PROBE - depth:.1f} {outside - depth:.1f}" in sheet + form
    assert f"stick-out {PROBE - depth:.1f} mm" in form


@pytest.mark.long
def test_a_flat_can_is_compared_from_the_lid_and_from_the_side():
    height, hole = 40.0, 20.2
    result, (sheet, _) = pages(
        replaced(
            SOLID,
            ("inner_height_mm = 105.0", f"inner_height_mm = {height}"),
            ('entry = "lid"', f'entry = "side"\nz_mm = {hole}'),
            ("[10.0, 85.0]", "[10.0, 89.0]"),
        )
    )
    depth = 1e3 * bench_of(result).depth
    coldest = height - GAP + TIN  # insulated above: at the product's surface
    for expected in (
        "through the side wall",
        f"{hole:.1f} mm above the outside of the base",
        f"{coldest - hole:.1f} mm below the cold spot's height",
        f"insertion depth {depth:.1f} mm",
        f"stick-out {PROBE - depth:.1f} mm, outer face of the side wall",
        f"outer diameter {WIDE + 2 * TIN:.1f}",
        f"{depth:.1f} {PROBE - depth:.1f} {depth - WIDE / 2 - TIN:.1f} past the axis",
    ):
        assert expected.replace("−", "-") in sheet.replace("−", "-"), expected
    entries = {one.probe.entry: one for one in result.advice.candidates}
    assert entries.keys() == {"lid", "base", "side"}
    # through the lid the way down to the same place is the can's height less the hole's, from the other face
    lid = 1e3 * entries["lid"].recommended("least lethality").depth
    assert 0 < lid < height + 2 * TIN


@pytest.mark.long
def test_a_logger_on_spacers_reaches_what_its_parts_add_up_to():
    spacer, body, tip = 20.0, 18.0, 9.0
    probe = SOLID[SOLID.index("[probe]") :]
    logger = f"""[probe]
entry = "base"
mount = "inside"
sensing_mm = 2.0
segments = [
    {{ diameter_mm = 8, length_mm = {spacer}, material = "PEEK", spacer = true }},
    {{ diameter_mm = 16, length_mm = {body}, material = "stainless steel" }},
    {{ diameter_mm = 2, length_mm = {tip}, material = "stainless steel" }},
]
"""
    stock = "stock = { probe_lengths_mm = [90.0], stick_out_mm = [10.0, 85.0] }"
    spacers = "stock = { spacers_mm = [5.0, 10.0, 20.0], most_spacers = 2 }"
    result, (sheet, _) = pages(replaced(SOLID, (probe, logger), (stock, spacers)))
    wanted = 1e3 * result.advice.own.recommended("least lethality").depth - TIN - body - tip
    reached = 2 * spacer + body + tip + TIN
    assert wanted > 2 * spacer
    for expected in (
        "no hole: stands on the inside of the base",
        f"whole stack {2 * spacer + body + tip:.1f} mm from its foot to the tip",
        f"spacers {spacer:.1f} + {spacer:.1f} mm (at hand)",
        f"{wanted:.1f} mm needed, {wanted - 2 * spacer:.1f} mm left",
        f"foot on the inside of the base, {TIN:.2f} mm from the datum",
        f"tip from the datum {reached:.1f} mm",
        f"OUT OF THE WINDOW: the hardware at hand reaches {reached:.1f} mm",
    ):
        assert expected in sheet, expected
    # every stack that confirms the place can be made of what is at hand
    for _, stack, above in re.findall(r"(\d+\.\d) (\d+\.0) (\d+\.\d) 7\d\.\d", sheet):
        assert float(stack) in {5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0}
        assert float(above) == float(stack) + body + tip + TIN


@pytest.mark.long
def test_a_tapered_cup_from_a_logger_with_gaps_and_repeats():
    rows = [(minute, 45.0 + min(5.0 * minute, 50.0)) for minute in range(61)] + [(m, 25.0) for m in range(61, 81)]
    lines = ["Program;cup 95", "", "Time;Water [°C];Door"]
    for minute, medium in rows:
        line = f"{(22 * 60 + 50 + minute) // 60 % 24:02d}:{(50 + minute) % 60:02d}:00;{medium:.1f};shut".replace(
            ".", ","
        )
        lines += [line, line] if minute == 20 else [line[:9] + ";;shut"] if minute == 30 else [line]
    rim, foot, high, wall, film = 75.0, 60.0, 70.0, 0.9, 0.08
    process = SOLID[SOLID.index("[process]") : SOLID.index("[probe]")]
    plain = 'material = "tinplate", thickness_mm = 0.2'
    text = replaced(
        SOLID,
        (process, '[process]\ncsv = "water.csv"\nfilm_W_m2K = 600.0\ncooling_starts_min = 60.5\n'
                  "cooling_film_W_m2K = 500.0\n"),
        (SHAPE, f"inner_diameter_mm = [{foot}, {rim}]\ninner_height_mm = {high}"),
        (f"side = {{ {plain}", f'side = {{ material = "polypropylene", thickness_mm = {wall}'),
        (f"base = {{ {plain}", f'base = {{ material = "polypropylene", thickness_mm = {wall}'),
        (f"lid = {{ {plain}", f'lid = {{ material = "polypropylene", thickness_mm = {film}'),
        ("reference_C = 121.1", "reference_C = 90.0"),
        ("initial_C = 60.0", "initial_C = 45.0"),
    )  # fmt: skip
    result, (sheet, form) = pages(text, attachments={"water.csv": "\n".join(lines) + "\n"})
    case = result.case
    # midnight is crossed, nothing is lost but the line without a value
    assert case.process.end == 80 * 60 and case.process.heated_until == 60.5 * 60
    assert case.process.medium_at(np.array([20.0 * 60, 30.0 * 60])).tolist() == [95.0, 95.0]
    depth = 1e3 * bench_of(result).depth
    # the wall is laid on square to its face, which leans by 7.5 in 70
    lean = math.hypot(high, (rim - foot) / 2) / high
    for expected in (
        f"on the axis, {rim / 2 + wall * lean:.1f} mm from the outer edge",
        f"insertion depth {depth:.1f} mm",
        f"stick-out {PROBE - depth:.1f} mm",
        f"{depth:.1f} {PROBE - depth:.1f} {wall + high + film - depth:.1f}",
    ):
        assert expected in sheet, expected
    slope = (rim - foot) / 2 / high
    filled = high - GAP
    volume = math.pi * ((foot / 2) ** 2 * filled + foot / 2 * slope * filled**2 + slope**2 * filled**3 / 3)
    assert f"fill weight {1.04e-3 * volume:.1f} g" in form
