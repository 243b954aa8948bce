"""Rung: hand-worked. Films of named media, behind a label, and of free convection in air."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from thermsim.errors import InputError
from thermsim.physics.films import (
    Fluid,
    air,
    air_film,
    behind,
    film_remark,
    films,
    find_film,
    free_film,
    radiated,
    resistance_of,
)


def test_every_medium_is_a_range_with_a_source():
    for name, film in films().items():
        assert 0.0 < film.low < film.middle < film.high, name
        assert len(film.source) > 30, name


def test_middles_said_to_be_geometric_means_are():
    named = [film for film in films().values() if "geometric mean" in film.source]
    assert len({film.name for film in named}) == 6
    for film in named:
        # rounded to one or two digits
        assert_allclose(film.middle, math.sqrt(film.low * film.high), rtol=0.04, err_msg=film.name)


def test_a_medium_is_found_by_its_other_name():
    assert find_film("steam") is find_film("condensing steam")
    assert find_film("water immersion") is find_film("water immersion, circulated")


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ("stem", 'medium "stem" is unknown; did you mean "steam"?'),
        ("Water Spray", 'medium "Water Spray" is unknown; did you mean "water spray"'),
        ("oven", 'medium "oven" is unknown; known are "condensing steam" or "steam-air mixture" or'),
    ],
)
def test_an_unknown_medium_offers_the_nearest(wrong, message):
    with pytest.raises(InputError) as caught:
        find_film(wrong)
    assert str(caught.value).startswith(message)


def test_a_remark_tells_the_range_and_its_source():
    said = film_remark(find_film("steam"))
    assert "is taken as 5000 W/m2K; it may be 400 to 12000 W/m2K. It was not measured" in said
    assert "no source" in film_remark(find_film("water spray"))


def test_a_label_is_a_resistance_in_series():
    # 0.1 mm of 0.1 W/mK: 1e-3 m2K/W; with 1/1000 of the medium twice as much
    resistance = resistance_of(1e-4, 0.1)
    assert_allclose(resistance, 1e-3, rtol=1e-15)
    assert_allclose(behind(1000.0, resistance), 500.0, rtol=1e-15)
    # a surface held at the medium's temperature is held at the label's outside
    assert_allclose(behind(math.inf, resistance), 1000.0, rtol=1e-15)
    assert behind(math.inf, 0.0) == math.inf
    assert behind(0.0, resistance) == 0.0  # no film: no heat, label or not


@given(st.floats(1.0, 1e5), st.floats(0.0, 0.1), st.floats(1e-6, 0.1))
def test_more_resistance_never_lets_more_heat_pass(film, resistance, more):
    assert behind(film, resistance + more) < behind(film, resistance) <= film


def test_the_plates_film_is_that_of_churchill_and_chu_by_hand():
    # Pr = 0.492: the bracket is 2^(8/27) = 1.22799; Ra = 1e6: Ra^(1/6) = 10; (0.825 + 3.87/1.22799)^2 = 15.8125
    fluid = Fluid(conductivity=0.03, viscosity=0.492e-5, diffusivity=1e-5, expansion=1e6 * 4.92e-11 / 9.80665)
    found = free_film(fluid, 1.0, size=1.0, facing="side")
    assert_allclose(found.rayleigh, 1e6, rtol=1e-12)
    assert_allclose(found.nusselt, (0.825 + 3.87 / 2 ** (8 / 27)) ** 2, rtol=1e-12)
    assert_allclose(found.nusselt, 15.8125, rtol=1e-5)
    assert_allclose(found.film, 0.03 * found.nusselt, rtol=1e-15)
    assert found.within


def test_level_discs_count_a_quarter_of_their_diameter():
    # Ra on 1 m: 1e6, 0.54 x 10^1.5 = 17.0763; hindered 0.27 x 10^1.5
    fluid = Fluid(conductivity=0.03, viscosity=1e-5, diffusivity=1e-5, expansion=1e6 * 1e-10 / 9.80665)
    up = free_film(fluid, 1.0, size=4.0, facing="up")
    assert_allclose(up.film, 0.03 * 17.0763, rtol=1e-5)
    assert_allclose(free_film(fluid, 1.0, size=4.0, facing="down").film, up.film / 2, rtol=1e-12)
    # a cold disc that faces down sheds its fluid as a hot one that faces up does
    assert_allclose(free_film(fluid, -1.0, size=4.0, facing="down").film, up.film, rtol=1e-12)


def test_a_rayleigh_number_outside_a_correlation_is_told():
    assert air_film(90.0, 30.0, size=0.087, facing="up").within
    assert not air_film(90.0, 30.0, size=0.02, facing="up").within
    assert not air_film(30.0, 30.0, size=0.1, facing="side").within


@given(st.floats(-30.0, 150.0), st.floats(0.5, 60.0), st.floats(0.01, 0.5), st.sampled_from(["side", "up", "down"]))
def test_free_convection_grows_with_the_difference_of_temperature(medium, difference, size, facing):
    fluid = air(medium)
    assert (
        free_film(fluid, 1.2 * difference, size=size, facing=facing).film
        > free_film(fluid, difference, size=size, facing=facing).film
    )


def test_radiation_is_the_difference_of_fourth_powers():
    # 5.670374419e-8 x (400^4 - 300^4)/100 = 9.92315523
    assert_allclose(radiated(126.85, 26.85, 1.0), 9.92315523, rtol=1e-8)
