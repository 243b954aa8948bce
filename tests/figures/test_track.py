import dataclasses

import numpy as np
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.assess.cold_spot import Track
from thermsim.case.process import Process
from thermsim.figures.track import plot_track, plot_track_height, plot_track_path, plot_track_radius


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
    end = jar.case.process.heating_end
    heating = (track.time <= end) & ~np.isnan(track.z)
    assert_allclose(drawn.heating.get_xdata(), track.time[heating] / 60, rtol=1e-12)
    assert_allclose(drawn.heating.get_ydata(), track.z[heating] * 1e3, rtol=1e-12)
    assert_allclose(drawn.cooling.get_ydata(), track.z[track.time > end] * 1e3, rtol=1e-12)


def test_bounds_are_those_of_the_product(jar):
    height = [line.get_ydata()[0] for line in plot_track_height(jar, ax=axes()).bounds]
    radius = [line.get_ydata()[0] for line in plot_track_radius(jar, ax=axes()).bounds]
    assert_allclose(height, [5.0, 106.0], rtol=1e-12, err_msg="base and surface in mm")
    assert_allclose(radius, [0.0, 33.0], rtol=1e-12, err_msg="axis and side in mm")


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
