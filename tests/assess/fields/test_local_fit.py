"""Rung: closed forms. Values and minima of functions whose minima are known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.fields.local_fit import Along, Stencil, refine_minima

R = np.concatenate([np.linspace(0.0, 0.02, 7), 0.02 + 0.003 * np.cumsum(1.1 ** np.arange(5))])
Z = np.linspace(0.01, 0.09, 23)


def bowl(r0, z0, r=R, z=Z):
    """Even in r, least at (r0, z0), with cubic and quartic parts."""
    a, b = (r[:, None] ** 2 - r0**2) / 0.04**2, (z - z0) / 0.08
    return 3.0 + a**2 + b**2 + 0.3 * b**3 + 0.2 * a * b**2


@pytest.mark.parametrize("place", [(0.0, 0.05), (0.006, 0.0437), (0.013, 0.021)])
def test_minimum_is_found_between_nodes(place):
    field = bowl(*place)
    node = np.array(np.unravel_index(field.argmin(), field.shape))[None]
    r, z, value = refine_minima(R, Z, field[None], node).places[0]
    # the field is a polynomial of degree 4, which the stencil holds; the zoom ends at 1e-4 of an interval
    assert_allclose([r, z], place, rtol=0, atol=3e-6)
    assert_allclose(value, 3.0, rtol=0, atol=1e-8)


def test_minimum_on_a_surface_stays_on_it():
    field = np.broadcast_to(1.0 - Z, (R.size, Z.size)) + R[:, None] ** 2
    found = refine_minima(R, Z, field[None], np.array([[0, Z.size - 1]])).places[0]
    assert found[1] == Z[-1]
    assert_allclose(found[[0, 2]], [0.0, 1.0 - Z[-1]], rtol=0, atol=1e-6)  # the zoom's last lattice


def test_many_fields_are_searched_in_one_call():
    places = [(0.004, 0.03), (0.0, 0.05), (0.011, 0.07)]
    fields = np.stack([bowl(*place) for place in places])
    nodes = np.array([np.unravel_index(field.argmin(), field.shape) for field in fields])
    assert_allclose(refine_minima(R, Z, fields, nodes).places[:, :2], places, rtol=0, atol=3e-6)


@pytest.mark.parametrize("place", [(0.0, 0.0123), (0.0011, 0.05), (R[-1], 0.09), (0.0198, 0.0101)])
def test_interpolation_reproduces_polynomials(place):
    field = bowl(0.006, 0.04)
    expected = bowl(0.006, 0.04, np.array([place[0]]), np.array([place[1]]))[0, 0]
    assert_allclose(Stencil.at(R, Z, place).value(field), expected, rtol=1e-12)


def test_interpolation_keeps_leading_axes():
    fields = np.stack([bowl(0.006, 0.04), 2.0 * bowl(0.006, 0.04)])
    values = Stencil.at(R, Z, (0.007, 0.033)).value(fields)
    assert_allclose(values[1], 2.0 * values[0], rtol=1e-14)


def test_only_the_axis_is_a_mirror():
    """At a base at height 0 temperature has a slope: mirrored there, a cold spot near it would be misplaced."""
    lines, places = np.linspace(0.0, 0.1, 9), np.array([0.0, 0.004, 0.05])
    along = Along.at(lines, slice(0, lines.size), places)
    assert_allclose(along.matrix(lines.size) @ lines, places, rtol=0, atol=1e-15)
