import numpy as np
import pytest
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.assess.verify.verification import Convergence, Row
from thermsim.figures.verification import plot_convergence, plot_error_bars, plot_verification

ROWS = (
    Row("cylinder", "centre", 100.0, 100.01, 0.01, 0.05, "K"),
    Row("cylinder", "place", 50.0, 50.0, 0.0, 0.2, "mm"),
    Row("slab", "centre", 100.0, 100.2, -0.2, 0.05, "K"),
)
SECOND = Convergence("space", np.array([4.0, 2.0, 1.0]), np.array([0.16, 0.04, 0.01]), 1.9, 2.1)


def test_bars_are_errors_as_parts_of_their_bounds():
    bars = plot_error_bars(ROWS, ax=Figure().add_subplot())
    assert_allclose([bar.get_width() for bar in bars], [0.2, 1e-4, 4.0], rtol=1e-12, err_msg="0 is drawn as 1e-4")


def test_row_out_of_bounds_looks_different():
    bars = plot_error_bars(ROWS, ax=Figure().add_subplot())
    kept, _, missed = (bar.get_facecolor() for bar in bars)
    assert kept != missed
    assert bars[2].get_hatch()


def test_bound_is_drawn_at_one():
    ax = Figure().add_subplot()
    plot_error_bars(ROWS, ax=ax)
    assert_allclose(ax.lines[0].get_xdata(), 1.0, rtol=1e-12)
    assert ax.get_xscale() == "log"


def test_error_that_is_no_number_runs_across():
    bars = plot_error_bars((Row("a", "b", 1.0, np.nan, np.nan, 1.0, "K"),), ax=Figure().add_subplot())
    assert bars[0].get_width() > 1.0


def test_convergence_shows_errors_and_order():
    ax = Figure().add_subplot()
    line = plot_convergence(SECOND, ax=ax, xlabel="spacing")
    assert_allclose(line.get_xdata(), [4.0, 2.0, 1.0], rtol=1e-12)
    assert_allclose(line.get_ydata(), [0.16, 0.04, 0.01], rtol=1e-12)
    assert "2.00" in ax.get_title(loc="left")
    slope = ax.lines[1]
    assert_allclose(slope.get_ydata()[1] / slope.get_ydata()[0], 16.0, rtol=1e-9, err_msg="second order over 4 to 1")


@pytest.mark.parametrize("count", [1, 3])
def test_figure_is_drawn_without_a_warning(count):
    figure = plot_verification(ROWS[:count], SECOND, SECOND)
    figure.canvas.draw()
    labels = {ax.get_xlabel() for ax in figure.axes}
    assert labels == {"error / bound [-]", "spacing (finest grid = 1)", "time step [s]"}
