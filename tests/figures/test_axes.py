"""Results in Python: figures on one's own axes, tables for other libraries, a short text, the drawing for notebooks.

They behave as values do. Rung: hand-worked.
"""

import dataclasses
import pickle
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.figure import Figure
from numpy.testing import assert_array_equal
from small_cans import small_can
from study_scenes import Here

import thermsim
from thermsim.case.study import Study
from thermsim.errors import InputError
from thermsim.notice import Notice

ONE = ("plot_histories", "plot_gathered", "plot_track", "plot_reading", "plot_ladder")


@pytest.fixture(autouse=True)
def closed():
    yield
    pyplot.close("all")


@pytest.mark.parametrize("name", ONE)
def test_a_figure_is_drawn_on_the_axes_given_and_returns_them(advised, name):
    ax = Figure().subplots()
    assert getattr(thermsim, name)(advised, ax) is ax
    assert ax.lines and "[" in ax.get_xlabel() and "[" in ax.get_ylabel()
    assert not pyplot.get_fignums()  # nothing is opened beside it
    own = getattr(thermsim, name)(advised)
    assert own.figure.number in pyplot.get_fignums() and len(own.lines) == len(ax.lines)


def test_section_and_maps_are_drawn_on_axes_too(advised, shouldered):
    ax = Figure((5.2, 5.2)).add_axes((0.0, 0.0, 1.0, 1.0))
    assert thermsim.plot_section(advised, ax) is ax
    assert any("insertion" in text.get_text() for text in ax.texts)
    pair = Figure().subplots(1, 2)
    left, right = thermsim.plot_maps(shouldered, tuple(pair), time=600.0)
    assert (left, right) == tuple(pair) and "10.0 min" in left.get_title("left")
    assert len(thermsim.plot_maps(shouldered)) == 2
    assert thermsim.plot_ladder(advised, criterion="slowest heating").get_ylabel() == "Lethality [min]"


def test_a_study_is_drawn_by_its_kind():
    def studied(*lengths):
        names = ("fill.height", "product.initial", "lethality.z")[: len(lengths)]
        vary = {name: np.linspace(0.02, 0.03, length) + 39.0 * (k == 1) + 9.0 * (k == 2)
                for k, (name, length) in enumerate(zip(names, lengths, strict=True))}  # fmt: skip
        return thermsim.run_study(small_can(), Study.of(vary), executor=Here(), compute=sizes)

    ax = Figure().subplots()
    assert thermsim.plot_study(studied(3), "least_z", ax) is ax
    assert ax.lines[0].get_ydata().tolist() == [20.0, 25.0, 30.0]  # mm
    assert ax.get_xlabel() == "fill: height [m]"
    assert thermsim.plot_study(studied(3, 2), "least_z").collections
    with pytest.raises(InputError, match="more than two quantities"):
        thermsim.plot_study(studied(2, 2, 2), "least_z")
    with pytest.raises(InputError, match='no figure "lest_z"; did you mean "least_z"?'):
        thermsim.plot_study(studied(2), "lest_z")


def sizes(task):
    return {"least_z": task.values[0], "least_lethality": 60.0}, {}


def test_arrays_are_read_only_and_stay_so(advised):
    kept = pickle.loads(pickle.dumps(advised))
    for result in (advised, kept):
        curve, ladder = result.spots[0], result.probe.ladder
        for array in (
            result.temperature,
            result.lethality,
            curve.temperature,
            result.cold_spot.track.r,
            ladder.depth,
        ):
            with pytest.raises(ValueError, match="read-only"):
                array[...] = 0.0


def test_results_are_equal_where_all_their_parts_are(advised, jar):
    kept = pickle.loads(pickle.dumps(advised))
    assert kept == advised and kept is not advised
    slower = dataclasses.replace(advised.effort, seconds=advised.effort.seconds + 1.0)
    assert dataclasses.replace(advised, effort=slower) == advised  # how long it took is no part of it
    field = advised.temperature.copy()
    field[-1, 0, 0] += 1e-12
    assert dataclasses.replace(advised, temperature=field) != advised
    assert advised != jar and advised != 1.0
    assert advised.case == kept.case and advised.case.process.stages[0] == kept.case.process.stages[0]
    assert advised.case != advised.case.replace(process=advised.case.process.with_hold(60.0))
    with pytest.raises(TypeError, match="unhashable"):
        hash(advised)


def test_the_ladder_is_arrays_of_its_rungs(advised):
    ladder, own = advised.probe.ladder, advised.advice.own
    assert_array_equal(ladder.depth, [rung.depth for rung in own.ladder])
    assert (np.diff(ladder.depth) > 0).all()
    read = np.array([rung.lethality for rung in own.ladder])
    assert_array_equal(ladder.over_reading, read / advised.spots[0].lethality - 1.0)
    best = own.recommended("least lethality")
    assert ladder.mismatch.min() >= min(own.profile.mismatch) and min(abs(ladder.depth - best.depth)) < 0.01


def test_a_result_tells_itself_in_ten_lines_what_it_dangers_first(advised, jar):
    for result in (advised, jar):
        lines = repr(result).splitlines()
        assert len(lines) <= 10 and max(map(len, lines)) <= 130
        assert result.case.title in lines[0]
        spot = result.cold_spot.least_lethality
        assert any(f"z = {1e3 * spot.z:.1f} mm" in line for line in lines)
    # nobody has looked whether these products flow: that and each danger stand before the first number
    first = repr(advised).partition("cold_spot")[0]
    assert "Nobody has looked whether the product flows" in first and "UNSAFE SIDE" in first
    many = tuple(Notice(f"n{k}", "danger", "target", "x" * 300) for k in range(9))
    assert len(repr(advised.noting(*many)).splitlines()) <= 10
    assert "6 further notices" in repr(dataclasses.replace(advised, notices=many))


def test_a_notebook_shows_the_drawing_and_the_answer(jar):
    page = jar._repr_html_()
    tree = ET.fromstring(page)
    assert tree.find("h3").text == jar.case.title
    assert "Least lethality" in tree.find("pre").text and "Not for products that flow" in tree.find("pre").text
    assert any(element.tag.endswith("svg") for element in tree) and "<script" not in page
    titled = dataclasses.replace(jar, case=jar.case.replace(title="<b>&"))
    assert ET.fromstring(titled._repr_html_()).find("h3").text == "<b>&"


def test_fields_go_to_xarray_with_their_places_and_units(jar, shouldered):
    fields = jar.to_xarray()
    assert fields.temperature.dims == ("time", "r", "z")
    assert_array_equal(fields.temperature, jar.temperature)
    assert_array_equal(fields.r, jar.grid.columns)
    assert fields.z.attrs == {"units": "m", "long_name": "height above the outside of the base"}
    assert (fields.lethality.units, fields.temperature.units, fields.time.units) == ("s", "degC", "s")
    assert "conduction alone" in fields.attrs["comment"] and "not a validation" in fields.attrs["comment"]
    spot = jar.cold_spot.slowest_heating
    there = fields.end_of_heating.interp(r=spot.r, z=spot.z)
    assert abs(float(there) - spot.end_of_heating) < 0.1
    shaped = shouldered.to_xarray()
    assert shaped.temperature.dims == ("time", "column", "level") and shaped.r.dims == ("column", "level")
    assert_array_equal(shaped.z, shouldered.grid.z)
    assert_array_equal(shaped.probe_reading_temperature, shouldered.probe.reading.temperature)
