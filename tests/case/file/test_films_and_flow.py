"""Rung: hand-worked. Films by the medium's name, labels, and whether a product convects."""

from __future__ import annotations

import math

import pytest
from numpy.testing import assert_allclose

from thermsim.errors import InputError
from thermsim.physics.convection import (
    CONDUCTS,
    CONVECTS,
    constant_viscosity,
    find_thickness,
    flow_notices,
    flow_of,
    rayleigh_number,
    viscosity_from_table,
)
from thermsim.physics.films import behind, film_remark, films, find_film
from thermsim.physics.materials import Material

PASTE = Material("paste", 0.5, 1000.0, 4000.0)
JAR = {"radius": 0.033, "depth": 0.1, "initial": 40.0, "medium": 120.0, "expansion": 5e-4}


def test_every_medium_has_a_range_round_its_middle_and_a_source():
    for film in films().values():
        assert 0.0 < film.low < film.middle < film.high
        assert film.source
        assert f"{film.middle:g}" in film_remark(film)


def test_a_misspelt_medium_is_told_the_nearest():
    with pytest.raises(InputError, match='did you mean "condensing steam"'):
        find_film("condensin steam")


def test_a_label_adds_its_resistance():
    # 1/(1/500 + 0.002) = 250; a surface at the medium's temperature is left with the label alone
    assert_allclose(
        [behind(500.0, 0.002), behind(math.inf, 0.002), behind(500.0, 0.0)], [250.0, 500.0, 500.0], rtol=1e-12
    )


def test_the_rayleigh_number_is_buoyancy_over_viscosity_and_diffusivity():
    # g 5e-4 80 0.033^3/(1e-3 1.25e-7), worked by hand: 1.127e5
    expected = 9.80665 * 5e-4 * 80.0 * 0.033**3 / (1e-3 * 1.25e-7)
    found = rayleigh_number(5e-4 * 80.0, 0.033, viscosity=1e-3, diffusivity=1.25e-7)
    assert_allclose(found, expected, rtol=1e-12)
    flow = flow_of(PASTE, constant_viscosity(1.0), **JAR)
    assert_allclose(flow.rayleigh, (expected, expected), rtol=1e-12)


@pytest.mark.parametrize(
    ("viscosity", "verdict"), [(1e-3, "convection"), (1.0, "convection"), (1e2, "in between"), (1e5, "conduction")]
)
def test_the_verdict_goes_by_the_rayleigh_number(viscosity, verdict):
    flow = flow_of(PASTE, constant_viscosity(viscosity), **JAR)
    assert flow.verdict == verdict
    assert (flow.rayleigh[0] <= CONDUCTS) == (verdict == "conduction")
    assert (flow.rayleigh[0] >= CONVECTS) == (verdict == "convection")


def test_a_product_that_convects_is_told_where_the_trade_looks_for_its_cold_spot():
    said = flow_notices(flow_of(PASTE, find_thickness("water-like"), **JAR), depth=0.1)[0].text
    assert "does not hold" in said
    assert "1/2 to 2 inch" in said
    assert "common practice, no source" in said


def test_a_viscosity_over_temperature_must_cover_what_is_met():
    assert_allclose(viscosity_from_table([20.0, 120.0], [4.0, 1.0], low=70.0, high=120.0).thickest, 2.0, rtol=1e-12)
    with pytest.raises(InputError, match="given from 20 to 100 degC"):
        viscosity_from_table([20.0, 100.0], [4.0, 1.0], low=20.0, high=120.0)
