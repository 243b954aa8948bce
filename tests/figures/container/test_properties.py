"""Rung: the numbers on the figure are those of the case."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_jars import jar_case

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.product import Headspace
from thermsim.figures.container.properties import changing, plot_properties
from thermsim.figures.files import figures_of
from thermsim.physics.gap import GasGap, gap_parts
from thermsim.physics.materials import Tabulated


@pytest.mark.long
def test_properties_are_drawn_where_they_change_and_only_there():
    case = jar_case().replace(points=())
    assert not changing(simulate(case))
    material = case.product.material
    tabulated = Tabulated((-10.0, 150.0), (0.5, 0.6), (3.7e6, 4.1e6))
    gap = GasGap("humid", case.headspace_height, 0.9, 0.8, sealed_at=40.0)
    varied = case.replace(
        product=dataclasses.replace(case.product, material=dataclasses.replace(material, tabulated=tabulated)),
        headspace=Headspace.of_gas(gap, (0.0, 130.0)),
    )
    result = simulate(varied)
    assert "properties" in [kind.name for kind in figures_of(result)]
    figure = plot_properties(result)
    conductivity, capacity, diffusivity, headspace = figure.axes
    (line,) = conductivity.lines
    assert_allclose(line.get_ydata(), 0.5 + 0.1 * (line.get_xdata() + 10.0) / 160.0, rtol=1e-12)
    stored = capacity.lines[0].get_ydata()
    assert_allclose(diffusivity.lines[0].get_ydata(), line.get_ydata() / stored, rtol=1e-12)
    wet = headspace.lines[0]
    assert_allclose(wet.get_ydata(), gap_parts(gap, np.asarray(wet.get_xdata())).wet, rtol=1e-12)
