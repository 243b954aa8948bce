"""One depth for all runs of a spread against a table worked out by hand.

Three cans whose reading rises by 1 % for each mm that the tip goes deeper, and is right at 46, 48 and 54 mm. The
worst error is smallest in the middle between the outermost, 50 mm, where it is 4 %; the mean size of the error is
smallest at the median, 48 mm: (2 + 0 + 6)/3 %.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from study_scenes import BARE, STEM, Here, smooth, study_case

from thermsim.assess.study.cautions import notices_of_study
from thermsim.assess.study.plan import StudyResult
from thermsim.assess.study.robust_depth import robust_depth
from thermsim.assess.study.sampling import plan_of
from thermsim.records.study.running import run_study
from thermsim.records.study.sentences import study_answer

MM = 1e-3
RIGHT = np.array([46.0, 48.0, 54.0]) * MM
SLOPE = 10.0  # of the error over the depth [1/m]
SPREAD = """
[study]
kind = "spread"
samples = 4
indices = false
recommend_depth = true
vary = [{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 }]
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
    return StudyResult(case, plan, figures, SLOPE * (depths - held[:, None]), {3: "made to fail"})


def at(robust, depth):
    return int(np.abs(robust.depth - depth).argmin())


def test_the_smallest_worst_case_is_in_the_middle_of_the_outermost():
    robust = robust_depth(spread())
    k = robust.minimax
    assert_allclose(robust.best, 50 * MM, atol=1e-9)
    # the curves are straight, and splines through straight lines are exact
    assert_allclose([robust.worst[k], robust.lowest[k], robust.highest[k]], [0.04, -0.04, 0.04], atol=1e-9)
    assert_allclose(robust.expected[k], (4 + 2 - 4) / 300, atol=1e-9)
    assert robust.runs == 3


def test_the_smallest_mean_error_is_at_the_median():
    robust = robust_depth(spread())
    assert_allclose(robust.depth[robust.least_mean], 48 * MM, atol=1e-9)
    assert_allclose(robust.mean_error[robust.least_mean], (2 + 0 + 6) / 300, atol=1e-9)
    assert_allclose(robust.mean_error[robust.minimax], (4 + 2 + 4) / 300, atol=1e-9)


def test_how_often_the_tip_lies_in_the_window_is_counted():
    robust = robust_depth(spread())
    # windows 42.9 to 49.1, 44.9 to 51.1 and 50.9 to 57.1 mm
    assert_allclose([robust.within[at(robust, depth * MM)] for depth in (44, 47, 50, 51, 54, 59)],
                    np.array([1, 2, 1, 2, 1, 0]) / 3)  # fmt: skip


def test_a_tolerance_of_the_tip_widens_the_errors_and_takes_its_ends_off():
    robust = robust_depth(spread(tolerance=1 * MM))
    assert_allclose([robust.depth[0], robust.depth[-1]], [41 * MM, 59 * MM], atol=1e-9)
    assert_allclose(robust.best, 50 * MM, atol=1e-9)
    assert_allclose(robust.worst[robust.minimax], 0.05, atol=1e-9)
    # of nine tips from 49 to 51 mm: one in the first window, all in the second, one in the third
    assert_allclose(robust.within[robust.minimax], 11 / 27)


def test_depths_that_are_not_possible_in_every_run_are_left_out():
    result = spread()
    errors = result.over_reading.copy()
    errors[0, :2], errors[1, -1] = np.nan, np.nan
    robust = robust_depth(dataclasses.replace(result, over_reading=errors))
    assert_allclose([robust.depth[0], robust.depth[-1]], [44 * MM, 58 * MM], atol=1e-9)
    errors[0, :9] = np.nan
    assert robust_depth(dataclasses.replace(result, over_reading=errors)) is None


def test_without_a_good_run_there_is_no_depth():
    result = spread()
    assert robust_depth(dataclasses.replace(result, failures=dict.fromkeys(range(4), "no"))) is None


def test_a_tolerance_wider_than_all_depths_leaves_none():
    assert robust_depth(spread(tolerance=10 * MM)) is None


TWO = """
[study]
kind = "spread"
samples = 16
recommend_depth = true
vary = [{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 },
        { key = "process.film_W_m2K", distribution = "uniform", low = 200, high = 400 }]
"""


@pytest.mark.parametrize("telling", [0, 1])
def test_what_to_measure_better_is_what_the_error_hangs_on(telling):
    def compute(task):
        place = (task.values[telling] - (30, 300)[telling]) / (10, 100)[telling]  # from -1 to 1
        figures, _ = smooth(task)
        depth = (50 + 3 * place) * MM
        figures |= {"recommended_depth": depth, "window_low": depth - 2 * MM, "window_high": depth + 2 * MM}
        return figures, tuple(SLOPE * (x - depth) for x in task.setup.depths)

    result = run_study(study_case(TWO, BARE + STEM), executor=Here(), compute=compute)
    robust = robust_depth(result)
    assert robust.to_measure() == telling
    assert_allclose(robust.error_indices.total[1 - telling], 0.0, atol=1e-9)
    # the variance is that of one quantity: its total index is 1, but for the spread of 16 points
    assert_allclose(robust.error_indices.total[telling], 1.0, atol=0.25)
    right = result.figures["recommended_depth"][result.plan.independent]
    assert_allclose(robust.best, (right.min() + right.max()) / 2, atol=0.05 * MM)  # a grid of some 0.1 mm
    said = " ".join(" ".join(study_answer(result)).split())
    key = ("product.initial_C", "process.film_W_m2K")[telling]
    assert f"Measure better {key}: measuring it better reduces that error most" in said
    assert f"Depth for all {1e3 * robust.best:.1f} mm" in said


def test_no_indices_no_advice_what_to_measure():
    robust = robust_depth(spread())
    assert robust.to_measure() is None
    assert "not known: indices = false in [study]" in " ".join(" ".join(study_answer(full(spread()))).split())


def test_a_missed_target_and_a_probe_that_reads_unsafely_are_said_before_the_figures():
    result = full(spread())
    assert [notice.code for notice in notices_of_study(result)] == ["runs-failed"]  # no target, nothing of a bias
    wanted = dataclasses.replace(result.case.lethality, target=305.0)
    case = result.case.replace(lethality=wanted)
    biased = {**result.figures, "heating_bias": np.array([0.47, 0.86, 0.01, math.nan])}
    result = dataclasses.replace(result, case=case, figures=biased)
    said = {notice.code: notice for notice in notices_of_study(result)}
    # of three runs that did not fail one stays below 305 s, and two are above 5 % while heating
    assert said["target-missed"].text == "The target, F = 5.08333 min, is NOT reached in 1 of 3 runs."
    unsafe = said["probe-unsafe-side"]
    assert "UNSAFE SIDE: until heating ends the probe itself adds +1 to +86 % of lethality" in unsafe.text
    assert "in 2 of 3 runs more than the 5 %" in unsafe.text
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
