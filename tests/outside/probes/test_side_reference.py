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


def test_the_reference_knows_itself_ten_times_better_than_it_is_asked(compared):
    _, known = compared
    assert known["tolerance"]["temperature_K"] < 0.03
    assert known["tolerance"]["lethality"] < 0.001


def test_reading_from_the_side_agrees_within_a_tenth_of_a_kelvin(compared):
    result, known = compared
    reading = result.probe.reading
    time = np.arange(len(known["fine"]["reading_C"])) * known["every_s"]
    ours = np.interp(time, reading.time, reading.temperature)
    assert_allclose(ours, known["fine"]["reading_C"], rtol=0, atol=0.1)
    assert_allclose(reading.end_of_heating, known["fine"]["end_of_heating_C"], rtol=0, atol=0.03)


def test_lethality_from_the_side_agrees_within_a_hundredth(compared):
    result, known = compared
    reading = result.probe.reading
    found = reading.lethality / 60.0, reading.heating_lethality / 60.0
    assert_allclose(found, [known["fine"][name] for name in ("lethality_min", "heating_lethality_min")], rtol=0.01)


def test_the_difference_is_within_what_is_said_to_be_uncertain(compared):
    result, known = compared
    off = abs(result.probe.reading.lethality / 60.0 / known["fine"]["lethality_min"] - 1.0)
    said = result.uncertainty["probe.reading.lethality"] / result.probe.reading.lethality
    assert off < 2.0 * (said + known["tolerance"]["lethality"])
