"""The lines of a verdict, on both sides of each limit; the deviations of a table of holds.

Rung: hand-worked. Figures of a made-up comparison are set to what a line goes by.
"""

import dataclasses
from types import SimpleNamespace

import pytest
from measured_runs import CAN, made_comparison
from numpy.testing import assert_allclose
from small_case import SMALL, changed

from thermsim.assess.curves.fit import Estimate
from thermsim.assess.curves.straight_part import Break
from thermsim.assess.measured import process_design
from thermsim.assess.measured.comparison import _designed, _with_gas_for, slowest_of
from thermsim.assess.measured.doubts.explanation import Depth
from thermsim.assess.measured.doubts.failure import Failure
from thermsim.assess.measured.result import Deviations, Limits, Misfit, Plan
from thermsim.assess.measured.verdict import verdict
from thermsim.case.file.reader import case_from_text
from thermsim.case.process import Process, Stage
from thermsim.case.product import Headspace
from thermsim.errors import CaseError
from thermsim.notice import Notice

LIMITS = Limits(rms_K=0.3, largest_K=1.5, f_percent=5.0, j_percent=10.0, break_ratio=1.3, depth_percent=15.0)


@pytest.fixture
def one():
    """A container whose reading is the fitted model's, with nothing to say against it."""
    made = made_comparison().containers[1]
    fit = dataclasses.replace(made.fit, rms=0.1, estimates=())
    heating = dataclasses.replace(made.heating, broken=Break(1200.0, 1000.0, 1100.0, 0.0))
    fitted = dataclasses.replace(made.fitted, misfit=Misfit(0.0, 0.1, -0.4, 600.0), heating=heating)
    return dataclasses.replace(made, fit=fit, fitted=fitted, heating=heating, depth=None)


def lines(*containers, target=None, slowest=0):
    found = verdict(CAN, containers, Plan(limits=LIMITS), slowest, target)
    return {check.name.removeprefix('"B": '): check for check in found}


@pytest.mark.parametrize(
    ("rms", "largest", "within"), [(0.1, -1.4, True), (0.31, 0.4, False), (0.1, -1.6, False), (0.1, 1.6, False)]
)
def test_residuals_must_be_small_on_the_whole_and_everywhere(one, rms, largest, within):
    fitted = dataclasses.replace(one.fitted, misfit=Misfit(0.0, rms, largest, 600.0))
    check = lines(dataclasses.replace(one, fit=dataclasses.replace(one.fit, rms=rms), fitted=fitted))["residuals"]
    assert check.within is within
    assert check.statement == f"root mean square {rms:.2f} K, largest {largest:+.2f} K at 10.0 min"


@pytest.mark.parametrize(("f", "j", "within"), [
    (1.04, 1.09, (True, True)), (0.96, 0.91, (True, True)), (1.06, 1.0, (False, True)), (1.0, 0.89, (True, False)),
])  # fmt: skip
def test_both_factors_are_held_against_the_models(one, f, j, within):
    line = one.heating.line
    read = dataclasses.replace(one.heating, line=dataclasses.replace(line, f=f * line.f, j=j * line.j))
    found = lines(dataclasses.replace(one, heating=read))
    for name, part, good in zip("fj", (f, j), within, strict=True):
        check = found[f"{name}h against conduction"]
        assert check.within is good
        assert check.statement == f"{100 * (part - 1):+.1f} % of the fitted model's reading"


@pytest.mark.parametrize(("after", "better", "within", "said"), [
    (1.2, 20.0, True, "no break"), (1.4, 20.0, False, "slower at 20.0 min: f changes 1.40 times"),
    (0.6, 20.0, False, "faster at 20.0 min: f changes 1.67 times"), (1.4, 5.0, True, "no break"),
])  # fmt: skip
def test_a_break_beyond_that_of_conduction_counts(one, after, better, within, said):
    """By conduction the slope factor changes by a tenth in any case."""
    read = dataclasses.replace(one.heating, broken=Break(1200.0, 1000.0, 1100.0 * after, better))
    check = lines(dataclasses.replace(one, heating=read))["broken heating"]
    assert check.within is within and said in check.statement


def at_depth(one, name, insertion, read, predicted):
    general = dataclasses.replace(one.general, lethality=read)
    return dataclasses.replace(
        one, name=name, insertion=insertion, own_depth=True, general=general, predicted=predicted
    )


@pytest.mark.parametrize(("read", "within"), [(1.14, True), (0.86, True), (1.16, False), (0.84, False)])
def test_readings_at_other_depths_are_held_against_those_predicted(one, read, within):
    own = dataclasses.replace(one, general=dataclasses.replace(one.general, lethality=600.0))
    deeper = at_depth(one, "D", 0.055, read * 700.0, 700.0)
    found = lines(own, deeper)
    check = found['"D", 55.0 mm deep']
    assert check.within is within and f"reads {100 * (read - 1):+.1f} % against the model" in check.statement
    # whoever is lowest where the other was predicted to be is told
    spot = found["cold spot"]
    assert spot.within is (read > 600 / 700)
    lowest = own.insertion if read > 600 / 700 else deeper.insertion
    assert spot.statement == (
        f"the least lethality was read {1e3 * lowest:.1f} mm deep; predicted at {1e3 * own.insertion:.1f} mm"
    )


@pytest.mark.parametrize(("target", "within"), [(580.0, True), (595.0, False), (610.0, False)])
def test_the_target_is_held_against_the_least_that_interval_and_numbers_leave(one, target, within):
    for low, numerical, least in ((590.0, 1.0, 590.0), (599.0, 12.0, 588.0)):
        spot = dataclasses.replace(one.corrected, lethality=600.0, low=low, high=640.0, numerical=numerical)
        check = lines(dataclasses.replace(one, corrected=spot), target=target)["target in the slowest container"]
        assert check.within is within and check.target
        assert check.statement.startswith(f'10.00 min at the cold spot of "B", at least {least / 60:.2f} min by')


def test_each_row_of_the_holds_has_its_own_deviation_and_the_last_has_all(monkeypatch):
    """Five minutes of come-up, a hold up to 50 min, then a fall to the water's temperature."""
    monkeypatch.setattr(process_design, "_row", lambda name, case, target, planned: (name, case, target, planned))
    slower = CAN.replace(title="slower")
    found = process_design.design(CAN, slower, 300.0, Deviations(medium_K=2.0, initial_K=3.0, come_up_percent=20.0))
    names, cases, targets, planned = zip(*found, strict=True)
    assert names == (
        "as planned", "medium 2 K lower while heating", "product 3 K colder at the start", "come-up 20 % longer",
        "diffusivity at the low end of its interval", "all of these together",
    )  # fmt: skip
    assert set(targets) == {300.0} and set(planned) == {3000.0}
    assert [case.title == "slower" for case in cases] == [False] * 4 + [True] * 2
    assert all(case.probe is None for case in cases)
    usual = CAN.process.stages
    for case, lower, colder, longer in zip(
        cases, (0, 2, 0, 0, 0, 2), (0, 0, 3, 0, 0, 3), (0, 0, 0, 60, 0, 60), strict=True
    ):
        come_up, hold, cool = case.process.stages
        assert_allclose(case.product.initial, CAN.product.initial - colder)
        assert_allclose(come_up.time, [0.0, 300.0 + longer])
        assert_allclose(hold.time, usual[1].time + longer)
        assert_allclose(cool.time, usual[2].time + longer)
        assert_allclose(come_up.medium, usual[0].medium - lower)
        assert_allclose(hold.medium, usual[1].medium - lower)
        assert_allclose(cool.medium, usual[2].medium)


def test_without_a_come_up_there_is_none_to_be_longer(monkeypatch):
    monkeypatch.setattr(process_design, "_row", lambda name, case, target, planned: name)
    process = Process((dataclasses.replace(CAN.process.stages[1], time=[0.0, 2700.0]),))
    names = process_design.design(CAN.replace(process=process), None, 300.0, Deviations())
    assert not [name for name in names if "come-up" in name or "diffusivity" in name] and len(names) == 4


def with_estimates(one, **values):
    estimates = tuple(Estimate(name, value, value, value, value, False) for name, value in values.items())
    return dataclasses.replace(one, fit=dataclasses.replace(one.fit, estimates=estimates))


@pytest.mark.parametrize(("offset", "within"), [(59.0, True), (-59.0, True), (61.0, False), (-61.0, False)])
def test_clocks_that_are_one_are_told_once_and_those_of_their_own_each_by_itself(one, offset, within):
    cans = [dataclasses.replace(with_estimates(one, offset=offset), name=name) for name in "AC"]
    own = dataclasses.replace(cans[1], own_clock=True)
    for containers, names in (
        (cans, ["clocks"]),
        ([cans[0], own], ["clocks", '"C": clocks']),
        ([own], ['"C": clocks']),
    ):
        found = {name: check for name, check in lines(*containers).items() if name.endswith("clocks")}
        assert list(found) == names
        for check in found.values():
            assert check.within is within and f"ahead of the medium's by {offset:+.1f} s" in check.statement
            assert check.limit == "60 s either way"
    # of a column that is no record of food nothing is said
    lost = dataclasses.replace(cans[0], failure=Failure("freezes", 600.0))
    assert not [name for name in lines(lost) if "clocks" in name]


@pytest.mark.parametrize(("part", "within"), [(1.14, True), (0.86, True), (1.16, False), (0.84, False)])
def test_the_fitted_diffusivity_is_held_against_the_cases(one, part, within):
    check = lines(with_estimates(one, diffusivity=part * CAN.product.material.diffusivity))
    check = check["diffusivity against the case's"]
    assert check.within is within and check.statement == f"{100 * (part - 1):+.1f} %"


@pytest.mark.parametrize(
    ("code", "within"),
    [("", True), ("depth-in-doubt", False), ("columns-swapped", False), ("depth-not-confirmed", None)],
)
def test_the_tips_depth_is_as_said_where_nothing_speaks_against_it(one, code, within):
    flags = (Notice(code, "warning", "logger", "A flag."),) if code else ()
    depth = Depth(0.0411, 0.0395, 0.0422, 0.5)
    check = lines(dataclasses.replace(one, insertion=0.040, depth=depth, flags=flags))["depth of the tip"]
    assert check.within is within
    assert (check.statement, check.limit) == ("its curve is that of 41.1 (39.5 to 42.2) mm", "40 mm, as said")


@pytest.mark.parametrize(("f", "lethality", "within"), [
    (1.09, 1.28, (True, True)), (1.12, 1.0, (False, True)), (1.0, 1.4, (True, False)),
])  # fmt: skip
def test_containers_alike_must_agree_and_the_slowest_is_named(one, f, lethality, within):
    """Largest less smallest, of the mean: 10 % of slopes and 30 % of lethalities."""
    line = one.heating.line
    faster = dataclasses.replace(one.heating, line=dataclasses.replace(line, f=f * line.f))
    spot = dataclasses.replace(one.corrected, lethality=lethality * one.corrected.lethality)
    other = dataclasses.replace(one, name="C", heating=faster, corrected=spot)
    found = lines(one, other, slowest=1)
    for what, times, good in zip(("fh", "lethality"), (f, lethality), within, strict=True):
        check = found[f"containers alike: {what}"]
        spread = 100 * (times - 1) / ((times + 1) / 2)
        assert check.within is good
        assert check.statement == f'2 containers differ by up to {spread:.1f} %; slowest: "C"'
    assert not [name for name in lines(one, dataclasses.replace(other, own_depth=True)) if "alike" in name]
    # one without a straight part leaves its slope untold
    bent = dataclasses.replace(other, heating=dataclasses.replace(other.heating, line=None))
    assert lines(one, bent)["containers alike: fh"].within is None


def test_nothing_fitted_is_told_of_nothing_and_an_uncorrected_reading_reaches_no_target(one):
    bare = dataclasses.replace(one, fit=None, fitted=None, corrected=None)
    (check,) = lines(bare, target=300.0).values()
    assert check.within is None and "not corrected for its probe" in check.statement
    assert f'"B" reads {one.general.lethality / 60:.2f} min' in check.statement
    doubted = dataclasses.replace(one, flags=(Notice("depth-in-doubt", "danger", "logger", "A flag."),))
    least = min(one.corrected.low, one.corrected.lethality - one.corrected.numerical, one.lethality)
    for target, within in ((least - 1.0, None), (least + 1.0, False)):
        check = lines(doubted, target=target)["target in the slowest container"]
        assert check.within is within and "whose figures are in doubt" in check.statement


def test_holds_are_of_the_planned_start_and_of_the_slowest_product_that_the_fit_allows(one):
    model = SimpleNamespace(case=CAN, case_with=lambda values: (tuple(values), 0.0))
    estimates = made_comparison().containers[1].fit.estimates
    factor, _, clock = estimates
    fit = dataclasses.replace(one.fit, estimates=estimates)
    as_found, slowest = _designed(model, fit)
    assert as_found == (factor.value, CAN.product.initial, clock.value)
    assert slowest == (factor.low, CAN.product.initial, clock.value)
    # no diffusivity was fitted: there is no slower one
    assert _designed(model, dataclasses.replace(fit, estimates=estimates[1:])) == ((30.0, clock.value), None)


def test_holds_are_of_the_slowest_container_that_stands(one):
    flag = Notice("depth-in-doubt", "danger", "logger", "A flag.")
    cans = [
        dataclasses.replace(
            one, corrected=dataclasses.replace(one.corrected, lethality=lethality), flags=(flag,) if doubted else ()
        )
        for lethality, doubted in ((400.0, False), (300.0, True), (350.0, False))
    ]
    assert slowest_of(cans) == (1, 2)
    assert slowest_of(cans[:2]) == (1, 0) and slowest_of(cans[1:2]) == (0, 0)
    unfinished = dataclasses.replace(cans[2], seen=1.0)
    assert slowest_of([cans[0], unfinished]) == (0, 0) and slowest_of([unfinished]) == (0, 0)


def test_a_retort_that_goes_beyond_the_plan_does_not_leave_the_headspaces_gas_unknown():
    """The plan of the small jar lies between 30 and 118 degC, and starts at 40."""
    gas = 'model = "humid"\nemissivity_product = 0.9\nemissivity_lid = 0.85\nsealed_at_C = 40'
    case = case_from_text(changed(('model = "insulated"', gas), text=SMALL))
    films = case.process.stages[0].film
    hold = Stage("hold", [0.0, 3600.0], [119.5, 119.5], films)
    run = Process((hold, Stage("cool", [3600.0, 4800.0], [119.5, 18.0], films)))
    with pytest.raises(CaseError, match="properties are known from 29 to 118 degC"):
        case.replace(process=run)
    wide = _with_gas_for(case, run)
    for start in (11.0, 69.0):
        tried = wide.replace(process=run, product=dataclasses.replace(case.product, initial=start))
        known = tried.headspace.material.tabulated.temperature
        assert known[0] <= tried.met[0] and known[-1] >= tried.met[1]
    # what it conducts like is what it did
    planned = case.headspace.material.at(100.0), wide.headspace.material.at(100.0)
    assert_allclose(planned[1].conductivity, planned[0].conductivity, rtol=1e-3)
    bare = case.replace(headspace=Headspace("insulated"))
    assert _with_gas_for(bare, run) is bare
