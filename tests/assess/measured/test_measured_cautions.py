"""What is said of a comparison beside its figures, on both sides of each limit, with the numbers that it says.

Rung: hand-worked. Figures of a made-up comparison are set to what a caution goes by.
"""

import dataclasses

import numpy as np
import pytest
from measured_runs import CAN, TIME, made_comparison
from numpy.testing import assert_allclose

from thermsim.assess.curves.general_method import general_method
from thermsim.assess.measured.cautions import notices_on
from thermsim.assess.measured.doubts.common import Common, flags_of_causes
from thermsim.assess.measured.doubts.failure import Failure
from thermsim.assess.measured.doubts.whole_run import doubts_of_run, ended_later, flagged_by_run
from thermsim.assess.measured.fitting import _flags_of_fit
from thermsim.assess.measured.result import Limits, Plan
from thermsim.assess.measured.verdict import verdict
from thermsim.case.process import Process, Stage
from thermsim.loggers.run import Course
from thermsim.notice import Notice
from thermsim.records.measured.sentences import container_entries

FOUND = made_comparison()


def told(code, *changed, **changes):
    """What is said under a code of the made-up containers, with the first of them changed."""
    cans = (dataclasses.replace(FOUND.containers[0], **changes), *FOUND.containers[1:]) if changes else changed
    found = dataclasses.replace(FOUND, containers=cans or FOUND.containers)
    return [notice for notice in notices_on(found) if notice.code == code]


@pytest.mark.parametrize(("early", "whole", "said"), [
    (59.0, True, ""), (90.0, True, "ends 1.5 min before the process: its own lethality lacks what came after; "),
    (90.0, False, "lacks what came after."),
])  # fmt: skip
def test_a_reading_that_ends_before_the_process_is_said_to(early, whole, said):
    one = FOUND.containers[0]
    time = np.linspace(0.0, CAN.process.end - early, one.time.size)
    found = told("reading-ends-early", time=time, corrected=one.corrected if whole else None)
    assert [notice.figures["early"] for notice in found if said] == ([pytest.approx(early)] if said else [])
    assert bool(found) == bool(said) and all(said in notice.text for notice in found)


@pytest.mark.parametrize(("summed", "error", "said"), [
    (300.0, 2.9, ""), (300.0, 6.0, "+2.0 %"), (300.0, -6.0, "-2.0 %"), (0.0, 6.0, ""),
])  # fmt: skip
def test_samples_that_lie_too_far_apart_to_be_summed_are_said_to(summed, error, said):
    general = dataclasses.replace(FOUND.containers[0].general, trapezoids=summed, trapezoidal_error=error)
    found = told("sparse-samples", general=general)
    assert [f"sum to {said} too much" in notice.text for notice in found] == [True] * bool(said)
    assert [notice.figures["trapezoids_more"] for notice in found] == [pytest.approx(error / 300.0)] * bool(said)


def test_a_straight_part_that_begins_early_is_said_to_of_heating_where_it_was_found():
    one = FOUND.containers[0]
    for start, automatic, counts in ((900.0, True, 1), (1501.0, True, 0), (900.0, False, 0)):
        line = dataclasses.replace(one.heating.line, zero=300.0, start=start, f=1200.0, automatic=automatic)
        of = dataclasses.replace(one.heating, remark="", line=line)
        assert not told("straight-part-early", cooling=of)
        found = told("straight-part-early", heating=of)
        assert len(found) == counts and all("begins 0.50 f after the zero" in notice.text for notice in found)
    said = [notice.text for notice in told("factors-doubtful", cooling=None)]
    assert said[0] == f'"A", heating: {one.heating.remark}.' and f'"A", cooling: {one.cooling.remark}.' not in said


def test_what_a_fit_cannot_tell_is_said_with_its_names():
    one = FOUND.containers[0]
    (unlike, *_) = told("fit-indistinct")
    assert '"initial" and "offset" of "A" (correlation +0.970)' in unlike.text
    plain = dataclasses.replace(one, flags=())
    first, start, clock = one.fit.estimates
    at_bounds = (first, dataclasses.replace(start, at_bound=True), clock)
    fit = dataclasses.replace(one.fit, estimates=at_bounds, converged=False)
    bound, far, stopped = _flags_of_fit(plain, fit, CAN.lethality, Limits())
    assert 'the fit of "A" is stopped by what is allowed for "initial"' in bound.text
    assert bound.figures == {"initial": start.value} and bound.short == "initial at its bound"
    assert 'THE CLOCK OF "A" IS 5 min OR MORE AHEAD' in far.text and far.figures == {"offset": clock.value}
    assert '"A"' in stopped.text and {flag.severity for flag in (bound, far, stopped)} == {"danger"}
    # another lethality than the logger's is told of a fit that no bound explains
    free = tuple(dataclasses.replace(estimate, at_bound=False) for estimate in at_bounds)
    (reads,) = _flags_of_fit(plain, dataclasses.replace(fit, estimates=free, converged=True), CAN.lethality, Limits())
    assert reads.code == "fit-reads-otherwise" and reads.severity == "danger"
    # what is said of a fit leaves the container in doubt, wherever it is shown
    assert not dataclasses.replace(plain, flags=(bound,)).sound


@pytest.mark.parametrize(
    ("by", "flags", "said"), [(0.2, (), ""), (1.0, (), "25.9 % more"), (-1.0, (), "20.6 % less"), (1.0, None, "")]
)
def test_a_fitted_model_that_reads_another_lethality_than_the_logger_leaves_its_correction_in_doubt(by, flags, said):
    """Of a lethality all gathered near one temperature, z = 10 K: 1 K is 26 or -21 %, 0.2 K is 4.7 %."""
    one = FOUND.containers[0]
    read = general_method(TIME, one.temperature, CAN.lethality, heated_until=TIME[-1])
    fitted = dataclasses.replace(one.fitted, temperature=one.temperature + by)
    can = dataclasses.replace(one, general=read, fitted=fitted, flags=one.flags if flags is None else flags)
    fit = dataclasses.replace(one.fit, estimates=one.fit.estimates[:2])
    found = list(_flags_of_fit(can, fit, CAN.lethality, Limits()))
    assert [flag.code for flag in found] == ["fit-reads-otherwise"] * bool(said)
    for flag in found:
        assert_allclose(flag.figures["more"], 10.0 ** (by / 10.0) - 1.0, rtol=1e-6)
        assert (
            f"as fitted it reads {said} lethality than" in flag.text
            and not dataclasses.replace(can, flags=(flag,)).sound
        )
    (check,) = [one for one in verdict(CAN, [dataclasses.replace(can, own_depth=True)], Plan(), 0, None)
                if "lethality by the fit" in one.name]  # fmt: skip
    assert check.within == (abs(by) < 0.21)


def test_all_loggers_that_credit_too_much_are_named_and_the_brief_has_the_most():
    def credited(one, heating, whole=0.0, sure_to=0.001):
        known = FOUND.containers[0].corrected
        low, high = (part * known.lethality for part in (1.0 - sure_to, 1.0 + sure_to / 2.0))
        return dataclasses.replace(
            one,
            corrected=dataclasses.replace(
                known, low=low, high=high, numerical=0.0, heating_over_reading=heating, over_reading=whole
            ),
        )

    one, other, last = FOUND.containers
    (said,) = told("logger-unsafe-side", credited(one, 0.031), credited(other, -0.05, 0.12), credited(last, -0.2))
    assert (
        '"A" +3.1 % until heating ends, +0.0 % in all; "B" -5.0 %' in said.text
        and "up to +3.1 % until heating ends, +12.0 % in all." in said.brief
    )
    assert said.figures == {"heating_over_reading": 0.031, "over_reading": 0.12}
    # a phase in which all lie below is no part of the most
    (said,) = told("logger-unsafe-side", credited(one, -0.3, 0.1), credited(other, -0.2, 0.05))
    assert said.brief.endswith("up to +10.0 % in all.")
    # neither what is not notable nor what lies within the interval
    assert not told("logger-unsafe-side", credited(one, 0.019, 0.019), dataclasses.replace(last, corrected=None))
    assert not told("logger-unsafe-side", credited(one, 0.031, 0.02, sure_to=0.04))


@pytest.mark.parametrize(("gap", "gathered", "said"), [
    ((1200.0, 1560.0), 0.09, 'of the lethality, 9.0 % in "A" is read over it, along a straight line between two'),
    ((1200.0, 1560.0), 0.009, ""), ((1200.0, 1310.0), 0.09, ""),
    ((120.0, 480.0), 0.0, "is read over it, along a straight line between two samples; it lies in the come-up."),
])  # fmt: skip
def test_what_was_read_over_a_gap_in_time_is_a_caution_where_it_matters(gap, gathered, said):
    """A process of 5 min of come-up and heat up to 50 min; samples every 10 s but in the gap."""
    time = np.concatenate([np.arange(0.0, gap[0] + 1.0, 10.0), np.arange(gap[1], 4501.0, 10.0)])
    course = 600.0 * gathered * (time >= gap[1]) + 600.0 * (1.0 - gathered) * (time >= 4000.0)
    general = dataclasses.replace(FOUND.containers[0].general, course=course, lethality=600.0)
    one = dataclasses.replace(FOUND.containers[0], time=time, general=general)
    found = [
        notice
        for notice in notices_on(dataclasses.replace(FOUND, process=CAN.process, containers=(one,)))
        if notice.code == "gap-in-time"
    ]
    assert [said in notice.text for notice in found] == [True] * bool(said)
    for notice in found:
        assert f"from {gap[0] / 60:.4g} min on" in notice.brief and notice.pressing and notice.severity == "warning"
        assert notice.figures == {"first": gap[0], "last": gap[1], "part": pytest.approx(gathered)}


@pytest.mark.parametrize(("offset", "process", "own", "said"), [
    (180.0, "stages", False, "by the turn of \"A\" than by the case's process: at 53.0, not 50.0 min"),
    (-180.0, "retort.csv", False, 'HEATING ENDED 3.0 min EARLIER by the turn of "A" than by retort.csv: at'),
    (46.0, "stages", False, "HEATING ENDED 0.8 min later"), (44.0, "stages", False, ""),
    # a record falls within the 60 s between two of its samples
    (89.0, "retort.csv", False, ""), (91.0, "retort.csv", False, "1.5 min later"), (180.0, "stages", True, ""),
])  # fmt: skip
def test_heating_that_ended_at_another_time_by_the_turn_of_a_probe_is_a_danger(offset, process, own, said):
    """Samples every 30 s; heat up to 50 min."""
    one = FOUND.containers[0]
    estimates = tuple(
        dataclasses.replace(estimate, value=offset) if estimate.name == "offset" else estimate
        for estimate in one.fit.estimates
    )
    spot = dataclasses.replace(one.corrected, heating_over_reading=2.0)
    fit = dataclasses.replace(one.fit, estimates=estimates)
    cans = [dataclasses.replace(one, own_clock=own, corrected=spot, flags=(), fit=fit), *FOUND.containers[1:]]
    timed = Process(CAN.process.stages, process)
    doubts = list(doubts_of_run(CAN.process, timed, FOUND.run, cans))
    cans = tuple(flagged_by_run(doubts, can) for can in cans)
    of = dataclasses.replace(FOUND, containers=cans, process=timed, slowest=0, designed=0)
    of = dataclasses.replace(of, notices=tuple(notices_on(of)))
    found = {notice.code: notice for notice in of.notices}
    assert ("heating-ended-otherwise" in found) == bool(said)
    assert ("When heating ended is in doubt" in found["logger-unsafe-side"].brief) == bool(said)
    if said:
        notice = found["heating-ended-otherwise"]
        assert said in notice.short and notice.severity == "danger" and notice.figures == {"later": offset}
    # its corrected F, its factors and the holds by it carry the doubt, and no verdict reads as safe
    assert [cans[0].sound, cans[0].factors_stand, of.design_stands] == [not said] * 3
    checks = {check.name: check for check in verdict(CAN, cans, Plan(), 0, 60.0)}
    (clocks, *_) = [check for name, check in checks.items() if name.endswith("clocks")]
    assert clocks.within is (False if abs(offset) > 60.0 else None if said else True)
    assert checks["target in the slowest container"].within is (None if said else True)
    entries = dict(container_entries(of, cans[0]))
    assert [("IN DOUBT" in entries[name]) for name in ("Lethality read", "Logger's error")] == [bool(said)] * 2


@pytest.mark.parametrize(("fell", "source", "said"), [
    (2820.0, "retort.csv", '3.0 min EARLIER by the logger\'s column "Retort" than by retort.csv: at 47.0, not 50.0'),
    (2970.0, "retort.csv", ""), (2820.0, "stages", ""),
])  # fmt: skip
def test_the_loggers_column_of_the_medium_is_held_against_the_record_of_the_case(fell, source, said):
    time = np.arange(0.0, 4501.0, 30.0)
    medium = Course("Retort", time, np.interp(time, [0.0, 300.0, fell, fell + 60.0], [40.0, 121.0, 121.0, 20.0]))
    run = dataclasses.replace(FOUND.run, medium=medium)
    case = CAN.replace(process=Process(CAN.process.stages, source))
    found = [one for one in notices_on(dataclasses.replace(FOUND, run=run, case=case))
             if one.code == "heating-ended-otherwise"]  # fmt: skip
    assert [said in one.short for one in found] == [True] * bool(said)
    # the holds go by the case's record
    assert dataclasses.replace(FOUND, designed=1, notices=tuple(found)).design_stands is not bool(said)


def test_when_a_record_of_the_medium_has_the_end_of_heating_goes_by_its_own_samples():
    """A fall over 2 min that four samples of the logger's column tell is no fall between two of them."""
    time = np.arange(0.0, 4501.0, 30.0)
    medium = Course("Retort", time, np.interp(time, [0.0, 300.0, 3000.0, 3120.0], [40.0, 121.0, 121.0, 25.0]))
    come_up, hold, _ = CAN.process.stages
    cool = Stage("cool", [3000.0, 3120.0, 4500.0], [121.0, 25.0, 25.0], hold.film)
    one = FOUND.containers[0]
    fit = dataclasses.replace(one.fit, estimates=(dataclasses.replace(one.fit.estimates[2], value=-60.0),))
    one = dataclasses.replace(one, fit=fit)
    recorded = Process((come_up, hold, cool), "run.csv")
    rare = Course("Retort", time[::2], medium.temperature[::2])
    later = [ended_later(recorded, dataclasses.replace(FOUND.run, medium=by), one) for by in (medium, rare, None)]
    assert later == [-60.0, 0.0, 0.0]


@pytest.mark.parametrize(("cooling", "said"), [
    (600.0, "HEATING ENDED 40.0 min later by the column \"Retort\" than by what is said: at 50.0, not 10.0 min"),
    (3080.0, "HEATING ENDED 1.3 min EARLIER"), (3050.0, ""), (2850.0, ""), (None, ""),
])  # fmt: skip
def test_a_cooling_that_is_said_to_start_while_the_medium_is_hot_leaves_all_in_doubt(cooling, said):
    time = np.arange(0.0, 4501.0, 30.0)
    medium = Course("Retort", time, np.interp(time, [0.0, 300.0, 3000.0, 3060.0], [40.0, 121.0, 121.0, 20.0]))
    columns = dataclasses.replace(FOUND.run.columns, cooling=cooling)
    run = dataclasses.replace(FOUND.run, medium=medium, columns=columns)
    doubts = [
        one for one in doubts_of_run(CAN.process, CAN.process, run, FOUND.containers) if one.row[-5:] == "when?"
    ]
    assert [said in doubt.said.short for doubt in doubts] == [True] * bool(said)
    assert all(doubt.names == ("A", "B", "C") and doubt.said.severity == "danger" for doubt in doubts)


def test_a_wrong_depth_that_all_cans_share_is_named_once_and_before_single_cans():
    shared = flags_of_causes([Common(9.0, 0.0061)], 2, 3)[0]
    assert shared.text.startswith("2 OF 3 TIPS READ AS IF 6 mm deeper than said. Check the drawing")
    assert flags_of_causes([Common(9.0, -0.004)], 3, 3)[0].text.startswith(
        "ALL 3 TIPS READ AS IF 4 mm less deep than said"
    )
    cans = [dataclasses.replace(one, flags=(shared, *one.flags)) for one in FOUND.containers]
    (said,) = told("all-depths-in-doubt", *cans)
    assert (said.short, said.severity) == (shared.text, "danger") and shared.short == "all tips 6 mm deeper?"
    codes = [notice.code for notice in notices_on(dataclasses.replace(FOUND, containers=tuple(cans)))]
    assert codes.index("all-depths-in-doubt") < codes.index("depth-in-doubt")


@pytest.mark.parametrize(("sizes", "code", "said"), [
    ((2.4, 2.6, 2.5), "calibration-in-doubt", "ALL 3 PROBES READ AS IF +2.5 K OFF: check what they share before"),
    ((-75.0, -80.0), "clock-in-doubt", "ALL 2 PROBES HAVE A CLOCK AS IF -78 s AHEAD"),
    ((2.4, -2.6), "calibration-in-doubt", ""), ((2.4, None), "calibration-in-doubt", ""),
    ((2.4,), "calibration-in-doubt", ""),
])  # fmt: skip
def test_a_fault_that_all_probes_share_is_looked_for_in_what_they_share(sizes, code, said):
    one = FOUND.containers[1]
    cans = [
        dataclasses.replace(
            one, name=f"{k}",
            flags=() if size is None else (Notice(code, "danger", "probe", "not as said", {"size": size}),),
        )
        for k, size in enumerate(sizes)
    ]  # fmt: skip
    found = told("all-probes-in-doubt", *cans)
    assert [said in notice.text for notice in found] == [True] * bool(said)
    assert all(notice.severity == "danger" and "the medium's column first" in notice.short for notice in found)


def test_containers_left_out_are_named_and_each_kind_told_apart():
    doubted, sound, out = FOUND.containers  # one has a danger beside it, one fails and lacks its end
    (said,) = told("containers-left-out")
    assert said.figures == {"left_out": 2.0} and said.text == (
        'OF 3 CONTAINERS "C" is left out of the least lethality and of all spreads; '
        '"A" is in doubt and left out of all spreads.'
    )
    dead = dataclasses.replace(doubted, failure=Failure("freezes", 900.0))
    (said,) = told("containers-left-out", dead, sound, out)
    assert said.figures == {"left_out": 2.0}
    assert said.text == 'OF 3 CONTAINERS "A", "C" are left out of the least lethality and of all spreads.'
    (said,) = told("containers-left-out", doubted, sound, doubted)
    assert said.text == 'OF 3 CONTAINERS "A", "A" are in doubt and left out of all spreads.'
    assert not told("containers-left-out", sound, sound) and not told("containers-left-out", out)


@pytest.mark.parametrize(("first", "missing"), [(80.0, False), (81.0, True)])
def test_a_medium_that_is_half_way_up_in_its_first_samples_lacks_its_come_up(first, missing):
    """The can's process comes up from 40 to 121 degC, and may do so between two samples: half of it is 80.5 degC."""
    medium = Course("Retort", np.arange(4) * 30.0, np.array([first, 119.0, 121.0, 121.0]))
    of = dataclasses.replace(FOUND, run=dataclasses.replace(FOUND.run, medium=medium))
    found = [notice for notice in notices_on(of) if notice.code == "come-up-missing"]
    assert len(found) == missing
    doubts = {
        doubt.said.code: doubt.names for doubt in doubts_of_run(CAN.process, CAN.process, of.run, of.containers)
    }
    assert doubts.get("come-up-missing", ()) == ("A", "B", "C") * missing
    assert all("at 81.0 degC in its first samples" in notice.text for notice in found)
    assert not told("come-up-missing")
    # it moves the clocks that are fitted: one that is 100 s off tells nothing then, one that is 150 s off does
    one, run = of.containers[1], dataclasses.replace(of.run, courses=())
    for offset, otherwise in ((100.0, not missing), (150.0, True)):
        clock = dataclasses.replace(one.fit.estimates[2], value=offset, at_bound=False)
        fitted = dataclasses.replace(one, fit=dataclasses.replace(one.fit, estimates=(*one.fit.estimates[:2], clock)))
        codes = {doubt.said.code for doubt in doubts_of_run(CAN.process, CAN.process, run, [fitted])}
        assert ("heating-ended-otherwise" in codes) == otherwise


def test_nothing_fitted_is_said_once():
    assert not told("nothing-fitted")
    bare = dataclasses.replace(FOUND, plan=Plan(fit=()))
    assert sum(notice.code == "nothing-fitted" for notice in notices_on(bare)) == 1


def test_a_probe_that_is_hotter_than_the_medium_while_it_heats_is_named():
    time = np.arange(100) * 60.0
    retort = Course("Retort", time, np.where(time < 4800.0, np.minimum(40.0 + time / 10.0, 121.0), 25.0))
    core = Course("Core", time, np.where(time < 5000.0, 40.0 + time / 70.0, 100.0))
    for probe, medium, said in ((core, retort, False), (retort, core, True)):
        run = dataclasses.replace(FOUND.run, medium=medium, courses=(probe,))
        found = [one for one in notices_on(dataclasses.replace(FOUND, run=run)) if one.code == "columns-exchanged"]
        assert len(found) == said
        assert all(
            '"Retort", named a probe, is up to 69 K hotter than "Core", named the medium' in one.text for one in found
        )


@pytest.mark.parametrize(("shift", "copied"), [(0.0, True), (0.5, True), (None, False)])
def test_columns_that_go_up_and_down_together_to_the_last_digit_are_one_probes(shift, copied):
    time = np.arange(0.0, 4501.0, 30.0)
    chance = np.random.default_rng(8)
    read = [np.round(40.0 + time / 60.0 + chance.normal(0.0, 0.1, time.size), 2) for _ in range(2)]
    other = read[1] if shift is None else read[0] + shift
    run = dataclasses.replace(FOUND.run, courses=(Course("A", time, read[0]), Course("B", time, other)))
    said = [one for one in doubts_of_run(CAN.process, CAN.process, run, ()) if one.said.code == "columns-copied"]
    assert [one.names for one in said] == [("A", "B")] * copied
