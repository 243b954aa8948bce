"""A case's numbers by the paths of its nouns: what they are, what another value changes, what is refused.

Rung: hand-worked.
"""

import dataclasses

import pytest
from numpy.testing import assert_allclose
from small_case import SMALL, STEM

from thermsim import Film, Headspace, case_from_text
from thermsim.case.variation import WAYS, every_quantity, quantity_at, with_numbers
from thermsim.errors import CaseError, InputError
from thermsim.physics.gap import GasGap

CASE = case_from_text(SMALL + STEM)
GAP = GasGap("humid", CASE.headspace_height, 0.92, 0.85, sealed_at=80.0)
HUMID = CASE.replace(headspace=Headspace.of_gas(GAP, CASE.met))


@pytest.mark.parametrize(
    ("path", "value", "unit", "changed"),
    [
        ("fill.headspace", 0.012, "m", lambda case: case.headspace_height),
        ("fill.height", 0.101, "m", lambda case: case.fill_height),
        ("fill.fraction", 101 / 113, "", lambda case: case.product_volume / case.container.volume),
        ("fill.mass", 0.36282, "kg", lambda case: case.product_volume * case.product.material.density),
        ("container.inner_diameter", 0.066, "m", lambda case: 2 * case.container.profile.widest),
        ("container.inner_height", 0.113, "m", lambda case: case.container.inner_height),
        ("container.side.thickness", 0.003, "m", lambda case: case.container.side.thickness),
        ("product.initial", 40.0, "degC", lambda case: case.product.initial),
        ("product.material.conductivity", 0.55, "W/mK", lambda case: case.product.material.conductivity),
        ("process.hold", 4500.0, "s", lambda case: case.process.stages[1].end - case.process.stages[1].start),
        ("process.hold_temperature", 118.0, "degC", lambda case: case.process.medium_range[1]),
        ("process.stages[1].film.base", 60.0, "W/m2K", lambda case: case.process.stages[1].film.base),
        ("lethality.z", 10.0, "K", lambda case: case.lethality.z),
        ("probe.insertion", 0.054, "m", lambda case: case.probe.insertion),
        ("probe.segments[0].diameter", 0.003, "m", lambda case: case.probe.segments[0].diameter),
    ],
)
def test_a_number_is_found_and_another_takes_its_place(path, value, unit, changed):
    place = quantity_at(CASE, path)
    assert (place.path, place.unit) == (path, unit)
    assert_allclose(place.value, value, rtol=1e-4)
    other = with_numbers(CASE, {path: 0.99 * place.value})
    assert_allclose(changed(other), 0.99 * place.value, rtol=1e-12)
    assert changed(CASE) != changed(other)


def test_what_no_attribute_says_holds_for_the_whole_process():
    case = with_numbers(CASE, {"process.film": 300.0, "process.hold_temperature": 121.0, "process.hold": 600.0})
    assert {(one.film.side, one.film.base, one.film.lid) for one in case.process.stages} == {(300.0, 300.0, 300.0)}
    # the come-up ends and the cooling begins where the hold is
    assert [one.medium.tolist() for one in case.process.stages] == [[40.0, 121.0], [121.0, 121.0], [121.0, 30.0]]
    assert case.process.heated_until == 1320.0
    lid = dataclasses.replace(CASE.container.lid, contact=0.001)
    labelled = CASE.replace(container=dataclasses.replace(CASE.container, lid=lid))
    film = with_numbers(labelled, {"process.film": 500.0}).process.stages[0].film
    assert film == Film.everywhere(500.0).behind((0.0, 0.0, 0.001))


def test_a_fill_is_that_of_the_new_container_whatever_comes_first():
    case = with_numbers(CASE, {"fill.headspace": 0.010, "container.inner_height": 0.120})
    assert_allclose([case.fill_height, case.headspace_height], [0.110, 0.010], rtol=1e-12)


def test_a_headspace_of_gas_is_made_anew():
    case = with_numbers(HUMID, {"fill.headspace": 0.020, "process.hold_temperature": 125.0})
    assert case.headspace.gap == dataclasses.replace(GAP, thickness=case.headspace_height)
    assert case.headspace.material.tabulated.temperature[-1] >= 125.0
    colder = with_numbers(HUMID, {"headspace.gap.sealed_at": 60.0})
    assert colder.headspace.gap.sealed_at == 60.0
    assert colder.headspace.material.tabulated != HUMID.headspace.material.tabulated


def test_every_number_named_can_be_varied():
    for place in (*every_quantity(CASE), *(quantity_at(CASE, path) for path in WAYS)):
        if place.value is not None:
            with_numbers(CASE, {place.path: place.value})


@pytest.mark.parametrize(
    ("case", "path", "refusal"),
    [
        (CASE, "fill.headspce", 'leads to no number of this case; did you mean "fill.headspace"?'),
        (CASE, "container.side.contact", "a label is within the film coefficients already"),
        (CASE, "title", "leads to no number of this case"),
        (CASE, "accuracy.place", "leads to no number of this case"),
        (HUMID, "headspace.material.conductivity", "leads to no number of this case"),  # it follows from the gas
        (HUMID, "headspace.gap.thickness", "leads to no number of this case"),  # it is what is left above the product
    ],
)
def test_what_is_no_quantity_or_would_change_nothing_is_refused(case, path, refusal):
    with pytest.raises(InputError, match=refusal):
        quantity_at(case, path)


def test_values_are_refused_like_those_of_any_case():
    with pytest.raises(CaseError, match="fill_height = 0.123 m is more than the container's inner height, 113 mm"):
        with_numbers(CASE, {"fill.headspace": -0.010})
    with pytest.raises(
        CaseError, match="wall.thickness = 3 m must be at least 0.02 and at most 200 mm; did you mean"
    ):
        with_numbers(CASE, {"container.side.thickness": 3.0})
    with pytest.raises(InputError, match="the fill is too much: the container holds 386.5"):
        with_numbers(CASE, {"fill.fraction": 1.2})
