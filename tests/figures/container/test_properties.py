"""Rung: the numbers on the figure are those of the case."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from numpy.testing import assert_allclose
from small_jars import ROUGH, jar_case

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.product import Headspace
from thermsim.figures.container.properties import changing, plot_properties
from thermsim.figures.files import _as_written, figures_of
from thermsim.physics.gap import GasGap, gap_parts
from thermsim.physics.materials import Tabulated
from thermsim.systems import shown_in


@pytest.fixture(scope="module")
def result():
    case = jar_case().replace(points=(), accuracy=ROUGH)
    material = case.product.material
    tabulated = Tabulated((-10.0, 150.0), (0.5, 0.6), (3.7e6, 4.1e6))
    return simulate(
        case.replace(
            product=dataclasses.replace(case.product, material=dataclasses.replace(material, tabulated=tabulated)),
            headspace=Headspace.of_gas(
                GasGap("humid", case.headspace_height, 0.9, 0.8, sealed_at=40.0), (0.0, 130.0)
            ),
        )
    )


@pytest.mark.parametrize(("system", "factor"), [("metric", 1.0), ("us", 1055.05585262 * 1.8 / 3600 / 0.3048)])
def test_the_headspaces_marks_are_plain_numbers_of_the_unit_asked_for(result, system, factor):
    with shown_in(system), _as_written(plot_properties(result)) as figure:
        FigureCanvasAgg(figure).draw()
        axis = figure.axes[-1].yaxis
        marks = [(tick.get_loc(), tick.label1.get_text()) for tick in axis.get_major_ticks()]
    assert len(marks) >= 3
    for place, number in marks:
        assert number.strip("0.")[0] in "125"
        assert_allclose(place, factor * float(number), rtol=1e-9)


def test_properties_are_drawn_where_they_change_and_only_there(jar, result):
    assert not changing(jar)
    gap = result.case.headspace.gap
    assert "properties" in [kind.name for kind in figures_of(result)]
    figure = plot_properties(result)
    conductivity, capacity, diffusivity, headspace = figure.axes
    (line,) = conductivity.lines
    assert_allclose(line.get_ydata(), 0.5 + 0.1 * (line.get_xdata() + 10.0) / 160.0, rtol=1e-12)
    stored = capacity.lines[0].get_ydata()
    assert_allclose(diffusivity.lines[0].get_ydata(), line.get_ydata() / stored, rtol=1e-12)
    wet = headspace.lines[0]
    assert_allclose(wet.get_ydata(), gap_parts(gap, np.asarray(wet.get_xdata())).wet, rtol=1e-12)
