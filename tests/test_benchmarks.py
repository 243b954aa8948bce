"""Rung: exact solution and hand-worked. The benchmarks run, their reference is right, their verdicts are sound."""

from __future__ import annotations

import ast
import dataclasses
import json
import subprocess
import sys
from pathlib import Path

import mutants
import numpy as np
import pytest
from compare import Comparison, remember, told
from contestants.jar import PERIODS, Period, bare_product, composite_jar
from contestants.lethality import lethality
from contestants.reference import reference_of
from contestants.table import Chosen, table
from contestants.trbdf2 import steps_of
from contestants.trial import TARGETS, Trial, best
from contestants.volumes import volumes_of
from honesty import table_of
from machine import fitted_exponent
from mutation import operators

from thermsim.exact.bodies import FiniteCylinder

BENCHMARKS = Path(__file__).parent.parent / "benchmarks"


def runs(script, *words):
    done = subprocess.run([sys.executable, str(BENCHMARKS / script), *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.whole
def test_peers_run(tmp_path):
    said = runs("peers.py", "--smoke", "--only", "quads", "--out", str(tmp_path))
    assert "| 0.1 K, 1 % | thermsim | " in said
    assert (tmp_path / "peers.png").is_file()
    assert json.loads((tmp_path / "peers.json").read_text("utf-8"))["trials"]["thermsim"]


@pytest.mark.long
def test_comparison_of_the_checkout_with_itself_runs_and_finds_the_same():
    assert "answer differs by 0.0e+00" in runs("compare.py", "--smoke")


def test_honesty_counts_what_lies_within_what_is_stated_and_twice_that():
    # errors of a half, one and a half and three times what is stated, and none at all, which tells nothing of caution
    (_, line) = table_of({"a figure": [(0.5, 1.0), (3.0, 2.0), (0.3, 0.1), (0.0, 1.0)]}).splitlines()
    assert line.split() == ["a", "figure", "4", "50.0%", "75.0%", "3.00", "0.7"]


def test_each_listed_fault_has_its_place_in_the_package(capsys):
    found = [changed.change for _, changed in mutants.listed("")]
    assert (capsys.readouterr().out, len(found)) == ("", len(set(found)))


def test_each_kind_of_change_is_made_where_it_stands(tmp_path):
    text = """def least(low, high):
    if low < high and not (low is None):
        return {"low": low, "both": (low, high)}[f"{2 * high:.1f}"]
    return max(high - 1.5, -low)
"""
    path = tmp_path / "module.py"
    path.write_text(text, "utf-8")
    sites = [operators.site(path, tmp_path, k) for k in range(operators.count(path))]
    assert all(one.function == "least" and one.file == "module.py" for one in sites)
    changed = [one.text for one in sites]
    assert len(set(changed)) == len(changed) and ast.unparse(ast.parse(text)) + "\n" not in changed
    wanted = (
        "low <= high", "or not low is None", "not not low is None", "if not (", "is not None", "(high, low)",
        "{2 / high:", "{3 * high:", "high + 1.5", "high - 2.25", "+low", "min(high",
        "max(-low, high - 1.5)", "'low': high",
    )  # fmt: skip
    for piece in wanted:
        assert sum(piece in one for one in changed) >= 1, piece


@pytest.mark.long
def test_the_reference_is_the_series_of_a_homogeneous_cylinder():
    """Closed form: product of the series of cylinder and slab, medium linear piece by piece (one film throughout)."""
    periods = tuple(dataclasses.replace(period, film=450.0) for period in PERIODS)
    jar = dataclasses.replace(bare_product(), periods=periods)
    curves = reference_of(jar, degree=4).at(jar.places)
    exact = FiniteCylinder(0.033, 0.101, 0.55, 1050.0, 3700.0, 450.0, 450.0, 450.0)
    time = np.array([120.0, 300.0, 720.0, 2000.0, 5220.0, 6000.0, 7320.0])
    knots = [0.0, *(period.end for period in periods)]
    medium = [periods[0].medium, *(period.medium_end for period in periods)]
    for n, (r, z) in enumerate(jar.places):
        right = exact.temperature([r], [z], time, initial=40.0, medium_time=knots, medium=medium)[:, 0, 0]
        # degree 4 differs from 5 by 1e-3 K at the first of these times
        np.testing.assert_allclose(curves.temperature(time)[:, n], right, rtol=0, atol=2e-3)


def test_lethality_of_a_straight_ramp_is_the_closed_form():
    """F = z/(slope ln 10) (10^((T1 - ref)/z) - 10^((T0 - ref)/z)), by hand."""
    time = np.linspace(0.0, 600.0, 21)
    temperature = 100.0 + 0.03 * time
    exact = 10.0 / (0.03 * np.log(10.0)) * (10 ** ((118.0 - 121.1) / 10) - 10 ** ((100.0 - 121.1) / 10))
    # four Gauss points on steps over which the rate grows by a fifth
    np.testing.assert_allclose(lethality(time, temperature[:, None], [300.0, 600.0]), [exact], rtol=1e-9)


def test_finite_volumes_conserve_and_are_symmetric():
    cells = volumes_of(composite_jar(), finest=2e-3, widest=1e-2, growth=0.3)
    matrix = cells.conduction.toarray()
    np.testing.assert_allclose(matrix.sum(axis=1), 0.0, atol=1e-12 * abs(matrix).max())
    np.testing.assert_array_equal(matrix, matrix.T)
    jar = composite_jar()
    ring = np.pi * np.diff(jar.columns**2)[:, None] * np.diff(jar.levels)
    np.testing.assert_allclose(cells.heat.sum(), (jar.heat * ring).sum(), rtol=1e-12)


@pytest.mark.parametrize("step", [7.0, 30.0, 1000.0])
def test_steps_cover_a_period(step):
    steps = list(steps_of(Period(100.0, 820.0, 40.0, 118.0, 450.0), step))
    np.testing.assert_allclose([time + h for time, h in steps], [*(time for time, _ in steps[1:]), 820.0], rtol=1e-12)
    assert max(h for _, h in steps) <= step


def trial(seconds, error, lethality_error=0.0):
    return Trial({"accuracy": error}, seconds, error, error, lethality_error, 100, 10, None)


def test_the_quickest_trial_that_keeps_both_errors_is_chosen():
    tried = [trial(0.1, 0.09), trial(0.2, 0.01), trial(0.15, 0.015, 0.01), trial(0.3, 0.001)]
    assert best(tried, TARGETS[0]) is tried[0]
    assert best(tried, TARGETS[1]) is tried[1]
    assert best(tried[:1], TARGETS[2]) is None


def test_what_is_not_reached_or_not_installed_is_said_so():
    from contestants.entries import ENTRIES

    own, other, third = ENTRIES[:3]
    chosen = [Chosen(one, TARGETS[0], trial(s, 0.05), warm=[s]) for one, s in ((own, 0.1), (other, 0.2))]
    rows = table(chosen, (own, other, third), {third.name: "not installed here"}).splitlines()
    assert "| 2.00 |" in rows[3]
    assert "not installed here" in rows[4]
    assert "not reached with any setting tried" in rows[5]


def test_exponent_of_a_power_is_found():
    size = [1e3, 1e4, 1e5]
    assert fitted_exponent(size, [3e-6 * n**1.25 for n in size]) == pytest.approx(1.25, rel=1e-12)


def compared(new):
    return Comparison("jar", "aaa", "bbb", old_s=(1.0,) * len(new), new_s=tuple(new), old_answer=2.0, new_answer=2.0)


def test_slower_needs_a_middle_ratio_and_most_turns():
    assert compared([1.2, 1.3, 1.2, 1.25]).slower(1.1)
    assert not compared([1.2, 1.3, 1.2]).slower(1.1)  # too few turns
    assert not compared([1.05] * 6).slower(1.1)
    assert not compared([0.6, 0.9, 1.2, 1.2, 1.3]).slower(1.2)  # a quarter says quicker
    assert not compared([0.5] * 5).slower(1.1)


def test_history_keeps_what_was_compared(tmp_path):
    file = tmp_path / "history.jsonl"
    remember([compared([1.2, 1.3, 1.2, 1.25]), Comparison("can", "aaa", "bbb", failed="no such name")], file)
    (line,) = file.read_text("utf-8").splitlines()
    found = json.loads(line)
    assert found["ratio"] == pytest.approx(1.225)
    assert found["machine"]["cores"] >= 1
    assert "jar" in told(file)
    assert "ratio 1.225" in told(file)
