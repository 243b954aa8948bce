import math
import tomllib
from pathlib import Path

import pytest
from numpy.testing import assert_allclose
from small_case import LOGGER, SECOND, SMALL, STEM, changed, faults_of

from thermsim import case_from_text, find_material
from thermsim.solve.grid.body import body_of

ROUNDING = {"rtol": 1e-12, "atol": 0}  # millimetres to metres and one or two sums
REFUSALS = tomllib.loads(Path(__file__).with_name("refused_probes.toml").read_text("utf-8"))["refusal"]
WITH = {"stem": SMALL + STEM, "logger": SMALL + LOGGER, "second": SMALL + STEM + SECOND}


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal["fault"][9:60])
def test_one_fault_of_a_probe_gives_one_clear_line(refusal):
    # the piece is looked for behind the small case, which has words in common with the probe
    text = WITH[refusal["with"]].removeprefix(SMALL)
    changes = [(refusal["old"], refusal["new"]), *([refusal["replace"]] if "replace" in refusal else [])]
    assert faults_of(SMALL + changed(*changes, text=text)) == [refusal["fault"]]


def test_a_case_without_a_probe_has_none():
    case = case_from_text(SMALL)
    assert (case.probe, case.stock, case.probes) == (None, None, ())


def test_a_stem_through_the_lid_is_read_in_si_units():
    case = case_from_text(SMALL + STEM)
    probe = case.probe
    assert (probe.entry, probe.mount, probe.name) == ("lid", "through", "probe")
    (segment,) = probe.segments
    assert_allclose(
        [segment.diameter, segment.length, probe.insertion, probe.sensing, *case.stock.lengths, *case.stock.travel],
        [0.003, 0.094, 0.054, 0.002, 0.060, 0.094, 0.015, 0.045],
        **ROUNDING,
    )
    assert (segment.wall, segment.core, segment.spacer) == (None, None, False)
    fitting = probe.fitting
    assert_allclose([fitting.diameter, fitting.inside, fitting.outside], [0.012, 0.004, 0.010], **ROUNDING)
    assert (segment.material, fitting.material) == (find_material("stainless steel"), find_material("PEEK"))
    # 118.25 mm of outer height less 54 mm
    assert_allclose(probe.tip(case.container), 0.06425, **ROUNDING)


def test_a_logger_on_its_spacer_has_its_tip_where_the_lengths_add_up():
    case = case_from_text(SMALL + LOGGER)
    assert (case.probe.entry, case.probe.mount, case.probe.insertion) == ("base", "inside", None)
    assert [segment.spacer for segment in case.probe.segments] == [True, False, False]
    # 5 mm of base, 20 + 22 + 10 mm
    assert_allclose(case.probe.tip(case.container), 0.057, **ROUNDING)
    assert_allclose(case.stock.spacers, [0.005, 0.010, 0.020], **ROUNDING)
    assert (case.stock.most_spacers, case.stock.travel) == (2, None)


def test_the_stock_allows_three_spacers_unless_told_otherwise():
    assert case_from_text(SMALL + changed(("most_spacers = 2", ""), text=LOGGER)).stock.most_spacers == 3


def test_a_tube_has_a_wall_and_a_core():
    case = case_from_text(SMALL + STEM + SECOND)
    assert [probe.name for probe in (case.probe, *case.probes)] == ["probe", "second"]
    (segment,) = case.probes[0].segments
    assert_allclose(segment.wall, 0.0005, **ROUNDING)
    assert (segment.material, segment.core) == (find_material("PEEK"), find_material("copper"))
    assert (case.probes[0].insertion, case.probes[0].sensing) == (None, 0.0)


def test_gap_film_and_temperature_of_a_probe_are_read():
    more = 'sensing_mm = 2.0\ngap = { thickness_mm = 0.1, material = "water" }\nfilm_W_m2K = inf\ninitial_C = 20\n'
    probe = case_from_text(SMALL + changed(("sensing_mm = 2.0", more), text=STEM)).probe
    assert_allclose(probe.gap.thickness, 0.0001, **ROUNDING)
    assert (probe.gap.material, probe.film, probe.initial) == (find_material("water"), math.inf, 20.0)


def test_what_a_probe_takes_from_elsewhere_is_noted():
    start = 'Probe "probe" starts at the product\'s temperature, 40 degC.'
    film = 'Probe "probe" takes the heat-transfer coefficient of the wall entered for the parts outside.'
    notes = case_from_text(SMALL + STEM).notes
    assert start in notes
    assert film in notes
    given = changed(("sensing_mm = 2.0", "sensing_mm = 2.0\nfilm_W_m2K = 30\ninitial_C = 20"), text=STEM)
    notes = case_from_text(SMALL + given).notes
    assert not any("Probe" in note for note in notes)
    notes = case_from_text(SMALL + STEM + SECOND).notes
    assert 'Probes "probe", "second" start at the product\'s temperature, 40 degC.' in notes


def test_a_logger_inside_takes_no_film():
    notes = case_from_text(SMALL + LOGGER).notes
    assert [note for note in notes if "Probe" in note] == [
        'Probe "logger" starts at the product\'s temperature, 40 degC.'
    ]


def test_films_of_a_stage_may_name_the_probe():
    text = changed(("lid = inf }", "lid = inf, probe = 80 }"))
    case = case_from_text(text + STEM)
    assert [stage.film.probe for stage in case.process.stages] == [None, 80.0, None]
    facing = case.process.facing("lid", case.probe.film)
    assert [stage.film.probe for stage in facing.stages] == [450.0, 80.0, 300.0]
    unused = "The heat-transfer coefficient of the probe is not used: no part of a probe is outside the container."
    assert unused in case_from_text(text).notes
    assert unused in case_from_text(text + LOGGER).notes
    assert unused not in case.notes


def test_no_film_is_assumed_where_every_stage_names_the_probes():
    text = changed(
        ("film_W_m2K = 450\n", "film_W_m2K = { side = 450, base = 450, lid = 450, probe = 9 }\n"),
        ("lid = inf }", "lid = inf, probe = 9 }"),
        ("film_W_m2K = 300\n", "film_W_m2K = { side = 300, base = 300, lid = 300, probe = 9 }\n"),
    )
    assert not any("wall entered" in note for note in case_from_text(text + STEM).notes)


def test_a_thicker_part_nearer_the_tip_is_noted_where_it_has_to_pass_a_hole():
    stepped = (
        'segments = [{ diameter_mm = 3.0, length_mm = 94.0, material = "stainless steel" }, '
        '{ diameter_mm = 5.0, length_mm = 6.0, material = "stainless steel" }]'
    )
    old = 'segments = [{ diameter_mm = 3.0, length_mm = 94.0, material = "stainless steel" }]'
    note = (
        'Probe "probe": a thicker part nearer the tip cannot pass the wall\'s hole: make sure that it can be mounted.'
    )
    assert note in case_from_text(SMALL + changed((old, stepped), text=STEM)).notes
    assert note not in case_from_text(SMALL + STEM).notes
    assert not any("thicker" in text for text in case_from_text(SMALL + LOGGER).notes)


@pytest.mark.parametrize(
    ("entry", "insertion"),
    [
        ("lid", 12.3),  # just below the product's surface, 12.25 mm from the lid's outer face
        ("lid", 113.25),  # on the inside of the base
        ("base", 5.1),
        ("base", 106),  # at the product's surface
    ],
)
def test_every_depth_within_the_product_is_allowed(entry, insertion):
    text = changed(
        ('entry = "lid"', f'entry = "{entry}"'),
        ("insertion_mm = 54.0", f"insertion_mm = {insertion}"),
        ("length_mm = 94.0", "length_mm = 150"),
        ("inside_mm = 4.0", "inside_mm = 0"),
        text=STEM,
    )
    case = case_from_text(SMALL + text)
    assert_allclose(case.probe.insertion, insertion / 1000, **ROUNDING)
    assert body_of(case).probe.any()


def test_a_probe_may_pass_where_there_is_no_wall():
    text = changed(('lid = { material = "tinplate", thickness_mm = 0.25 }\n', ""))
    case = case_from_text(text + STEM)
    # 118 mm of outer height less 54 mm
    assert_allclose(case.probe.tip(case.container), 0.064, **ROUNDING)


def test_a_thick_head_outside_does_not_have_to_pass_the_fitting():
    head = (
        'segments = [{ diameter_mm = 30.0, length_mm = 30.0, material = "PEEK" }, '
        '{ diameter_mm = 3.0, length_mm = 64.0, material = "stainless steel" }]'
    )
    old = 'segments = [{ diameter_mm = 3.0, length_mm = 94.0, material = "stainless steel" }]'
    # 64 mm of stem: with 54 mm of it inside, the head begins where the fitting of 10 mm ends
    assert case_from_text(SMALL + changed((old, head), text=STEM)).probe.insertion == 0.054
    deeper = changed((old, head), ("insertion_mm = 54.0", "insertion_mm = 55"), text=STEM)
    assert faults_of(SMALL + deeper) == [
        "jar.toml [probe] fitting: diameter_mm = 12.0 must be more than that of the stem in it, 30 mm"
    ]


def test_probes_and_stock_need_a_first_probe():
    assert faults_of(SMALL + SECOND) == [
        "jar.toml: [[probes]] are further ones to compare with [probe], which is missing; make the first one [probe]"
    ]
    assert faults_of(SMALL + "[stock]\nprobe_lengths_mm = [60]\n") == [
        "jar.toml [stock]: without a [probe] it has no meaning; describe the probe, or leave [stock] out"
    ]


def test_faults_of_probe_and_stock_come_with_all_others():
    text = changed(("minutes = 12", "minutes = -12")) + changed(
        ("insertion_mm = 54.0", "insertion_mm = 2"),
        ("diameter_mm = 3.0", "diameter_mm = 70"),
        ("inside_mm = 4.0", "inside_mm = 200"),
        ("sensing_mm = 2.0", "sensing_mm = 99"),
        ("[15, 45]", "[45, 15]"),
        text=STEM,
    )
    places = [
        "jar.toml [[process.stage]] no. 1: minutes",
        "jar.toml [probe]: insertion_mm",
        "jar.toml [probe] segments no. 1: diameter_mm",
        "jar.toml [probe] fitting: diameter_mm",
        "jar.toml [probe] fitting: inside_mm",
        "jar.toml [probe]: sensing_mm",
        "jar.toml [stock]: stick_out_mm",
    ]
    found = faults_of(text)
    assert len(found) == len(places)
    assert all(fault.startswith(place) for fault, place in zip(found, places, strict=True))


def test_a_container_or_fill_at_fault_sets_off_no_fault_of_the_probe():
    for change in (("inner_diameter_mm = 66.0", ""), ("inner_height_mm = 113.0", ""), ("headspace_mm = 12.0", "")):
        for probe in (STEM, LOGGER):
            assert not any("[probe]" in fault for fault in faults_of(changed(change) + probe))
