"""Rung: hand-worked. What the reader makes of products, headspaces and surfaces that are said in words."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose
from small_case import changed

from thermsim import case_from_text
from thermsim.physics.films import films


def test_a_named_medium_gives_its_middle_film_and_its_range():
    case = case_from_text(changed(("to_C = 118\nfilm_W_m2K = 450", 'to_C = 118\nmedium = "water spray"')))
    film, known = case.process.stages[0].film, films()["water spray"]
    assert (film.side, film.low, film.high) == (known.middle, (known.low,) * 3, (known.high,) * 3)
    assert case.process.stages[1].film.low is None
    assert [note for note in case.notes if "water spray is taken as" in note]


def test_a_label_adds_its_resistance_to_the_films_of_its_wall():
    # 1/(1/450 + 0.001) = 310.34; the lid has none; 0.09 mm of paper of 0.18 W/mK are 0.0005
    for given, resistance in (("contact_m2K_W = 0.001", 0.001), ('label = "paper", label_mm = 0.09', 0.0005)):
        text = changed(("thickness_mm = 3.0 }", f"thickness_mm = 3.0, {given} }}"))
        film = case_from_text(text).process.stages[0].film
        assert_allclose([film.side, film.lid], [1 / (1 / 450 + resistance), 450.0], rtol=1e-12)


@pytest.mark.parametrize(
    ("thickness", "verdict"),
    [("water-like", "convection"), ("thin sauce", "convection"), ("gel/solid", "conduction")],
)
def test_a_product_that_flows_is_known_to(thickness, verdict):
    case = case_from_text(
        changed(('material = "dense paste"\n', f'material = "dense paste"\nthickness = "{thickness}"\n'))
    )
    assert case.product.flow.verdict == verdict


def test_a_composition_makes_a_product_whose_properties_change():
    mix = "{ water = 0.7, protein = 0.1, fat = 0.05, carbohydrate = 0.14, ash = 0.01 }"
    case = case_from_text(changed(('material = "dense paste"\n', f"composition = {mix}\n")))
    tabulated = case.product.material.tabulated
    assert tabulated.temperature[0] == 0.0
    assert tabulated.temperature[-1] == 150.0
    assert tabulated.conductivity[-1] > tabulated.conductivity[0]
    assert any("without a preferred direction" in note for note in case.notes)


def test_a_viscosity_is_in_pascal_seconds_and_of_a_table_the_temperatures_met_count():
    """The product begins at 40 degC under a medium of 30 to 118 degC; between its values a table is logarithmic."""
    for given, thinnest, thickest in (
        ("2.5", 2.5, 2.5),
        ("[[30.0, 16.0], [118.0, 1.0]]", 1.0, 16.0),
        ("[[0.0, 100.0], [30.0, 16.0], [118.0, 1.0], [150.0, 0.1]]", 1.0, 16.0),
    ):
        text = changed(('material = "dense paste"\n', f'material = "dense paste"\nviscosity_Pa_s = {given}\n'))
        viscosity = case_from_text(text).product.flow.viscosity
        assert_allclose([viscosity.thinnest, viscosity.thickest], [thinnest, thickest], rtol=1e-9)
