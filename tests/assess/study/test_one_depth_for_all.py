"""One depth for all runs of a spread against a table worked out by hand.

Three cans whose reading is right at 46, 48 and 54 mm: 1 % more is read until heating ends for each mm that the tip is
deeper, and the mismatch is 2 % and 0.05 % for each square millimetre off. The worst mismatch is least in the middle
between the outermost, 50 mm, where it is 2 + 0.05 * 16 = 2.8 %. Within a point of that, up to 3.8 %, are depths up to
6 mm from both, 48 to 52 mm; of these the one that over-reads least in the worst can is 48 mm, with 2 %.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from study_scenes import BARE, STEM, Here, along, smooth, study_case

from thermsim import case_from_text
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.study.cautions import notices_of_study
from thermsim.assess.study.plan import ALONG, StudyResult
from thermsim.assess.study.robust_depth import robust_depth
from thermsim.assess.study.sampling import plan_of
from thermsim.records.study.running import run_study
from thermsim.records.study.sentences import study_answer

MM = 1e-3
RIGHT = np.array([46.0, 48.0, 54.0]) * MM
SPREAD = """
[study]
kind = "spread"
samples = 4
indices = false
recommend_depth = true
vary = [{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 }]
"""
SCAN_OF_TWO = """
[study]
kind = "scan"
recommend_depth = true
vary = [{ key = "product.initial_C", values = [30.0, 40.0] }]
"""


def spread(right=RIGHT, *, reach=3.1 * MM, tolerance=0.0, depths=None, failed=()):
    """A spread whose runs read right at some depths; the fourth run fails."""
    case = study_case(SPREAD, BARE + STEM)
    plan = plan_of(case)
    depths = np.linspace(40 * MM, 60 * MM, 11) if depths is None else depths
    study = dataclasses.replace(plan.study, tip_tolerance=tolerance)
    plan = dataclasses.replace(plan, depths=depths, study=study)
    held = np.append(right, np.nan)
    figures = {"recommended_depth": held, "window_low": held - reach, "window_high": held + reach}
    runs = [along(depths, one) for one in held]
    tables = {name: np.array([run[name] for run in runs]) for name in ALONG}
    return StudyResult(case, plan, figures, tables, {3: "made to fail"})


def at(robust, depth):
    return int(np.abs(robust.depth - depth).argmin())


def test_of_the_depths_with_the_least_worst_mismatch_the_one_that_over_reads_least_is_chosen():
    robust = robust_depth(spread())
    # curves that are parabolas and lines: splines through them are exact; a grid of 1/30 mm holds 48 and 50 mm
    assert_allclose(robust.worst[at(robust, 50 * MM)], 0.028, atol=1e-9)
    assert_allclose(robust.worst.min(), 0.028, atol=1e-9)
    assert_allclose(robust.best, 48 * MM, atol=0.034 * MM)  # its worst, 3.8 %, is just within a point
    k = at(robust, 48 * MM)
    assert_allclose(robust.worst[k], 0.038, atol=1e-9)
    assert_allclose(robust.heating[:, k], [-0.06, (2 + 0 - 6) / 300, 0.02], atol=1e-9)
    assert_allclose(robust.in_all[:, k], [-0.03, (2 + 0 - 6) / 600, 0.01], atol=1e-9)
    assert robust.runs == 3
    assert not robust.choice.at_limit
    # the window: a worst mismatch up to 2 points above the least, within sqrt(56) mm of both 46 and 54 mm
    assert_allclose(robust.choice.window, np.array([54 - 56**0.5, 46 + 56**0.5]) * MM, atol=0.034 * MM)


def test_no_error_cancels_and_the_total_has_no_say():
    result = spread()
    tables = {**result.along, "over_reading": np.zeros_like(result.along["over_reading"])}
    assert robust_depth(dataclasses.replace(result, along=tables)).best == robust_depth(result).best


def test_a_run_is_good_by_mismatch_and_over_reading_at_every_place_of_the_tip():
    robust = robust_depth(spread())
    # at 48 mm all are, at 52 the one that is right at 46 reads 6 % more; at 44 one has 2 + 0.05 * 100 = 7 % mismatch
    assert [robust.good[at(robust, depth * MM)] for depth in (48, 52, 44)] == [3, 2, 2]
    robust = robust_depth(spread(tolerance=1.5 * MM))
    assert robust.good[at(robust, 50 * MM)] == 2  # at 51.5 mm it reads 5.5 % more
    said = " ".join(" ".join(study_answer(full(spread()))).split())
    assert "3.8 %, 2.7 % on average (good in all)" in said
    assert "it reads -6.0 to +2.0 % until heating ends, -3.0 to +1.0 % in all" in said


def test_the_least_mean_mismatch_is_at_the_mean():
    robust = robust_depth(spread())
    middle = (46 + 48 + 54) / 3
    assert_allclose(robust.depth[robust.least_mean], middle * MM, atol=1e-9)
    spread_about = sum((right - middle) ** 2 for right in (46, 48, 54)) / 3
    assert_allclose(robust.mean[robust.least_mean], 0.02 + 0.0005 * spread_about, atol=1e-9)


def test_how_often_the_tip_lies_in_the_window_is_counted():
    robust = robust_depth(spread())
    # windows 42.9 to 49.1, 44.9 to 51.1 and 50.9 to 57.1 mm
    assert_allclose([robust.within[at(robust, depth * MM)] for depth in (44, 47, 50, 51, 54, 59)],
                    np.array([1, 2, 1, 2, 1, 0]) / 3)  # fmt: skip


def test_a_tolerance_of_the_tip_widens_the_errors_and_takes_its_ends_off():
    robust = robust_depth(spread(tolerance=1 * MM))
    assert_allclose([robust.depth[0], robust.depth[-1]], [41 * MM, 59 * MM], atol=1e-9)
    assert_allclose(robust.worst[at(robust, 50 * MM)], 0.02 + 0.0005 * 5**2, atol=1e-9)
    # within a point of that: 0.0005 * x**2 up to 0.0225 with x = 54 mm less the depth and 1 mm more
    assert_allclose(robust.best, (55 - 45**0.5) * MM, atol=0.031 * MM)
    # of nine tips from 47.3 to 49.3 mm: eight in the first window, all in the second, none in the third
    assert_allclose(robust.within[robust.chosen], 17 / 27)


def test_depths_that_are_not_possible_in_every_run_are_left_out():
    result = spread()

    def without(*places):
        tables = {name: values.copy() for name, values in result.along.items()}
        for values in tables.values():
            for place in places:
                values[place] = np.nan
        return robust_depth(dataclasses.replace(result, along=tables))

    robust = without(np.s_[0, :2], np.s_[1, -1])
    assert_allclose([robust.depth[0], robust.depth[-1]], [44 * MM, 58 * MM], atol=1e-9)
    assert without(np.s_[0, :9]) is None


def test_without_a_good_run_there_is_no_depth():
    result = spread()
    assert robust_depth(dataclasses.replace(result, failures=dict.fromkeys(range(4), "no"))) is None


def test_a_tolerance_wider_than_all_depths_leaves_none():
    assert robust_depth(spread(tolerance=10 * MM)) is None


TWO = """
[study]
kind = "spread"
samples = 64
recommend_depth = true
vary = [{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 },
        { key = "process.film_W_m2K", distribution = "uniform", low = 200, high = 400 }]
"""


@pytest.mark.parametrize("telling", [0, pytest.param(1, marks=pytest.mark.long)])
def test_what_to_measure_better_is_what_the_error_hangs_on(telling):
    def compute(task):
        place = (task.values[telling] - (30, 300)[telling]) / (10, 100)[telling]  # from -1 to 1
        figures, _ = smooth(task)
        depth = (50 + 3 * place) * MM
        figures |= {"recommended_depth": depth, "window_low": depth - 2 * MM, "window_high": depth + 2 * MM}
        return figures, along(task.setup.depths, depth)

    result = run_study(study_case(TWO, BARE + STEM), executor=Here(), compute=compute)
    robust = robust_depth(result)
    assert robust.to_measure() == telling
    assert_allclose(robust.mismatch_indices.total[1 - telling], 0.0, atol=1e-9)
    # the variance is that of one quantity: its total index is 1, but for the spread of 64 points
    assert_allclose(robust.mismatch_indices.total[telling], 1.0, atol=0.25)
    right = result.figures["recommended_depth"][result.plan.independent] / MM
    # within a point of the worst mismatch in the middle between the outermost, as shallow as that allows
    farthest = (20 + (np.ptp(right) / 2) ** 2) ** 0.5
    assert_allclose(robust.best, (right.max() - farthest) * MM, atol=0.1 * MM)  # a grid of some 0.1 mm
    said = " ".join(" ".join(study_answer(result)).split())
    key = ("product.initial_C", "process.film_W_m2K")[telling]
    assert f"Measure better {key}: measuring it better reduces that mismatch most" in said
    assert f"Depth for all {1e3 * robust.best:.1f} mm" in said


def test_no_indices_no_advice_what_to_measure():
    robust = robust_depth(spread())
    assert robust.to_measure() is None
    assert "not known: indices = false in [study]" in " ".join(" ".join(study_answer(full(spread()))).split())


def test_a_missed_target_and_a_probe_that_reads_unsafely_are_said_before_the_figures():
    result = full(spread())
    # no target, nothing of a bias; of the product's flow the case says nothing
    assert [notice.code for notice in notices_of_study(result)] == ["flow-not-looked-at", "runs-failed"]
    wanted = dataclasses.replace(result.case.lethality, target=305.0)
    case = result.case.replace(lethality=wanted)
    biased = {
        **result.figures,
        "heating_over_reading": np.array([0.47, -0.1, 0.01, math.nan]),
        "over_reading": np.array([-0.02, 0.03, 0.02, math.nan]),
        "heating_bias": np.array([0.9, 0.9, 0.9, math.nan]),  # a stem that warms its tip is not unsafe by itself
    }
    result = dataclasses.replace(result, case=case, figures=biased)
    said = {notice.code: notice for notice in notices_of_study(result)}
    # of three runs that did not fail one stays below 305 s, one reads high while heating and one in all
    assert said["target-missed"].text == "The target, F0 = 5.08333 min, is NOT reached in 1 of 3 runs."
    unsafe = said["probe-unsafe-side"]
    assert "the probe reads -10.0 to +47.0 % of lethality until heating ends, -2.0 to +3.0 % in all" in unsafe.text
    assert "in 2 of 3 runs more than 2 % too much" in unsafe.text
    assert [unsafe.severity, said["target-missed"].severity] == ["danger", "danger"]
    lines = study_answer(result)
    places = [k for k, line in enumerate(lines) if line.startswith("DANGER")]
    assert len(places) == 2
    assert places[-1] < lines.index("")


def full(result):
    """The same with every figure."""
    every = {figure.name: np.full(4, math.nan) for figure in result.plan.figures}
    return dataclasses.replace(
        result, figures={**every, "least_lethality": np.array([300.0, 310.0, 320.0, math.nan]), **result.figures}
    )  # noqa: E501


@pytest.mark.long
def test_a_probe_from_the_side_whose_height_is_left_out_is_at_that_of_each_runs_cold_spot():
    """Beside :func:`recommend` of the case that the run is of."""
    stem = STEM.replace('entry = "lid"', 'entry = "side"')
    assert stem != STEM
    case = study_case(SCAN_OF_TWO, BARE + stem)
    result = run_study(case)
    assert dict(result.failures) == {}
    found = recommend(case_from_text(BARE + stem)).advice.own.recommended("least lethality")
    # rungs of a study and of one depth are the same
    assert_allclose(result.figures["recommended_depth"][0], found.depth, rtol=0, atol=0.2 * MM)
