"""What changes with temperature, what media leave open, and whether the map holds, in every kind of record.

Rung: hand-worked; what is read back is what was saved.
"""

import dataclasses
import json

import h5py
import pytest
from numpy.testing import assert_allclose
from small_cans import PASTE, small_can

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.physics.composition import Composition
from thermsim.physics.convection import find_thickness, flow_of
from thermsim.physics.gap import GasGap, gap_parts
from thermsim.physics.mixing import material_of
from thermsim.records.files.results import load_result, save_result
from thermsim.records.numbers.summary import summary
from thermsim.records.report.page import report_html
from thermsim.records.words.answer import answer

MIX = Composition(water=0.7, protein=0.1, carbohydrate=0.2)
GAP = GasGap("humid", 0.008, 0.9, 0.8, sealed_at=60.0)
USUAL = Film(800.0, 800.0, 800.0, None, (300.0,) * 3, (2000.0,) * 3)


def stewed(thickness):
    """The paste with a verdict on whether it convects."""
    flow = flow_of(PASTE, find_thickness(thickness), radius=0.026, depth=0.062, initial=40.0, medium=121.1)
    return Product(PASTE, 40.0, flow=flow)


@pytest.fixture(scope="module")
def varied():
    """A product by its composition under moist gas, films by a medium's name, a target that the worse end misses."""
    product = Product(material_of(MIX, low=0.0, high=150.0, reference=40.0), 40.0, MIX)
    stages = (
        Stage("hold", [0.0, 2400.0], [121.1, 121.1], USUAL),
        Stage("cool", [2400.0, 3600.0], [25.0, 25.0], USUAL),
    )
    case = small_can(
        product=product,
        fill_height=0.062,
        headspace=Headspace.of_gas(GAP, (25.0, 121.1)),
        process=Process(stages),
    )
    found = simulate(case)
    target = (found.input_range.low[0].lethality + found.cold_spot.least_lethality.lethality) / 2
    return simulate(case.replace(lethality=dataclasses.replace(case.lethality, target=target)))


@pytest.fixture(scope="module")
def page(varied):
    return report_html(varied, {}, program="thermsim", when="now", case_name="can.toml")


def test_result_comes_back_from_its_file_with_composition_courses_and_gap(varied, tmp_path):
    save_result(varied, tmp_path / "can.h5")
    back = load_result(tmp_path / "can.h5")
    assert back.case.product == varied.case.product
    assert back.case.headspace == varied.case.headspace
    assert back.case.process.stages[0].film == USUAL
    assert back.input_range == varied.input_range
    assert answer(back, full=True) == answer(varied, full=True)


@pytest.mark.long
def test_results_file_shows_other_programs_what_changes(varied, tmp_path):
    save_result(varied, tmp_path / "can.h5")
    number = varied.grid.materials.index(varied.case.headspace.material)
    tabulated = varied.case.headspace.material.tabulated
    with h5py.File(tmp_path / "can.h5") as file:
        data = file[f"material_{number}_downwards_over_temperature"]
        assert data.attrs["units"] == "W m-1 K-1"
        assert tuple(data[()]) == tabulated.downwards
        assert tuple(data.dims[0][0][()]) == tabulated.temperature
        constant = varied.grid.materials.index(varied.case.container.side.material)
        assert f"material_{constant}_temperature" not in file


def test_json_tells_the_headspaces_parts_and_their_sum(varied):
    found = summary(varied)
    rows = found["headspace"]["effective_conductivity"]
    assert [row["temperature_C"] for row in rows] == [25.0, 40.0, 60.0, 80.0, 100.0, 120.0, 121.1]
    row, parts = rows[3], gap_parts(GAP, 80.0)
    assert row["vapour_W_mK"] == float(parts.vapour)
    # straight lines between the tabulated temperatures are within a thousandth of the curve
    assert_allclose(row["upwards_W_mK"], row["gas_W_mK"] + row["radiation_W_mK"] + row["vapour_W_mK"], rtol=1e-3)
    assert_allclose(row["downwards_W_mK"], row["gas_W_mK"] + row["radiation_W_mK"], rtol=1e-3)
    assert found["headspace"]["sealed_at_C"] == 60.0
    assert found["product"]["composition"]["water"] == 0.7
    assert (
        found["product"]["properties"][0]["conductivity_W_mK"]
        < found["product"]["properties"][-1]["conductivity_W_mK"]
    )


def test_report_gives_ranges_of_what_changes_and_one_number_of_what_does_not(varied, page):
    tabulated = varied.case.product.material.tabulated
    assert f"<td>{tabulated.conductivity[10]:.3g} to " in page  # 25 degC is the eleventh of those 2.5 K apart
    assert "<td>50</td>" in page
    assert "<h3>What the headspace conducts</h3>" in page
    assert "<td>800 (300 to 2000)</td>" in page


def test_input_range_stands_apart_and_warns_of_a_target_that_the_worse_end_misses(varied, page):
    text = " ".join(" ".join(answer(varied, full=True)).split())
    low, high = varied.input_range.low[0], varied.input_range.high[0]
    ends = f"{low.lethality / 60:.3g} to {high.lethality / 60:.3g} min"
    assert f"Input range films low to high: F0 = {ends} at r = 0.0 mm, z = {1e3 * low.z:.1f}" in text
    assert "DANGER NOT SAFE YET: with the heat-transfer coefficients at the worse end" in text
    assert page.index("NOT SAFE YET") < page.index("Before you act on it")


def test_given_films_and_constant_properties_add_nothing():
    result = simulate(small_can())
    assert "Input range" not in " ".join(answer(result, full=True))
    assert summary(result)["headspace"] is None
    assert summary(result)["product"]["changes_with_temperature"] is False
    assert summary(result)["product_flow"] is None


@pytest.mark.parametrize(
    ("thickness", "said", "holds"),
    [
        ("water-like", "DOES NOT HOLD: The product convects", False),
        ("thick sauce", "MAY NOT HOLD: The product may convect", None),
    ],
)
def test_that_the_map_does_not_hold_is_said_before_any_number(thickness, said, holds):
    result = simulate(small_can(product=stewed(thickness)))
    lines = answer(result, full=True)
    assert lines[0].startswith(f"DANGER          {said}")
    assert sum(said in line for line in lines) == 1
    found = summary(result)
    assert list(found).index("product_flow") < list(found).index("container")
    assert found["product_flow"]["map_holds"] is holds
    # 10 to 15 % of the 70 mm of product
    assert_allclose(found["product_flow"]["cold_band_above_base_mm"], [7.0, 10.5], rtol=1e-12)
    page = report_html(result, {}, program="thermsim", when="now", case_name="can.toml")
    assert page.count(said) == 1
    assert page.index(said) < page.index("The answer")
    json.dumps(found, allow_nan=False)


def test_a_solid_is_told_as_a_number_less_record():
    found = summary(simulate(small_can(product=stewed("gel/solid"))))["product_flow"]
    assert (found["verdict"], found["map_holds"]) == ("conduction", True)
    assert found["viscosity_Pa_s"] == [None, None]
    assert found["cold_band_above_base_mm"] is None
