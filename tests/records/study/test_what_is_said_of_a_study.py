"""What screen and JSON say of a spread: percentiles over the independent runs, indices under their names.

Rung: hand-worked. Runs are made up; percentiles are taken here, of the runs that count.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose
from study_scenes import BARE, STEM, Here, few_resamples, smooth, study_case  # noqa: F401

from thermsim.assess.study.robust_depth import robust_depth
from thermsim.assess.study.sensitivity import sobol_indices
from thermsim.records.study.journal import _changes, _flat
from thermsim.records.study.running import run_study
from thermsim.records.study.sentences import ranked, study_answer
from thermsim.records.study.summary import study_summary

SPREAD = """
[study]
kind = "spread"
samples = 32
recommend_depth = true
vary = [{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 },
        { key = "process.film_W_m2K", distribution = "uniform", low = 150, high = 190 }]
"""


@pytest.fixture(scope="module")
def spread():
    return run_study(study_case(SPREAD, BARE + STEM), executor=Here(), compute=smooth)


def test_percentiles_are_over_the_independent_runs_lowest_first(spread):
    independent = spread.plan.matrix < 2
    assert 0 < independent.sum() < independent.size
    tree, text = study_summary(spread), " ".join(" ".join(study_answer(spread, full=True)).split())
    for name, key, scale in (("least_lethality", "least_lethality_min", 1 / 60), ("least_z", "least_z_mm", 1e3)):
        values = scale * spread.figures[name][independent]
        levels = np.percentile(values, (5, 50, 95))
        shown = tree["percentiles"][key]
        assert list(shown) == ["5", "50", "95"]
        assert_allclose(list(shown.values()), levels, rtol=1e-12)
        every = scale * spread.figures[name]
        assert np.abs(np.percentile(every, (5, 50, 95)) - levels).max() > 1e-6, "else this test could not fail"
    values = spread.figures["least_lethality"][independent] / 60
    row = [values.min(), *np.percentile(values, (5, 50, 95)), values.max()]
    assert " ".join(f"{value:.2f}" for value in row) in text


def test_indices_stand_under_their_names_and_are_ranked_by_the_total_one(spread):
    tree = study_summary(spread)
    for name, shown in tree["sobol_indices"].items():
        found = sobol_indices(spread, spread.figures[name])
        for k, place in enumerate(spread.plan.places):
            one = shown[place.path]
            assert_allclose([one["first"], one["total"]], [found.first[k], found.total[k]])
            assert_allclose(one["first_interval"], found.first_interval[k])
            assert_allclose(one["total_interval"], found.total_interval[k])
    found = sobol_indices(spread, spread.figures["least_z"])
    # the quantity with the larger total index has the smaller first one
    other = dataclasses.replace(found, first=np.array([0.9, 0.1]), total=np.array([0.3, 0.7]))
    told = ranked(spread, other)
    assert told.index("film") < told.index("initial")
    low, high = other.total_interval[1]
    assert f"0.70 ({low:.2f} to {high:.2f})" in told


def test_one_depth_for_all_goes_by_the_independent_runs_alone(spread):
    independent = spread.plan.matrix < 2
    robust = robust_depth(spread)
    assert robust.runs == independent.sum()
    depths = spread.plan.depths
    mismatch = spread.along["mismatch"][independent]
    for depth in depths[[5, 10, 15]]:
        k = int(np.argmin(np.abs(robust.depth - depth)))
        # parabolas, of which a spline is exact; looked at within half a step of the depths
        there = np.array([np.polyval(np.polyfit(depths, one, 2), robust.depth[k]) for one in mismatch])
        assert_allclose([robust.worst[k], robust.mean[k]], [there.max(), there.mean()], rtol=1e-6)
    # what the dependent runs say is another thing
    lost = np.where(independent[:, None], spread.along["mismatch"], 9.0)
    again = robust_depth(dataclasses.replace(spread, along={**spread.along, "mismatch": lost}))
    assert_allclose(again.worst, robust.worst, rtol=1e-9)
    tree = study_summary(spread)["robust_depth"]
    assert_allclose(tree["depth_mm"], 1e3 * robust.best)
    assert_allclose(tree["mismatch_percent"], 100 * robust.worst[robust.chosen])
    assert_allclose(tree["over_reading_percent"], 100 * robust.in_all[[0, 2], robust.chosen])
    assert_allclose(tree["heating_over_reading_percent"], 100 * robust.heating[[0, 2], robust.chosen])


def test_what_differs_between_two_cases_is_named_by_its_place_counted_from_one():
    was, now = (dict(_flat({"process": {"stage": [{"minutes": 1}, {"minutes": last}]}}, "")) for last in (2, 3))
    assert list(_changes(was, now)) == ["process.stage.2.minutes was 2 and is 3"]
    assert list(_changes(was, {})) == [
        "process.stage.1.minutes, which was 1, is gone", "process.stage.2.minutes, which was 2, is gone"
    ]  # fmt: skip


def test_a_journal_gives_back_figures_and_readings_along_the_depths(spread, tmp_path):
    made = []

    def once(task):
        made.append(task.index)
        return smooth(task)

    case = study_case(SPREAD, BARE + STEM)
    for _ in range(2):
        again = run_study(case, journal=tmp_path / "journal", executor=Here(), compute=once)
        assert len(made) == spread.plan.runs, "what is in the journal is not made again"
        for name, values in spread.figures.items():
            np.testing.assert_array_equal(again.figures[name], values)
        assert again.along.keys() == spread.along.keys()
        for name, values in spread.along.items():
            np.testing.assert_array_equal(again.along[name], values)
