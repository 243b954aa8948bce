"""What runs of scans, tornados and spreads say is what the same cases say when simulated by themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.interpolate import CubicSpline
from study_scenes import BARE, STEM, Here, study_case

from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate, simulate_container, with_probe
from thermsim.assess.study.plan import ALONG
from thermsim.assess.study.robust_depth import robust_depth
from thermsim.assess.study.sampling import plan_of
from thermsim.assess.study.sensitivity import sobol_indices, tornado
from thermsim.case.file.reader import case_from_text
from thermsim.errors import InputError
from thermsim.records.study.running import run_study
from thermsim.records.study.sentences import study_answer, study_tables
from thermsim.records.study.summary import study_summary
from thermsim.systems import shown_in

#: Filled below the lid, with steam that gives way to water: both cold spots move.
FILLED = (
    BARE.replace("headspace_mm = 0", "headspace_mm = 8")
    .replace("z_C = 10 }", "z_C = 10, target_min = 3 }")
    .replace("60.0 }]", '60.0 }, { name = "cool", minutes = 0, to_C = 25 }, { name = "cool", minutes = 15 }]')
)  # fmt: skip


def found(study, text=FILLED):
    return run_study(study_case(study, text), executor=Here())


def alone(*changes, text=FILLED):
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return simulate(case_from_text(text))


def test_a_scan_of_one_quantity_is_its_cases_one_by_one():
    result = found(
        '[study]\nkind = "scan"\nvary = [{ key = "fill.headspace_mm", values = [4, 16] }]\nrequired_hold = true\n'
    )
    assert result.failures == {}
    for run, height in enumerate((4, 16)):
        one = alone(("headspace_mm = 8", f"headspace_mm = {height}"))
        least = one.cold_spot.least_lethality
        assert result.figures["least_lethality"][run] == least.lethality
        assert (result.figures["least_r"][run], result.figures["least_z"][run]) == (least.r, least.z)
        assert result.figures["slowest_z"][run] == one.cold_spot.slowest_heating.z
        assert result.figures["required_hold"][run] == one.target.required_hold
        assert_allclose(result.figures["surface_z"][run], 0.110 - height / 1000, rtol=1e-12)
    ((title, rows),) = study_tables(result)
    assert title == ""
    assert rows[0][:3] == ["fill.headspace_mm", "least F0 min", "z of it mm"]
    assert [row[0] for row in rows[1:]] == ["4", "16"]
    assert rows[1][1] == f"{result.figures['least_lethality'][0] / 60:.2f}"


@pytest.mark.long
def test_a_scan_of_two_quantities_crosses_them_and_may_move_the_probe():
    study = """[study]
kind = "scan"
vary = [{ key = "fill.headspace_mm", values = [4, 12] }, { key = "probe.insertion_mm", values = [30, 45, 60] }]
"""
    result = found(study, FILLED + STEM)
    assert result.failures == {}
    assert [tuple(row) for row in result.plan.values] == [(a, b) for a in (4, 12) for b in (30, 45, 60)]
    one = alone(
        ("headspace_mm = 8", "headspace_mm = 12"), ("sensing", "insertion_mm = 45\nsensing"), text=FILLED + STEM
    )
    assert result.figures["reading_lethality"][4] == one.probe.reading.lethality
    assert result.figures["bias"][4] == one.probe.at_cold_spot.lethality
    assert np.ptp(result.figures["bias"]) > 0.01
    tables = dict(study_tables(result))
    rows = tables["bias [%]: fill.headspace_mm downwards, probe.insertion_mm to the right"]
    assert rows[0] == ["", "30", "45", "60"]
    assert rows[2][2] == f"{100 * one.probe.at_cold_spot.lethality:.1f}"


def test_a_tornado_ranks_its_quantities_by_how_far_they_move_a_figure():
    study = """[study]
kind = "tornado"
vary = [{ key = "fill.headspace_mm", low = 7.9, high = 8.1 },
        { key = "materials.paste.conductivity_W_mK", low = 0.45, high = 0.55 }]
"""
    result = found(study)
    assert [list(row) for row in result.plan.values] == [[8, 0.5], [7.9, 0.5], [8.1, 0.5], [8, 0.45], [8, 0.55]]
    first, second = tornado(result, "least_lethality")
    assert (first.quantity, second.quantity) == (1, 0)
    assert first.base == second.base == alone().cold_spot.least_lethality.lethality
    better = alone(("conductivity_W_mK = 0.5,", "conductivity_W_mK = 0.55,"))
    assert first.high == better.cold_spot.least_lethality.lethality
    assert first.low < first.base < first.high  # what conducts better heats sooner
    lines = study_answer(result)
    assert any(line.startswith("materials.paste.conductivity_W_mK = 0.55") for line in lines)
    with shown_in("us"):
        ((_, (heads, as_it_is, *_)),) = study_tables(result)
    place, end = (result.figures[name][0] for name in ("least_z", "slowest_end_of_heating"))
    inches, degrees = heads.index("z of it in"), heads.index("slowest T degF")
    assert as_it_is[inches] == f"{place / 0.0254:.3f}" and as_it_is[degrees] == f"{1.8 * end + 32.0:.1f}"


def test_a_tornado_may_set_what_the_case_leaves_open():
    study = '[study]\nkind = "tornado"\nvary = [{ key = "probe.insertion_mm", low = 40, high = 50 }]\n'
    result = found(study, FILLED + STEM)
    assert math.isnan(result.plan.values[0, 0])
    assert result.failures == {}
    assert math.isnan(result.figures["bias"][0])  # as the case is, nothing is read
    assert np.isfinite(result.figures["bias"][1:]).all()


@pytest.mark.long
def test_a_latin_hypercube_fills_every_part_of_each_distribution_once():
    study = """[study]
kind = "spread"
sampler = "latin hypercube"
samples = 10
seed = {seed}
indices = false
vary = [{{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 }},
        {{ key = "process.film_W_m2K", distribution = "triangular", low = 100, mode = 200, high = 400 }}]
"""
    result = found(study.format(seed=4))
    assert result.failures == {}
    starts, films = result.plan.values.T
    assert sorted(np.floor((starts - 20) / 2)) == list(range(10))
    # the distribution function of a triangle, by its two areas
    below = np.where(films < 200, (films - 100) ** 2 / (300 * 100), 1 - (400 - films) ** 2 / (300 * 200))
    assert sorted(np.floor(10 * below)) == list(range(10))
    # every run is the case with its own numbers: a warmer start gives more
    one = alone(
        ("initial_C = 30", f"initial_C = {float(starts[3])!r}"),
        ("film_W_m2K = 180", f"film_W_m2K = {float(films[3])!r}"),
    )
    assert result.figures["least_lethality"][3] == one.cold_spot.least_lethality.lethality
    assert sobol_indices(result, result.figures["least_lethality"]) is None
    assert not np.array_equal(plan_of(study_case(study.format(seed=5), FILLED)).values, result.plan.values)
    np.testing.assert_array_equal(plan_of(study_case(study.format(seed=4), FILLED)).values, result.plan.values)


@pytest.fixture(scope="module")
def depths():
    study = """[study]
kind = "spread"
samples = 4
seed = 2
indices = false
recommend_depth = true
tip_tolerance_mm = 1
vary = [{ key = "fill.headspace_mm", distribution = "uniform", low = 6, high = 12 },
        { key = "process.film_W_m2K", distribution = "discrete", values = [150, 300] }]
"""
    return found(study, FILLED + STEM)


@pytest.mark.long
def test_recommended_depths_are_those_of_the_cases_alone(depths):
    assert depths.failures == {}
    height, film = depths.plan.values[1].tolist()
    text = (
        (FILLED + STEM).replace("headspace_mm = 8", f"headspace_mm = {height!r}").replace("K = 180", f"K = {film!r}")
    )
    advice = recommend(case_from_text(text)).advice.own.recommended("least lethality")
    # the ladder of a study has fewer rungs than that of a recommendation
    assert_allclose(depths.figures["recommended_depth"][1], advice.depth, rtol=0, atol=0.3e-3)
    assert_allclose(depths.figures["over_reading"][1], advice.over_reading, rtol=0, atol=2e-3)
    assert_allclose(depths.figures["mismatch"][1], advice.mismatch, rtol=0, atol=2e-3)
    # and along the depths the best mismatch is there, and every figure is that of the recommended depth
    mismatch = depths.along["mismatch"][1]
    known = np.isfinite(mismatch)
    assert mismatch[known].min() > advice.mismatch - 0.012
    for name in ALONG:
        there = np.interp(advice.depth, depths.plan.depths[known], depths.along[name][1][known])
        assert_allclose(there, getattr(advice, name), rtol=0, atol=0.01, err_msg=name)


def by_hand(height, film, wanted):
    """Mismatch and over-reading until heating ends at depths solved one by one, from the curves."""
    text = (
        (FILLED + STEM).replace("headspace_mm = 8", f"headspace_mm = {height!r}").replace("K = 180", f"K = {film!r}")
    )
    case = case_from_text(text)
    bare, refined = simulate_container(case.replace(probe=None))
    place = bare.spots[0]
    time = np.linspace(0.0, place.time[-1], 4001)

    def rate(curve):
        return 10.0 ** ((CubicSpline(curve.time, curve.temperature)(time) - 121.1) / 10.0)

    true, heats = rate(place), time <= 3600.0
    rows = []
    for depth in wanted:
        placed = case.probe.at_depth(float(depth), case.container)
        read = rate(with_probe(bare, refined, case.replace(probe=placed)).probe.reading)
        rows.append((
            np.trapezoid(np.abs(read - true), time) / np.trapezoid(true, time),
            np.trapezoid(read[heats], time[heats]) / np.trapezoid(true[heats], time[heats]) - 1.0,
        ))  # fmt: skip
    return np.array(rows).T


@pytest.mark.long
def test_one_depth_is_found_for_all(depths):
    robust = robust_depth(depths)
    # brute force: in every run a depth each 2 mm, and at each place of the tip the worst of the runs
    step = np.arange(16.5, 33.0, 2.0) * 1e-3  # from the headspace of 12 mm downwards
    runs = [CubicSpline(step, by_hand(*values, step), axis=1) for values in depths.plan.values.tolist()]
    best = []
    for depth in np.arange(step[0] + 1e-3, step[-1] - 1e-3, 0.1e-3):
        tips = np.concatenate([run(np.linspace(depth - 1e-3, depth + 1e-3, 9)) for run in runs], axis=1)
        best.append((depth, *tips.max(axis=1)))
    tried, worst, over = np.array(best).T
    alike = worst <= worst.min() + 0.01
    expected = tried[alike][np.maximum(over[alike], 0.0).argmin()]
    at_found = np.interp(robust.best, tried, worst)
    assert tried[0] < expected < tried[-1]
    # 0.3 points: the grids of a study's runs are the two coarser ones
    assert_allclose(robust.worst[robust.chosen], at_found, rtol=0, atol=0.003)
    assert at_found <= worst.min() + 0.01 + 0.003
    assert_allclose(robust.heating[2, robust.chosen], np.interp(robust.best, tried, over), rtol=0, atol=0.005)
    assert abs(robust.best - expected) < 0.5e-3 or np.interp(robust.best, tried, over) < over[alike].min() + 0.005
    said = " ".join(" ".join(study_answer(depths)).split())
    assert f"Depth for all {1e3 * robust.best:.1f} mm, the tip within 1 mm of it: over 4 runs the mismatch" in said
    assert f"is at most {100 * robust.worst[robust.chosen]:.1f} %" in said
    tree = study_summary(depths)
    assert tree["robust_depth"]["depth_mm"] == 1e3 * robust.best
    assert tree["robust_depth"]["mismatch_percent"] == 100 * robust.worst[robust.chosen]
    assert tree["robust_depth"]["measure_better"] is None


def test_a_study_of_a_file_needs_its_text():
    with pytest.raises(InputError, match=r"has no \[study\]"):
        run_study(case_from_text(BARE, name="bare.toml"), executor=Here())
    case = study_case('[study]\nkind = "scan"\nvary = [{ key = "fill.headspace_mm", values = [4, 16] }]\n')
    with pytest.raises(InputError, match="came without its text: give run_study vary"):
        run_study(case.replace(text=""), executor=Here())
