"""The coldest point over time, read off the artists."""

import dataclasses

import numpy as np
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.assess.spots.cold_spot import Track
from thermsim.case.process import Process
from thermsim.figures.container.track import plot_track, plot_track_height, plot_track_path, plot_track_radius


def axes():
    return Figure().add_subplot()


def test_places_not_known_are_left_out(jar):
    track = jar.cold_spot.track
    known = int((~np.isnan(track.z)).sum())
    assert 0 < known < track.z.size
    drawn = plot_track_height(jar, ax=axes())
    assert drawn.heating.get_xdata().size + drawn.cooling.get_xdata().size == known


def test_dots_are_the_track(jar):
    track = jar.cold_spot.track
    drawn = plot_track_height(jar, ax=axes())
    end = jar.case.process.heated_until
    heating = (track.time <= end) & ~np.isnan(track.z)
    assert_allclose(drawn.heating.get_xdata(), track.time[heating] / 60, rtol=1e-12)
    assert_allclose(drawn.heating.get_ydata(), track.z[heating] * 1e3, rtol=1e-12)
    assert_allclose(drawn.cooling.get_ydata(), track.z[track.time > end] * 1e3, rtol=1e-12)


def test_bounds_are_those_of_the_product(jar):
    height = [line.get_ydata()[0] for line in plot_track_height(jar, ax=axes()).bounds]
    radius = [line.get_ydata()[0] for line in plot_track_radius(jar, ax=axes()).bounds]
    assert_allclose(height, [5.0, 106.0], rtol=1e-12, err_msg="base and surface in mm")
    assert_allclose(radius, [0.0, 33.0], rtol=1e-12, err_msg="axis and side in mm")


def test_bounds_of_a_shaped_jar_are_its_widest_and_those_beside_the_coldest_point(shouldered):
    """4 to 92 mm high and 36 mm wide; on the axis the base reaches up to 10 mm, in the neck the side is at 26 mm."""
    height, radius = plot_track_height(shouldered, ax=axes()), plot_track_radius(shouldered, ax=axes())
    assert_allclose([line.get_ydata()[0] for line in height.bounds], [4.0, 92.0], rtol=1e-9)
    assert_allclose([line.get_ydata()[0] for line in radius.bounds], [0.0, 36.0], rtol=0, atol=1e-6)
    track = shouldered.cold_spot.track
    on_axis, body, neck = track.r < 1e-6, (track.z > 0.015) & (track.z < 0.060), track.z > 0.086
    assert on_axis.any() and body.any() and neck.any()
    assert_allclose(height.local.get_ydata()[on_axis], 10.0, rtol=0, atol=1e-6)
    assert_allclose(radius.local.get_ydata()[body], 36.0, rtol=1e-9)
    assert_allclose(radius.local.get_ydata()[neck], 26.0, rtol=1e-9)


def test_side_beside_the_coldest_point_leans_with_the_cup(tapered):
    """26 mm at the base's inside, 1.2 mm high, and 1 mm more for every 7 mm."""
    local = plot_track_radius(tapered, ax=axes()).local.get_ydata()
    z = 1e3 * tapered.cold_spot.track.z
    known = ~np.isnan(z)
    assert known.sum() > 50
    assert_allclose(local[known], 26.0 + (z[known] - 1.2) / 7.0, rtol=1e-9, err_msg="mm")


def test_straight_jar_has_the_same_bounds_everywhere(jar):
    assert plot_track_height(jar, ax=axes()).local is None
    assert plot_track_radius(jar, ax=axes()).local is None


def test_path_shows_the_same_places_in_the_section(jar):
    height, radius = plot_track_height(jar, ax=axes()), plot_track_radius(jar, ax=axes())
    path = plot_track_path(jar, ax=axes())
    assert_allclose(path.heating.get_xdata(), radius.heating.get_ydata(), rtol=1e-12)
    assert_allclose(path.heating.get_ydata(), height.heating.get_ydata(), rtol=1e-12)


def test_process_without_cooling_leaves_the_figure_whole(jar):
    stages = jar.case.process.stages[:2]
    track = jar.cold_spot.track
    heated = track.time <= stages[-1].end
    cut = Track(track.time[heated], track.r[heated], track.z[heated], track.temperature[heated])
    cold_spot = dataclasses.replace(jar.cold_spot, track=cut)
    result = dataclasses.replace(jar, case=jar.case.replace(process=Process(stages)), cold_spot=cold_spot)
    figure = plot_track(result)
    figure.canvas.draw()
    assert plot_track_height(result, ax=axes()).cooling.get_xdata().size == 0
    assert figure.axes[0].get_position().width > 0.4


def test_axes_carry_units(jar, flat):
    for result in (jar, flat):
        labels = {label for ax in plot_track(result).axes for label in (ax.get_xlabel(), ax.get_ylabel()) if label}
        expected = {"z of the coldest\npoint [mm]", "r of the coldest\npoint [mm]", "Time [min]", "r [mm]", "z [mm]"}
        assert labels == expected
