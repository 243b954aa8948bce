import numpy as np
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.figures.container.histories import plot_gathered, plot_histories, plot_temperatures


def axes():
    return Figure().add_subplot()


def test_medium_line_jumps(jar):
    medium = plot_temperatures(jar, ax=axes()).medium
    assert_allclose(medium.get_xdata(), [0.0, 12.0, 12.0, 87.0, 87.0, 122.0], rtol=1e-12, err_msg="minutes")
    assert_allclose(medium.get_ydata(), [40.0, 118.0, 118.0, 118.0, 30.0, 30.0], rtol=1e-12)


def test_curves_are_those_of_the_result(jar):
    drawn = plot_temperatures(jar, ax=axes())
    for line, curve in zip((*drawn.spots, *drawn.points), (*jar.spots, *jar.points), strict=True):
        assert_allclose(line.get_xdata(), curve.time / 60, rtol=1e-12)
        assert_allclose(line.get_ydata(), curve.temperature, rtol=1e-12)
    assert [line.get_label() for line in drawn.points] == ['"mid-height"', '"glass"']
    assert_allclose(drawn.heated_until.get_xdata(), 87.0, rtol=1e-12)


def test_gathered_lethality_ends_at_the_result(jar):
    drawn = plot_gathered(jar, ax=axes())
    for line, curve in zip(drawn.spots, jar.spots, strict=True):
        # chords between outputs a minute apart miss the bend at the start of cooling by some hundredths of a kelvin,
        # each worth 0.23 % of the lethal rate
        assert_allclose(line.get_ydata()[-1], curve.lethality / 60, rtol=1e-2)
        assert np.all(np.diff(line.get_ydata()) >= 0)
    assert drawn.target is not None
    assert_allclose(drawn.target.get_ydata(), 6.0, rtol=1e-12, err_msg="360 s in minutes")


def test_no_target_no_line(insulated):
    assert plot_gathered(insulated, ax=axes()).target is None


def test_same_place_has_the_same_colour_in_both_panels(jar):
    above, below = plot_temperatures(jar, ax=axes()), plot_gathered(jar, ax=axes())
    assert [line.get_color() for line in above.spots] == [line.get_color() for line in below.spots]


def test_axes_carry_units(jar):
    upper, lower = plot_histories(jar).axes
    assert (upper.get_ylabel(), lower.get_ylabel()) == ("Temperature [°C]", "Lethality [min]")
    assert lower.get_xlabel() == "Time [min]"
