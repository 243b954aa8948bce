"""Probes from the side against a three-dimensional finite-element solution of the whole container.

Rung: another code (scikit-fem: quadratic hexahedra on half the container, walls and headspace resolved, TR-BDF2),
computed once by ``side_reference.py``, which keeps in ``side_reference.json`` the meshes, and as tolerance what a
finer mesh and shorter steps change together. The scenes are invented (``side_scenes.py``).
"""

import json
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from side_scenes import SCENES

from thermsim.assess.simulate.simulation import simulate

VALUES = json.loads(Path(__file__).with_name("side_reference.json").read_text("utf-8"))


@pytest.fixture(
    scope="module",
    params=["can", *(pytest.param(name, marks=pytest.mark.whole) for name in sorted(set(VALUES) - {"can"}))],
)
def compared(request):
    # temperatures at the times of the record
    case = SCENES[request.param]().replace(output_every=VALUES[request.param]["every_s"])
    return simulate(case), VALUES[request.param]


def tolerance(known, name):
    """What the reference may be off by: a finer mesh and shorter steps, and the flat that ends its circle."""
    return known["tolerance"][name] + known["flat"][name]


def off_by(result, known):
    """The largest difference of a reading's temperature [K], and those of its two lethalities, relative."""
    reading = result.probe.reading
    time = np.arange(len(known["fine"]["reading_C"])) * known["every_s"]
    temperature = np.abs(np.interp(time, reading.time, reading.temperature) - known["fine"]["reading_C"]).max()
    names = {"lethality": "lethality_min", "heating_lethality": "heating_lethality_min"}
    return temperature, {
        name: abs(getattr(reading, name) / 60.0 / known["fine"][theirs] - 1.0) for name, theirs in names.items()
    }


@pytest.mark.long
def test_the_reference_knows_itself_well_enough(compared):
    _, known = compared
    assert tolerance(known, "temperature_K") < 0.04
    assert tolerance(known, "lethality") < 0.0025


@pytest.mark.long
def test_reading_from_the_side_agrees_within_a_thirtieth_of_a_kelvin(compared):
    result, known = compared
    temperature, _ = off_by(result, known)
    assert temperature < 0.033
    assert_allclose(result.probe.reading.end_of_heating, known["fine"]["end_of_heating_C"], rtol=0, atol=0.01)


@pytest.mark.long
def test_lethality_from_the_side_agrees_within_a_quarter_of_a_hundredth(compared):
    result, known = compared
    assert max(off_by(result, known)[1].values()) < 0.0025


@pytest.mark.long
def test_what_is_stated_covers_the_difference_and_is_no_more_than_three_times_what_it_may_be(compared):
    result, known = compared
    temperature, lethality = off_by(result, known)
    stated = result.uncertainty["probe.reading.temperature"]
    least = tolerance(known, "temperature_K")
    assert temperature < stated + least
    assert stated < 3.0 * (temperature + least)
    for name, off in lethality.items():
        stated = result.uncertainty[f"probe.reading.{name}"] / getattr(result.probe.reading, name)
        least = tolerance(known, "lethality")
        assert off < stated + least
        assert stated < 3.0 * (off + least)
