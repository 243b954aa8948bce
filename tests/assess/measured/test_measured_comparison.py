"""Rung: hand-worked, and our own model as the truth. Several containers of one run: verdict, holds, notes."""

import dataclasses

import numpy as np
import pytest
from measured_runs import can
from numpy.testing import assert_allclose

from thermsim.assess.measured.comparison import compare
from thermsim.assess.measured.model import ProbeModel
from thermsim.assess.measured.process_design import design
from thermsim.assess.measured.result import Deviations, Plan
from thermsim.errors import InputError
from thermsim.loggers.run import Columns, run_from_bytes
from thermsim.records.measured.sentences import measured_answer

# what each verdict rests on is tested in test_verdict and test_faults in every run
pytestmark = pytest.mark.long

#: Insertion [m], diffusivity [m2/s]: two alike, one deeper.
CANS = {"A": (0.040, 1.36e-7), "B": (0.040, 1.40e-7), "C": (0.050, 1.36e-7)}
#: Lethality wanted [s]; the run gives a little more.
TARGET = can().lethality.target
COLUMNS = Columns(probes=("A", "B", "C"), medium="Retort", depths=(("C", 0.050),))


def record(case, cans=CANS, *, change=lambda name, time, reading: reading, every=30.0):
    """The bytes of a logger's file of what the model says."""
    time = np.arange(0.0, case.process.end + 1, every)
    chance = np.random.default_rng(99)
    columns = [time, case.process.medium_at(time)]
    for name, (insertion, diffusivity) in cans.items():
        probe = case.probe.at_depth(insertion, case.container)
        model = ProbeModel(case.replace(probe=probe), case.process, ("diffusivity",), time)
        reading = model.on_grids([diffusivity], finer=True).temperature
        columns.append(change(name, time, reading) + chance.normal(0, 0.05, time.size))
    lines = ["Time [s];Retort;" + ";".join(cans)]
    lines += [";".join(f"{value:.3f}" for value in row) for row in np.column_stack(columns)]
    return "\n".join(lines).encode()


@pytest.fixture(scope="module")
def found():
    case = can()
    return compare(case, run_from_bytes(record(case), COLUMNS), Plan(columns=COLUMNS))


def check(found, name):
    (one,) = [check for check in found.checks if check.name == name]
    return one


def test_each_container_has_its_own_fit_and_the_slowest_is_named(found):
    assert_allclose(
        [one.fit.value("diffusivity") for one in found.containers], [1.36e-7, 1.40e-7, 1.36e-7], rtol=0.01
    )
    assert found.containers[found.slowest].name in ("A", "C")
    assert 'slowest: "' in check(found, "containers alike: fh").statement
    assert [one.own_depth for one in found.containers] == [False, False, True]


def test_all_that_should_be_within_its_limits_is(found):
    assert [one.name for one in found.checks if one.within is False] == []


def test_the_reading_at_another_depth_is_the_one_predicted(found):
    deeper = check(found, '"C", 50.0 mm deep')
    assert deeper.within
    # the same container, so the prediction is off by noise alone
    assert_allclose(found.containers[2].predicted, found.containers[2].general.lethality, rtol=0.02)
    assert check(found, "cold spot").within


def test_measured_and_computed_factors_agree(found):
    for one in found.containers:
        assert_allclose(one.heating.line.f, one.fitted.heating.line.f, rtol=0.03)
        assert_allclose(one.heating.zero, 0.58 * 300.0, rtol=0.2)


def test_over_readings_are_what_the_logger_has_beyond_the_corrected_cold_spot(found):
    for one in found.containers:
        spot, read = one.corrected, one.general
        assert_allclose(spot.over_reading, read.lethality / spot.lethality - 1.0, rtol=1e-12)
        assert_allclose(spot.heating_over_reading, read.heating / spot.heating_lethality - 1.0, rtol=1e-12)
        assert spot.low < spot.lethality < spot.high


def test_the_correction_agrees_between_depths(found):
    first, _, third = (one.corrected.lethality for one in found.containers)
    # two probes of unlike bias in containers alike
    assert_allclose(first, third, rtol=0.02)


def test_holds_grow_with_every_deviation(found):
    rows = {row.name: row for row in found.design}
    planned = rows.pop("as planned")
    assert len(rows) == 5
    assert all(row.lethality < planned.lethality for row in rows.values())
    assert all(row.heating > planned.heating for row in rows.values())
    worst = rows["all of these together"]
    assert worst.heating == max(row.heating for row in rows.values())


def test_a_hold_that_was_found_reaches_the_target_again(found):
    case = can()
    row = next(row for row in found.design if row.name == "as planned")
    model = ProbeModel(case, case.process, ("diffusivity",), np.arange(0.0, 60.0, 30.0))
    slow = found.containers[found.slowest].fit.value("diffusivity")
    again = model.case_with([slow])[0].replace(process=case.process.with_hold(row.hold))
    (planned, *_) = design(again, None, TARGET, Deviations())
    assert_allclose(planned.lethality, TARGET, rtol=5e-3)


@pytest.mark.long
def test_a_plug_that_reads_wrong_leaves_the_limits():
    case = can()

    # from 25 min on product flows: it heats twice as fast
    def convecting(name, time, reading):
        return np.where(time > 1200.0, 121.0 - (121.0 - reading) * np.exp(-(time - 1200.0) / 900.0), reading)

    columns = Columns(probes=("A",), medium="Retort")
    data = record(case, {"A": CANS["A"]}, change=convecting)
    wrong = compare(case, run_from_bytes(data, columns), Plan(columns=columns, design=False))
    assert check(wrong, '"A": residuals').within is False


def test_a_target_is_reached_from_above_and_missed_below(found):
    met = check(found, "target in the slowest container")
    assert met.target
    for within, word in {True: "reached", False: "NOT reached", None: "cannot be told"}.items():
        told = dataclasses.replace(found, checks=(dataclasses.replace(met, within=within),))
        text = " ".join(" ".join(measured_answer(told)).split())
        assert f"Target {word}: {found.containers[found.slowest].lethality / 60:.2f} min at the cold spot of " in text
        assert f"numerical uncertainty; target {TARGET / 60:g} min" in text
        assert "within the limit" not in text
        assert "Outside limits nothing that was checked" in text


def test_nothing_fitted_leaves_the_reading_uncorrected_and_says_so():
    case = can()
    columns = Columns(probes=("A",), medium="Retort")
    plan = Plan(columns=columns, fit=(), credit=0.2, floor=3.0, straight=(1500.0, 2400.0))
    bare = compare(case, run_from_bytes(record(case), columns), plan)
    # what is asked of the factors is done: 80 % of a come-up of 300 s are not credited
    for of in (bare.containers[0].heating, bare.containers[0].as_case.heating):
        assert_allclose(of.zero, 0.8 * 300.0, rtol=0.2)
        assert not of.line.automatic
        assert of.line.start >= 1500.0 and of.line.end <= 2400.0
    assert bare.containers[0].corrected is None and bare.design == ()
    assert any(note.startswith("Nothing was fitted") for note in bare.notes)
    assert check(bare, "target in the slowest container").within is None


@pytest.mark.long
def test_without_a_medium_column_the_cases_own_process_holds():
    case = can()
    columns = Columns(probes=("A",))
    plain = compare(case, run_from_bytes(record(case), columns), Plan(columns=columns, design=False))
    assert plain.process is case.process and plain.design == ()
    assert_allclose(plain.containers[0].fit.value("diffusivity"), 1.36e-7, rtol=0.01)


@pytest.mark.long
def test_a_record_that_ends_early_is_said_to():
    case = can()
    columns = Columns(probes=("A",))
    short = record(case).decode().splitlines()[:110]
    found = compare(case, run_from_bytes("\n".join(short).encode(), columns), Plan(columns=columns, design=False))
    assert any("before the process: its own lethality lacks" in note for note in found.notes)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda case: case.replace(probe=None), "has no \\[probe\\] with its insertion_mm"),
        (lambda case: case.replace(probe=dataclasses.replace(case.probe, insertion=None)), "insertion_mm"),
    ],
)
def test_a_case_without_a_placed_probe_is_refused(change, said):
    case = can()
    with pytest.raises(InputError, match=said):
        compare(change(case), run_from_bytes(record(case), COLUMNS), Plan(columns=COLUMNS))


def test_a_depth_that_does_not_fit_is_refused():
    case = can()
    columns = Columns(probes=("A",), depths=(("A", 0.2),))
    with pytest.raises(InputError, match="must be above"):
        compare(case, run_from_bytes(record(case), columns), Plan(columns=columns))


def test_readings_that_no_food_can_have_are_refused():
    case = can()
    columns = Columns(probes=("A",), medium="Retort")
    data = record(case, {"A": CANS["A"]}, change=lambda name, time, reading: reading + 30.0)
    with pytest.raises(InputError, match="check the column and its unit"):
        compare(case, run_from_bytes(data, columns), Plan(columns=columns))
