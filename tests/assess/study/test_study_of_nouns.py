"""Studies that vary the case itself: over arrays and distributions, with or without a file behind it.

Rung: hand-worked, and the same study through a case's file.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats
from small_cans import small_can
from study_scenes import Here

from thermsim import load_study, run_study, save_study, simulate
from thermsim.case.study import Study
from thermsim.case.variation import with_numbers
from thermsim.errors import InputError

CASE = small_can(fill_height=0.062)


def depth_and_conductivity(task):
    """In place of a simulation: what the case of the run says."""
    case = task.setup.varied(task.values)
    return {"least_lethality": case.product.material.conductivity, "least_z": case.fill_height}, {}


def studied(vary, **options):
    return run_study(CASE, vary, executor=Here(), compute=depth_and_conductivity, **options)


def test_arrays_are_laid_on_a_grid_the_last_changing_fastest():
    depths, conductivities = np.array([0.050, 0.060]), (0.5, 0.6, 0.7)
    found = studied({"fill.height": depths, "product.material.conductivity": conductivities})
    assert_array_equal(found.values["fill.height"], np.repeat(depths, 3))
    assert_array_equal(found.values["product.material.conductivity"], np.tile(conductivities, 2))
    assert_array_equal(found.figures["least_z"], np.repeat(depths, 3))
    assert_array_equal(found.figures["least_lethality"], np.tile(conductivities, 2))
    assert not CASE.text and found.failures == {}


def test_distributions_are_drawn_from_by_their_own_quantiles():
    law = stats.norm(0.055, scale=0.002)
    found = studied({"fill.height": law})
    drawn = np.sort(found.values["fill.height"])
    # a scrambled Sobol sample holds one point in each of as many equal parts of the distribution
    assert_array_equal(np.floor(64 * law.cdf(drawn)), np.arange(64))
    assert found.plan.study.vary[0].distribution == "norm(0.055, scale=0.002)"
    again = studied(Study.of({"fill.height": law}, samples=8, indices=True, seed=2))
    assert again.plan.runs == 24 and not np.isin(again.values["fill.height"], drawn).any()


def test_a_value_that_cannot_be_is_the_failure_of_its_run_alone():
    found = studied({"fill.height": [0.050, 0.080]})
    assert list(found.failures) == [1] and "more than the container's inner height, 70 mm" in found.failures[1]
    frame = found.to_dataframe()
    assert list(frame.columns[:2]) == ["fill.height", "least_lethality"]
    assert frame["fill.height"].tolist() == [0.050, 0.080] and frame["failure"][0] == ""
    assert np.isnan(frame["least_z"][1]) and "70 mm" in frame["failure"][1]


@pytest.mark.parametrize(
    ("vary", "refusal"),
    [
        ({}, "vary names no quantity"),
        ({"fill.heigth": [0.05]}, 'did you mean "fill.height"'),
        ({"fill.height": []}, "a list of finite numbers"),
        ({"fill.height": [0.05, np.nan]}, "a list of finite numbers"),
        ({"fill.height": "deep"}, "a list of finite numbers"),
        ({"fill.height": [0.05], "product.initial": stats.norm(40.0, 1.0)}, "mixes values and distributions"),
        ({"fill.height": np.linspace(0.05, 0.06, 500), "product.initial": np.linspace(1, 9, 500)}, "at most 200000"),
    ],
)
def test_what_cannot_be_varied_is_refused(vary, refusal):
    with pytest.raises(InputError, match=refusal):
        studied(vary)
    with pytest.raises(InputError, match="samples = 6 must be a power of 2"):
        Study.of({"fill.height": stats.norm(0.05, 0.01)}, samples=6)


@pytest.mark.parametrize("vary", [{"fill.height": [0.05, 0.06]}, {"fill.height": stats.uniform(0.05, 0.01)}])
def test_a_study_without_a_file_is_kept_and_goes_on_after_a_stop(vary, tmp_path):
    found = studied(vary, journal=tmp_path / "runs")
    save_study(found, tmp_path / "study.h5")
    read = load_study(tmp_path / "study.h5")
    assert read.case.replace(study=None) == CASE and read.plan.places == found.plan.places
    assert_array_equal(read.values["fill.height"], found.values["fill.height"])
    assert_array_equal(read.figures["least_z"], found.figures["least_z"])

    def refused(task):
        raise AssertionError("the journal holds every run")

    again = run_study(CASE, vary, executor=Here(), compute=refused, journal=tmp_path / "runs")
    assert_array_equal(again.figures["least_z"], found.figures["least_z"])
    other = CASE.replace(process=CASE.process.with_hold(1000.0))
    with pytest.raises(InputError, match=r"process\.stages\.1\.time was .* and is"):
        run_study(other, vary, executor=Here(), compute=refused, journal=tmp_path / "runs")


def test_runs_are_those_of_the_varied_case():
    found = run_study(CASE, {"fill.height": [0.050]}, executor=Here())
    spot = simulate(with_numbers(CASE, {"fill.height": 0.050})).cold_spot.least_lethality
    assert_allclose(found.figures["least_lethality"], [spot.lethality], rtol=1e-12)
