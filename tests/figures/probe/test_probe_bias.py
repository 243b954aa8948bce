"""Readings, differences and other stems, read off their artists."""

import numpy as np
import pytest
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.figures.probe.probe_bias import draw_difference, draw_offset, draw_readings, draw_stems, plot_bias
from thermsim.records.numbers.probe import histories_csv, offset


def test_curves_are_the_reading_and_what_it_is_held_against(advised):
    drawn = draw_readings(advised, ax=Figure().subplots())
    effect = advised.probe
    for line, curve in (
        (drawn.reading, effect.reading),
        (drawn.without, effect.without_probe),
        (drawn.cold_spot, advised.spots[0]),
    ):
        assert_allclose(line.get_xdata(), curve.time / 60, rtol=1e-12, err_msg="min")
        assert_allclose(line.get_ydata(), curve.temperature, rtol=1e-12, err_msg="degC")


def test_offset_is_reading_less_cold_spot_in_figure_and_csv(advised):
    drawn = draw_offset(advised, ax=Figure().subplots())
    expected = advised.probe.reading.temperature - advised.spots[0].temperature
    assert_allclose(drawn.line.get_ydata(), expected, rtol=1e-12, err_msg="the same subtraction")
    heads, *rows = histories_csv(advised).splitlines()
    assert heads == "time_min,reading_C,without_probe_C,least_lethality_C,offset_K"
    # printed to four decimals
    assert_allclose([float(row.split(",")[-1]) for row in rows], expected, rtol=0, atol=5.1e-5)
    heating = advised.spots[0].time <= advised.case.process.heated_until
    found = offset(advised)
    assert abs(found.temperature) == np.abs(expected[heating]).max()
    assert abs(found.cooling_temperature) == np.abs(expected[~heating]).max()


@pytest.mark.parametrize(("name", "heating", "cooling"), [("advised", 1.0, -1.0), ("logged", -1.0, 1.0)])
def test_difference_is_reading_less_place_and_its_extremes_are_named(name, heating, cooling, request):
    """A stem leads heat in while heating and out in cooling; a heavy logger lags behind in both."""
    result = request.getfixturevalue(name)
    drawn = draw_difference(result, ax=Figure().subplots())
    effect = result.probe
    expected = effect.reading.temperature - effect.without_probe.temperature
    assert_allclose(drawn.line.get_ydata(), expected, rtol=1e-12, err_msg="the same subtraction")
    texts = [text.get_text() for text in drawn.largest]
    end = result.case.process.heated_until / 60
    time = drawn.line.get_xdata()
    for text, phase, sign in zip(texts, (time <= end, time > end), (heating, cooling), strict=True):
        largest = drawn.line.get_ydata()[phase]
        largest = largest[np.abs(largest).argmax()]
        assert np.sign(largest) == sign
        assert text == f"{largest:+.1f} K".replace("-", "−")


def test_end_of_heating_is_marked_in_both_panels(advised):
    figure = plot_bias(advised)
    for ax in figure.axes:
        (end,) = [line for line in ax.lines if line.get_label() == "heating ends"]
        assert_allclose(end.get_xdata(), 87.0, rtol=1e-12, err_msg="12 min come-up and 75 min hold")


def test_stems_are_drawn_over_diameter_and_conductivity_with_the_own_one_ringed(advised):
    axes = Figure().subplots(1, 2, sharey=True)
    lines = draw_stems(advised, ax=tuple(axes))
    assert_allclose(lines[0].get_xdata(), [1.5, 3.0], rtol=1e-9, err_msg="parts of 3 mm")
    assert_allclose(lines[1].get_xdata(), [0.25, 16.0], rtol=1e-9, err_msg="and the steel's own")
    assert axes[1].get_xscale() == "log"
    own = {(stem.diameter, stem.conductivity): 100 * stem.heating_bias for stem in advised.advice.stems}[0.003, 16.0]
    for ax, line, x in zip(axes, lines, (3.0, 16.0), strict=True):
        assert np.all(np.diff(line.get_ydata()) > 0.0)  # wider and better conducting stems lead more heat in
        (ring,) = [one for one in ax.lines if one.get_label() == "this probe's own"]
        assert_allclose([*ring.get_xdata(), *ring.get_ydata()], [x, own], rtol=1e-9, err_msg="mm or W/mK, per cent")


def test_result_without_probe_is_refused(jar):
    with pytest.raises(ValueError, match="no probe"):
        plot_bias(jar)
