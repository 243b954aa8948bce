"""The map round the tip and the probe's outline, read off their artists."""

import dataclasses

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.case.product import Headspace
from thermsim.figures.container.probe_outline import (
    datum,
    draw_probe,
    fitting_rectangle,
    outer_face,
    reach,
    rim_below,
    segment_rectangles,
)
from thermsim.figures.probe.tip import draw_tip, plot_tip, window_round_tip

TOP = 118.2  # mm: 5 of base, 113 inside, 0.2 of lid


def test_outline_of_a_stem_through_the_lid(advised):
    probe, container = advised.probe.probe, advised.case.container
    depth = 1e3 * advised.probe.depth
    (stem,) = segment_rectangles(probe, container)
    assert_allclose(stem, [-1.5, TOP - depth, 3.0, 90.0], rtol=1e-9, err_msg="3 mm thick, 90 mm long")
    # 4 mm below the lid's inside, 10 mm above its outside
    assert_allclose(fitting_rectangle(probe, container), [-6.0, 114.0, 12.0, 14.2], rtol=1e-9)
    assert_allclose(reach(probe, container), [0.0, TOP - depth + 90.0], rtol=1e-9)
    assert_allclose(outer_face(probe, container), TOP, rtol=1e-9)


def test_outline_of_a_logger_on_the_base_begins_with_the_tip(logged):
    probe, container = logged.probe.probe, logged.case.container
    tip, body, spacer = segment_rectangles(probe, container)
    depth = 1e3 * logged.probe.depth
    assert_allclose(tip, [-1.5, depth - 10.0, 3.0, 10.0], rtol=1e-9)
    assert_allclose(body, [-8.0, depth - 32.0, 16.0, 22.0], rtol=1e-9)
    assert_allclose(spacer, [-4.0, 5.0, 8.0, depth - 37.0], rtol=1e-9)  # from the inside of the base
    assert fitting_rectangle(probe, container) is None
    assert reach(probe, container) == reach(None, container)


def test_outline_of_a_stem_through_a_domed_base_begins_at_the_dome(shouldered):
    """6 mm above the rim; 4 mm of glass."""
    probe, container = shouldered.probe.probe, shouldered.case.container
    depth = 1e3 * shouldered.probe.depth
    (stem,) = segment_rectangles(probe, container)
    assert_allclose(stem, [-1.5, 6.0 + depth - 90.0, 3.0, 90.0], rtol=1e-9)
    assert_allclose(fitting_rectangle(probe, container), [-6.0, 6.0 - 10.0, 12.0, 10.0 + 4.0 + 4.0], rtol=1e-9)
    assert_allclose(reach(probe, container), [6.0 + depth - 90.0, 99.2], rtol=1e-9)
    assert_allclose(outer_face(probe, container), 6.0, rtol=1e-9)
    assert datum(probe, container) == "outer face of the base on the axis"
    lid = dataclasses.replace(probe, entry="lid")
    assert_allclose([outer_face(lid, container), rim_below(lid, container)], [99.2, 0.0], rtol=1e-12)
    assert datum(lid, container) == "outer face of the lid"


def test_drawn_parts_are_the_outline_with_the_tip_last(logged):
    probe, container = logged.probe.probe, logged.case.container
    parts = draw_probe(probe, container, ax=Figure().subplots(), fill=True)
    places = [(part.get_x(), part.get_y(), part.get_width(), part.get_height()) for part in parts]
    assert_allclose(places[::-1], segment_rectangles(probe, container), rtol=1e-12)
    assert [bool(part.get_hatch()) for part in parts] == [True, False, False]


def test_window_is_twelve_radii_wide_and_ends_at_the_container(advised, logged):
    z = 1e3 * advised.probe.reading.z
    assert_allclose(window_round_tip(advised), [9.0, z - 9.0, z + 9.0], rtol=1e-9)
    z = 1e3 * logged.probe.reading.z
    assert_allclose(window_round_tip(logged), [9.0, z - 9.0, min(z + 9.0, TOP)], rtol=1e-9)


@pytest.mark.parametrize(
    "name", ["advised", *(pytest.param(name, marks=pytest.mark.long) for name in ("logged", "tapered", "shouldered"))]
)
def test_levels_span_the_window_and_isotherms_lie_at_their_temperature(name, request):
    result = request.getfixturevalue(name)
    drawn = draw_tip(result, ax=Figure().subplots())
    half, low, high = window_round_tip(result)
    effect = result.probe
    r, z = 1e3 * effect.grid.r, 1e3 * effect.grid.z
    inside = (r <= half) & (z >= low) & (z <= high)
    values = effect.end_of_heating[inside]
    assert drawn.bands.levels[0] <= np.nanmin(values)
    assert drawn.bands.levels[-1] >= np.nanmax(values)
    assert set(np.round(drawn.lines.levels, 9)) <= set(np.round(drawn.bands.levels, 9))
    assert len(drawn.lines.levels) >= 2
    # what an isotherm is named by stands left of the probe, in the window
    for text in drawn.lines.labelTexts:
        across, along = text.get_position()
        assert -half < across < 0.0 and low <= along <= high
    # along the axis, where the field is read from the grid itself
    axis = effect.end_of_heating[0]
    found = 0
    for level, path in zip(drawn.lines.levels, drawn.lines.get_paths(), strict=True):
        for across, along in path.vertices:
            if abs(across) < 1e-9:
                found += 1
                at = np.interp(along, effect.grid.z[0] * 1e3, axis)
                assert_allclose(at, level, atol=0.05, rtol=0, err_msg="cubic against linear between nodes [K]")
    # in the shouldered jar the tip stands where it is nearly even: one isotherm crosses the axis there
    assert found >= (1 if name == "shouldered" else 2)


def test_sensing_length_reaches_from_the_tip_back_into_the_stem(advised, logged):
    for result, back in ((advised, 2.0), (logged, -2.0)):
        drawn = draw_tip(result, ax=Figure().subplots())
        z = 1e3 * result.probe.reading.z
        assert_allclose(sorted(drawn.sensing.get_ydata()), sorted([z, z + back]), rtol=1e-9)


def test_least_lethality_is_marked_only_where_it_lies_in_the_window(advised, logged):
    for result in (advised, logged):
        drawn = draw_tip(result, ax=Figure().subplots())
        half, low, high = window_round_tip(result)
        spot = result.probe.least_lethality
        inside = 1e3 * spot.r <= half and low <= 1e3 * spot.z <= high
        assert (drawn.least_lethality is not None) == inside
        if drawn.least_lethality:
            assert_allclose(drawn.least_lethality.get_ydata(), 1e3 * spot.z, rtol=1e-12)


def test_the_legend_names_the_headspace_only_where_it_is_in_sight(advised):
    case = advised.case.replace(headspace=Headspace("insulated"))
    high = 1e-3 * window_round_tip(advised)[2]
    for surface, seen in ((high + 1e-3, False), (high - 1e-3, True)):
        filled = case.replace(fill_height=surface - case.container.floor)
        ax = Figure().subplots()
        draw_tip(dataclasses.replace(advised, case=filled), ax=ax)
        assert ("insulated headspace" in ax.get_legend_handles_labels()[1]) == seen


def test_scales_of_the_map_are_equal(advised):
    figure = plot_tip(advised)
    FigureCanvasAgg(figure).draw()
    ax = figure.axes[0]
    box, limits = ax.get_window_extent(), ax.viewLim
    assert_allclose(box.width / limits.width, box.height / limits.height, rtol=1e-6, err_msg="pixels per mm")
