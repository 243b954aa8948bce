"""The maps, read off their artists: places, levels, masks; the lines between the nodes."""

import numpy as np
import pytest
from matplotlib.colors import LogNorm
from matplotlib.figure import Figure
from matplotlib.path import Path
from numpy.testing import assert_allclose

from thermsim.figures.container.maps import (
    lethality_levels,
    level_text,
    linear_levels,
    plot_lethality_map,
    plot_maps,
    plot_temperature_map,
    temperature_at,
    temperature_levels,
)
from thermsim.figures.container.outline import crossings, finer, mirrored
from thermsim.figures.container.shape import shape_of
from thermsim.quantities import LETHALITY, TEMPERATURE
from thermsim.systems import shown_in

#: More of what others are: straight, or with a wall that leans.
INSULATED, FLAT, TAPERED = (pytest.param(name, marks=pytest.mark.long) for name in ("insulated", "flat", "tapered"))


def axes():
    return Figure(layout="constrained").add_subplot()


@pytest.mark.parametrize("plot", [plot_temperature_map, plot_lethality_map])
def test_cold_spots_stand_mirrored_where_they_were_found(bare, plot):
    drawn = plot(bare, ax=axes())
    least, slowest = bare.cold_spot.least_lethality, bare.cold_spot.slowest_heating
    assert least.r > 1e-3
    assert_allclose(drawn.least_lethality.get_xdata(), [-least.r * 1e3, least.r * 1e3], rtol=1e-12, err_msg="mm")
    assert_allclose(drawn.least_lethality.get_ydata(), [least.z * 1e3] * 2, rtol=1e-12, err_msg="mm")
    assert_allclose(drawn.slowest_heating.get_xdata(), [0.0], rtol=0, atol=1e-2, err_msg="on the axis, once")
    assert_allclose(drawn.slowest_heating.get_ydata(), [slowest.z * 1e3], rtol=1e-12, err_msg="mm")
    assert drawn.least_lethality.get_marker() != drawn.slowest_heating.get_marker()


def test_bands_cover_the_temperatures(jar):
    drawn = plot_temperature_map(jar, ax=axes())
    levels = drawn.bands.levels
    low, high = np.nanmin(jar.end_of_heating), np.nanmax(jar.end_of_heating)
    assert levels[0] <= low < levels[1]
    assert levels[-2] < high <= levels[-1]
    assert set(np.round(drawn.lines.levels, 9)) <= set(np.round(levels, 9))


def test_isotherm_runs_through_places_of_its_temperature(bare):
    drawn = plot_temperature_map(bare, ax=axes())
    level = drawn.lines.levels[0]
    places = drawn.lines.get_paths()[0].vertices
    along = places[np.abs(places[:, 1] - 55.0) < 2.0]
    r = np.abs(along[:, 0]).max()
    middle = int(np.abs(bare.grid.levels - 0.055).argmin())
    temperature = np.interp(r * 1e-3, bare.grid.columns, bare.end_of_heating[:, middle])
    assert_allclose(temperature, level, rtol=0, atol=0.15, err_msg="the grid is 2 mm wide, the slope 1 K/mm")


def test_lethality_that_spans_decades_gets_a_logarithmic_scale(bare, flat):
    assert isinstance(plot_lethality_map(bare, ax=axes()).bands.norm, LogNorm)
    assert not isinstance(plot_lethality_map(flat, ax=axes()).bands.norm, LogNorm)


def test_lethality_levels_follow_one_two_five_over_two_decades():
    bands, lines = lethality_levels(np.array([1.5, 60.0]))
    assert_allclose(lines, [2.0, 5.0, 10.0, 20.0, 50.0], rtol=1e-12)
    assert bands[0] <= 1.5
    assert bands[-1] >= 60.0


def test_lethality_below_six_decades_is_left_at_the_end_of_the_scale():
    bands, _ = lethality_levels(np.array([1e-290, 10.0]))
    assert_allclose(bands[0], 1e-5, rtol=1e-9, err_msg="six decades below 10")


def test_a_lethality_that_is_the_same_everywhere_has_levels_round_it():
    bands, _ = lethality_levels(np.full(3, 8.0))
    assert bands.size > 3 and 0.9 * 8.0 < bands[0] < 0.96 * 8.0 and 1.04 * 8.0 < bands[-1] < 1.1 * 8.0


def test_linear_levels_have_four_bands_from_line_to_line():
    bands, lines = linear_levels(113.2, 117.9)
    assert_allclose(lines, [114.0, 115.0, 116.0, 117.0], rtol=1e-12)
    assert_allclose(np.diff(bands), 0.25, rtol=1e-9)


def test_levels_are_round_in_the_unit_that_is_asked_for():
    field = np.array([[113.2, 117.9], [np.nan, 115.0]])
    with shown_in("us"):
        bands, lines = temperature_levels(field)  # 235.8 to 244.2 degF
        assert [level_text(level, TEMPERATURE) for level in lines] == ["236", "238", "240", "242", "244"]
        assert level_text(5.0, LETHALITY) == "5"
    assert_allclose(np.diff(bands) * 1.8, 0.5, rtol=1e-9)
    assert_allclose(temperature_levels(field)[1], [114.0, 115.0, 116.0, 117.0], rtol=1e-12)


def test_uniform_temperature_can_be_drawn(jar):
    drawn = plot_temperature_map(jar, ax=axes(), time=0.0)
    assert drawn.bands.levels[0] < 40.0 < drawn.bands.levels[-1]


def test_temperature_at_an_output_time_is_the_output(jar):
    assert_allclose(temperature_at(jar, float(jar.time[50])), jar.temperature[50], rtol=1e-12)
    between = temperature_at(jar, float(jar.time[50] + jar.time[51]) / 2)
    assert_allclose(between, (jar.temperature[50] + jar.temperature[51]) / 2, rtol=1e-12)


@pytest.mark.parametrize("name", ["jar", "bare", INSULATED, FLAT, TAPERED, "shouldered"])
def test_cold_zone_reaches_the_bounds_in_the_result(name, request):
    result = request.getfixturevalue(name)
    zone = result.cold_spot.zone
    places = plot_lethality_map(result, ax=axes()).cold_zone.get_path().vertices
    # the result reads the bounds off a lattice of a four-hundredth of the product, and so does not the drawing
    across, up = 0.02 * result.case.container.profile.widest * 1e3, 0.02 * result.case.fill_height * 1e3
    assert_allclose(np.abs(places[:, 0]).max(), zone.r_high * 1e3, rtol=0, atol=across)
    assert_allclose(places[:, 1].min(), zone.z_low * 1e3, rtol=0, atol=up)
    assert_allclose(places[:, 1].max(), zone.z_high * 1e3, rtol=0, atol=up)


def test_insulated_headspace_is_hatched(insulated):
    ax = axes()
    plot_temperature_map(insulated, ax=ax)
    (patch,) = [patch for patch in ax.patches if patch.get_hatch()]
    z = patch.get_xy()[:, 1]
    assert_allclose([z.min(), np.ptp(z)], [106.0, 12.0], rtol=1e-9, err_msg="mm")


def test_insulated_headspace_of_a_shaped_jar_ends_at_its_neck(shouldered):
    """7 mm of a neck of 52 mm, above 4 mm of base and 88 mm of product."""
    ax = axes()
    plot_temperature_map(shouldered, ax=ax)
    (patch,) = [patch for patch in ax.patches if patch.get_hatch()]
    corners = sorted(map(tuple, patch.get_xy()[:-1].round(9)))
    assert_allclose(corners, [(-26.0, 92.0), (-26.0, 99.0), (26.0, 92.0), (26.0, 99.0)], rtol=1e-9)


def area_of(paths):
    """Area inside closed lines, holes taken off by their sense, by the surveyor's formula."""
    area = 0.0
    for path in paths:
        for r, z in (polygon.T for polygon in path.to_polygons()):
            area += float((r[:-1] * z[1:] - r[1:] * z[:-1]).sum()) / 2
    return abs(area)


@pytest.mark.parametrize("name", [TAPERED, "shouldered"])
def test_lethality_fills_the_product_and_nothing_else(name, request):
    result = request.getfixturevalue(name)
    bands = plot_lethality_map(result, ax=axes()).bands
    product = Path(shape_of(result.case).product)
    places = np.concatenate([path.vertices for path in bands.get_paths() if len(path.vertices)])
    # mm: cubics between the nodes leave the rounded wall and the dome's foot by half as much
    assert any(product.contains_points(places, radius=side).all() for side in (-0.05, 0.05))
    closed = Path(np.concatenate([product.vertices, product.vertices[:1]]))
    assert_allclose(area_of(bands.get_paths()), area_of([closed]), rtol=1e-4, err_msg="they pass on both sides")


@pytest.mark.parametrize("name", [TAPERED, "shouldered"])
def test_temperature_stays_within_the_outline_and_out_of_an_insulated_room(name, request):
    result = request.getfixturevalue(name)
    bands = plot_temperature_map(result, ax=axes()).bands
    shape = shape_of(result.case)
    places = np.concatenate([path.vertices for path in bands.get_paths() if len(path.vertices)])
    outlines = [outline for part in shape.walls for outline in part.outlines] + [shape.product]
    if result.case.headspace.model == "fixed":
        outlines.append(shape.headspace)
    within = [Path(outline).contains_points(places, radius=side) for outline in outlines for side in (-0.1, 0.1)]
    assert np.any(within, axis=0).all()


@pytest.mark.parametrize("name", ["jar", TAPERED, "shouldered"])
def test_even_field_between_the_nodes_is_even(name, request):
    """Places and values are carried over alike, so that what is linear in r and z comes back to rounding."""
    grid = request.getfixturevalue(name).grid
    r, z, field = finer(grid, 40.0 + 300.0 * grid.r - 200.0 * grid.z)
    assert_allclose(field, 40.0 + 300.0 * r - 200.0 * z, rtol=1e-12)
    assert r.shape == (4 * (grid.shape[0] - 1) + 1, 4 * (grid.shape[1] - 1) + 1)


def test_mirrored_places_have_the_axis_once_and_the_field_twice():
    r, z, field = mirrored(
        np.array([[0.0, 0.0], [1.0, 2.0]]), np.array([[5.0, 6.0]] * 2), np.array([[7.0, 8], [9, 10]])
    )
    assert np.array_equal(r, [[-1.0, -2.0], [0.0, 0.0], [1.0, 2.0]])
    assert np.array_equal(z, [[5.0, 6.0]] * 3)
    assert np.array_equal(field, [[9.0, 10.0], [7.0, 8.0], [9.0, 10.0]])


def test_crossings_of_a_path_lie_on_its_pieces_and_not_between_two_lines():
    """A stroke from (0, 0) to (4, 2), then, after a jump, one from (10, 0) to (10, 4)."""
    codes = [Path.MOVETO, Path.LINETO, Path.MOVETO, Path.LINETO]
    path = Path([(0.0, 0.0), (4.0, 2.0), (10.0, 0.0), (10.0, 4.0)], codes)
    assert_allclose(crossings(path, along="r", at=1.0), [2.0, 10.0], rtol=1e-12)
    assert_allclose(crossings(path, along="z", at=3.0), [1.5], rtol=1e-12)
    assert crossings(path, along="z", at=7.0).size == 0


@pytest.mark.parametrize("name", ["bare", TAPERED, "shouldered"])
def test_labels_stand_on_their_lines_within_the_product(name, request):
    result = request.getfixturevalue(name)
    drawn = plot_temperature_map(result, ax=axes())
    labels = drawn.lines.labelTexts
    assert labels
    inside = Path(shape_of(result.case).product)
    for label in labels:
        assert inside.contains_point(label.get_position()), label.get_text()


def test_field_between_nodes_keeps_the_nodes_and_unknown_places(insulated):
    grid = insulated.grid
    r, z, field = finer(grid, insulated.end_of_heating, times=2)
    assert_allclose(r[::2, ::2], grid.r, rtol=0, atol=1e-12)
    assert_allclose(z[::2, ::2], grid.z, rtol=0, atol=1e-12)
    assert np.all(np.diff(z, axis=1) > 0)
    assert_allclose(field[::2, ::2], insulated.end_of_heating, rtol=1e-12)
    inside = (r < 0.033 - 1e-9) & (z > 0.106 + 1e-9) & (z < 0.118 - 1e-9)
    assert np.array_equal(np.isnan(field), inside)


@pytest.mark.parametrize("name", ["jar", FLAT, TAPERED, "shouldered"])
def test_figure_names_quantities_with_units(name, request):
    figure = plot_maps(request.getfixturevalue(name))
    labels = {label for ax in figure.axes for label in (ax.get_xlabel(), ax.get_ylabel()) if label}
    assert labels == {"r [mm]", "z [mm]", "Temperature [°C]", "F0 [min] at 121.1 °C, z = 10 K"}
    (legend,) = figure.legends
    entries = {text.get_text() for text in legend.get_texts()}
    assert {"least lethality", "slowest heating", "cold zone (least + 10 %)"} <= entries
