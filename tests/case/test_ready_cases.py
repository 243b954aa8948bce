import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import CASES

from thermsim import case_from_text, read_case
from thermsim.solve.grid.body import body_of


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_ready_case_is_read_and_says_that_it_is_invented(path):
    case = read_case(path)
    assert "invented" in case.text
    assert case.lethality.target > 0
    assert case.process.heated_until < case.process.end


def test_the_cups_record_passes_midnight_and_is_followed():
    case = read_case(CASES / "cup.toml")
    assert case.process.source == "cup_retort.csv"
    # the record runs from 22:47:12 to 00:37:12
    assert_allclose(case.process.end, 110 * 60, rtol=1e-12)
    assert_allclose(case.process.heated_until, 75 * 60, rtol=1e-12)
    assert [stage.name for stage in case.process.stages] == ["come-up", "hold", "cool"]
    # 22:47:12 reads 48,0 and 22:48:12 reads 50,0 in the file; followed within 0.02 K where nothing is said
    assert_allclose(case.process.medium_at(np.array([0.0, 60.0])), [48.0, 50.0], rtol=0, atol=0.02)


def test_the_cup_can_be_read_again_without_its_files():
    case = read_case(CASES / "cup.toml")
    again = case_from_text(case.text, name="cup.toml", attachments=case.attachments)
    assert again.notes == case.notes
    for stage, other in zip(again.process.stages, case.process.stages, strict=True):
        assert np.array_equal(stage.time, other.time)
        assert np.array_equal(stage.medium, other.medium)


def test_the_cans_probe_can_be_set_to_many_depths():
    case = read_case(CASES / "can_probe.toml")
    assert (case.probe.mount, case.probe.insertion) == ("through", None)
    assert [probe.name for probe in case.probes] == ["1.5 mm steel", "3 mm plastic sheath"]
    assert {probe.insertion for probe in case.probes} == {None}
    least, most = case.stock.travel
    # 0.2 mm of lid and 6 mm of headspace before the product, 115.9 + 0.2 mm to the base
    depths = [length - out for length in case.stock.lengths for out in (least, most)]
    assert_allclose([min(depths), max(depths)], [0.015, 0.105], rtol=1e-12)
    for probe in (case.probe, *case.probes):
        body = body_of(case.replace(probe=dataclasses.replace(probe, insertion=0.058)))
        # 0.2 + 115.9 + 0.2 mm less 58 mm
        assert np.abs(body.levels - 0.0583).min() < 1e-9
        assert body.probe.any()


def test_the_jars_logger_stands_in_the_middle():
    case = read_case(CASES / "jar_logger.toml")
    body = body_of(case)
    # 5 mm of base, then 20 mm of post, 22 mm of body and 10 mm of stem
    assert_allclose(case.probe.tip(case.container), 0.057, rtol=1e-12)
    for height in (0.025, 0.047, 0.057):
        assert np.abs(body.levels - height).min() < 1e-9
    assert case.probe.segments[0].spacer
    assert_allclose(case.stock.spacers, [0.005, 0.010, 0.020], rtol=1e-12)


def test_the_tapered_cup_is_filled_by_its_mass():
    case = read_case(CASES / "cup_tapered.toml")
    # the cone's point lies 280 mm below the base: 30 mm grow by 7.5 mm on 70 mm; 235 g of 1.06 g/ml
    point = 0.030 / 0.0075 * 0.070
    assert_allclose(case.container.volume, np.pi / 3 * (0.0375**2 * (point + 0.070) - 0.030**2 * point), rtol=1e-12)
    assert_allclose(case.product_volume, 235 / 1.06e6, rtol=1e-12)
    up = ((235 / 1.06e6 * 3 / np.pi + 0.030**2 * point) * point**2 / 0.030**2) ** (1 / 3)
    assert_allclose(case.fill_height, up - point, rtol=1e-10)  # a small difference
    assert case.container.lid.thickness < case.container.side.thickness


def test_the_shouldered_jar_has_its_surface_in_the_neck():
    case = read_case(CASES / "jar_shouldered.toml")
    assert_allclose(case.product_volume, 355e-6, rtol=1e-12)
    assert case.container.radius_at(case.surface) == 0.026
    assert case.container.side.course == (0.004, 0.003, 0.0035, 0.003)
    assert (case.container.rise.form, case.container.crown) == ("dome", 0.006)
    assert case.container.fold is None
    body = body_of(case)
    # the shoulder's roundings begin and end on levels: 6 mm tan(22.5 deg) before and after its corners
    cut = 0.006 * np.tan(np.pi / 8)
    for height in (0.005 + 0.084 - cut, 0.005 + 0.093 + cut):
        assert np.abs(body.levels - height).min() < 1e-9


def test_the_can_of_a_trade_size_says_what_it_took():
    case = read_case(CASES / "can_307x409.toml")
    assert_allclose(
        case.container.profile.corners[1], (4.5625 * 0.0254 - 0.008, 3.4375 * 0.0127 - 0.0015), rtol=1e-12
    )
    assert sum("common practice, no source" in note for note in case.notes) == 1
    assert any("gross headspace" in note for note in case.notes)
