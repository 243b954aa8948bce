"""Rung: round trip. Products by composition, headspaces of gas and ranges of films come back as they were."""

from __future__ import annotations

import pytest
from places import CASES
from small_jars import ROUGH

from thermsim import read_case
from thermsim.assess.simulate.simulation import simulate
from thermsim.physics.materials import Material, Tabulated
from thermsim.records.files.codec import decode, encode
from thermsim.records.files.results import load_result, save_result


@pytest.mark.long
def test_a_product_by_composition_under_a_moist_gas_comes_back_as_it_was(tmp_path):
    result = simulate(read_case(CASES / "jar_composition.toml").replace(accuracy=ROUGH))
    save_result(result, tmp_path / "jar.h5")
    again = load_result(tmp_path / "jar.h5")
    assert again.case.product == result.case.product
    assert again.case.headspace == result.case.headspace
    assert again.case.process.stages[0].film == result.case.process.stages[0].film
    assert again.input_range == result.input_range
    assert again.case.container == result.case.container


def test_a_material_of_an_earlier_version_is_read_under_its_old_name():
    material = Material("paste", 0.5, 1000.0, 3700.0, "s", Tabulated((0.0, 100.0), (0.4, 0.6), (3.6e6, 3.8e6)))
    tree = encode(material, lambda trail, value: None)
    tree["courses"] = tree.pop("tabulated")
    assert decode(Material, tree, lambda name: name) == material
    with pytest.raises(ValueError, match=r"part curses is not known"):
        decode(Material, {**tree, "curses": None}, lambda name: name)
