import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_case import SMALL, changed

from thermsim import Accuracy, Film, case_from_text, find_material, read_case

ROUNDING = {"rtol": 1e-12, "atol": 0}  # millimetres to metres and one or two products


def test_lengths_and_times_come_out_in_si_units():
    case = case_from_text(SMALL)
    assert_allclose(case.container.profile.corners, [(0.0, 0.033), (0.113, 0.033)], **ROUNDING)
    assert_allclose(case.container.inner_height, 0.113, **ROUNDING)
    assert_allclose(case.container.side.thickness, 0.003, **ROUNDING)
    assert_allclose(case.container.lid.thickness, 0.00025, **ROUNDING)
    assert_allclose(case.headspace_height, 0.012, rtol=1e-12)
    assert_allclose(case.process.end, 107 * 60, **ROUNDING)
    assert_allclose(case.points[0].z, 0.059, **ROUNDING)
    assert case.points[0].name == "mid-height"
    assert case.title == "Small"
    assert case.text == SMALL
    assert case.file == "case.toml"


def test_walls_and_product_have_the_materials_named():
    case = case_from_text(SMALL)
    assert case.container.base.material == find_material("soda-lime glass")
    assert case.container.lid.material == find_material("tinplate")
    paste = case.product.material
    assert (paste.conductivity, paste.density, paste.specific_heat) == (0.55, 1050.0, 3700.0)
    assert paste.source == "given in case.toml"


def test_defaults_of_the_numerics_are_those_of_the_dataclasses():
    case = case_from_text(SMALL)
    assert_allclose(
        [case.accuracy.temperature, case.accuracy.lethality, case.accuracy.place],
        [Accuracy().temperature, Accuracy().lethality, Accuracy().place],
        **ROUNDING,
    )
    assert_allclose(case.lethality.zone, 0.1, **ROUNDING)
    assert case.lethality.target is None


def test_lethality_and_accuracy_are_read():
    text = changed(("z_C = 10.0", "z_C = 9\ntarget_min = 6\nzone_percent = 25\nreach_C = [100, 115.5]"))
    case = case_from_text(text + "\n[accuracy]\ntemperature_K = 0.2\nlethality_percent = 3\nplace_mm = 1\n")
    assert (case.lethality.reference, case.lethality.z, case.lethality.target) == (121.1, 9.0, 360.0)
    assert (case.lethality.zone, case.lethality.reach) == (0.25, (100.0, 115.5))
    assert (case.accuracy.temperature, case.accuracy.lethality, case.accuracy.place) == (0.2, 0.03, 0.001)


@pytest.mark.parametrize(
    ("fill", "height_mm"),
    [
        ("headspace_mm = 12", 101.0),
        ("headspace_mm = 0", 113.0),
        ("height_mm = 50.5", 50.5),
        ("fraction = 0.5", 56.5),
        ("fraction = 1", 113.0),
        # 100 g of 1.05 g/ml in a cylinder of 33 mm radius: 100/1.05/(pi 3.3^2) cm
        ("mass_g = 100", 1000 / 1.05 / (math.pi * 3.3**2)),
        ("volume_ml = 100", 1000 / (math.pi * 3.3**2)),
    ],
)
def test_every_way_of_giving_the_fill_gives_the_height(fill, height_mm):
    case = case_from_text(changed(("headspace_mm = 12.0", fill), ("z_mm = 59.0", "z_mm = 9")))
    assert_allclose(case.fill_height, height_mm / 1000, **ROUNDING)


def test_a_container_filled_to_the_lid_needs_no_headspace():
    text = changed(("headspace_mm = 12.0", "headspace_mm = 0"), ('[headspace]\nmodel = "insulated"\n', ""))
    case = case_from_text(text)
    assert case.headspace_height == 0.0
    assert case.headspace.material is None


def test_a_fixed_headspace_names_its_material():
    case = case_from_text(changed(('model = "insulated"', 'model = "fixed"\nmaterial = "air, dry"')))
    assert case.headspace.model == "fixed"
    assert case.headspace.material == find_material("air, dry")
    assert any("0.0316 W/mK" in note for note in case.notes)


def test_films_may_differ_between_the_surfaces_and_be_infinite():
    stages = case_from_text(SMALL).process.stages
    assert stages[0].film == Film.everywhere(450.0)
    assert stages[1].film == Film(side=450.0, base=60.0, lid=math.inf)


def test_a_wall_left_out_is_no_wall_and_is_noted():
    case = case_from_text(changed(('base = { material = "soda-lime glass", thickness_mm = 5.0 }\n', "")))
    assert case.container.base is None
    assert case.container.floor == 0.0
    assert "No base wall is given: what is behind it meets the medium." in case.notes


def test_walls_start_at_the_products_temperature_unless_told_otherwise():
    case = case_from_text(SMALL)
    assert case.container.initial is None
    assert "The walls start at the product's temperature, 40 degC." in case.notes
    case = case_from_text(changed(("[container]", "[container]\ninitial_C = 20")))
    assert case.container.initial == 20.0
    assert not any("walls start" in note for note in case.notes)


def test_an_own_material_stands_in_for_the_librarys_with_a_note():
    own = '[materials."tinplate"]\nconductivity_W_mK = 60\ndensity_kg_m3 = 7800\nspecific_heat_J_kgK = 450\n'
    case = case_from_text(SMALL + own)
    assert case.container.lid.material.conductivity == 60.0
    assert "Material \"tinplate\" is the case's own and stands in for the library's." in case.notes


def test_a_material_that_is_not_used_is_noted():
    own = '[materials."spare"]\nconductivity_W_mK = 60\ndensity_kg_m3 = 7800\nspecific_heat_J_kgK = 450\n'
    assert 'Material "spare" is described but not used.' in case_from_text(SMALL + own).notes


def test_a_temperature_to_reach_above_the_medium_is_noted():
    case = case_from_text(changed(("z_C = 10.0", "z_C = 10\nreach_C = [117, 119]")))
    assert [note for note in case.notes if "reach_C" in note] == [
        "reach_C 119 degC is never reached: the medium gets no hotter than 118 degC."
    ]


def test_stages_follow_one_another_along_straight_lines():
    process = case_from_text(SMALL).process
    assert [stage.name for stage in process.stages] == ["come-up", "hold", "cool"]
    assert_allclose(process.medium_at(np.array([0, 6, 12, 50, 87, 97, 107]) * 60.0), [40, 79, 118, 118, 118, 74, 30])
    assert_allclose(process.heated_until, 87 * 60, **ROUNDING)


def test_a_stage_of_no_minutes_is_a_jump():
    jump = (
        '[[process.stage]]\nname = "cool"\nminutes = 0\nto_C = 25\n\n[[process.stage]]\nname = "cool"\nminutes = 20\n'
    )
    process = case_from_text(changed(('[[process.stage]]\nname = "cool"\nminutes = 20\nto_C = 30\n', jump))).process
    assert len(process.stages) == 3
    assert process.stages[1].medium.tolist() == [118.0, 118.0]
    assert process.stages[2].medium.tolist() == [25.0, 25.0]
    assert process.stages[2].start == process.stages[1].end


def test_a_jump_at_the_very_start_sets_where_the_first_stage_begins():
    text = changed(
        ("[[process.stage]]\n", '[[process.stage]]\nname = "come-up"\nminutes = 0\nto_C = 110\n\n[[process.stage]]\n')
    )
    assert case_from_text(text).process.stages[0].medium.tolist() == [110.0, 118.0]


def test_one_film_may_stand_for_all_stages():
    text = changed(("start_C = 40.0", "start_C = 40.0\nfilm_W_m2K = 77"), ("film_W_m2K = 300\n", ""))
    stages = case_from_text(text).process.stages
    assert [stage.film.side for stage in stages] == [450.0, 450.0, 77.0]


def test_a_process_without_cooling_ends_when_heating_does():
    start = SMALL.index('[[process.stage]]\nname = "cool"')
    case = case_from_text(SMALL[:start] + SMALL[SMALL.index("[lethality]") :])
    assert case.process.heated_until == case.process.end


def test_a_file_with_a_byte_order_mark_reads_like_one_without(tmp_path):
    path = tmp_path / "jar.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert read_case(path).title == "Small"
    assert read_case(path).file == "jar.toml"


def test_a_case_can_be_read_again_from_its_own_text():
    case = case_from_text(SMALL)
    assert case_from_text(case.text, attachments=case.attachments).notes == case.notes


def test_output_step_is_a_number_of_minutes_or_left_to_the_program():
    assert case_from_text(SMALL).output_every is None
    case = case_from_text(changed(("[lethality]", "[output]\nevery_min = 0.5\n\n[lethality]")))
    assert_allclose(case.output_every, 30.0, **ROUNDING)
