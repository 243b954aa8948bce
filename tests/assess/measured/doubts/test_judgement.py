"""What is said of a curve that is not as its container is said to be: the fault, its size, on both sides of limits.

Rung: hand-worked. A stand-in tells how much each explanation of a curve gains, and how large it is.
"""

import dataclasses
import re
from types import SimpleNamespace

import numpy as np
import pytest
from measured_runs import made_comparison

from thermsim.assess.measured.doubts.common import Common, common_causes, flags_of_causes
from thermsim.assess.measured.doubts.explanation import Alone, Depth, Explanation
from thermsim.assess.measured.doubts.judgement import flags_of_column, flags_of_noise, flags_of_step
from thermsim.assess.measured.doubts.suspicion import NAMES, SLID
from thermsim.assess.measured.result import Limits
from thermsim.assess.measured.shared import Known

LIMITS = Limits(calibration_K=0.4, contact_percent=1.5, own_clock_s=10.0, tip_mm=1.0)
#: What a tip, and any other explanation, must gain.
MOST = 7.0, 11.0
STATED, CLOCK = 0.040, 8.0


def flags(gains, depth=None, moves=True):
    """Flags of a curve whose explanations gain as told: gain and size by name."""

    def explained(name):
        gain, size = gains.get(name, (0.0, 0.0))
        offset, size = (size, 0.0) if name == "clock" else (CLOCK, size)
        return Explanation(name, (0.0, 60.0, offset, STATED, size), 1.0, gain)

    column = SimpleNamespace(
        depth=lambda most: depth, explained=explained, stated=STATED, clock=Known(CLOCK, 1.0),
        moves=moves, names=(*NAMES, "gap", "fill", "headspace"),
    )  # fmt: skip
    return flags_of_column(column, made_comparison().containers[0], LIMITS, MOST)[1]


@pytest.mark.parametrize(("name", "size", "too_small", "said", "brief"), [
    ("calibration", 0.5, 0.39, "a sensor that reads +0.5 K off", "reads off?"),
    ("drift", -0.7, -0.39, "a sensor that drifts, to -0.7 K in the end", "drifts?"),
    ("late drift", 0.7, 0.39, "a sensor that drifts in the second half, to +0.7 K in the end", "drifts?"),
    ("contact", 0.04, 0.01, "a tip or stem that touches the wall (its reading is 4.0 % the wall's)", "touches wall?"),
    ("clock", CLOCK + 20.0, CLOCK + 9.9, "a clock of its own, +28 s ahead", "own clock?"),
])  # fmt: skip
def test_a_fault_is_named_with_its_size_where_it_is_no_chance_and_matters(name, size, too_small, said, brief):
    (flag,) = flags({name: (12.0, size)})
    assert f"with the tip at 40 mm its curve is not explained; likely cause: {said}." in flag.text
    assert (flag.code, flag.severity, flag.brief) == (f"{name.split()[-1]}-in-doubt", "danger", brief)
    assert flag.figures == {"gain": 12.0, "stated": STATED, "size": size}
    assert not flags({name: (10.9, size)}) and not flags({name: (12.0, too_small)})


@pytest.mark.parametrize(("slides", "said"), [(0.005, "5 mm deeper"), (-0.003, "3 mm less deep")])
def test_a_tip_that_slides_is_named_beside_the_depth_that_explains_its_curve_nearly_as_well(slides, said):
    (flag,) = flags({"slide": (12.0, slides / SLID)})
    assert f"likely cause: a tip that slides, {said} in the end." in flag.text
    assert (flag.code, flag.short, flag.figures["size"]) == ("slide-in-doubt", "tip slides?", pytest.approx(slides))
    assert not flags({"slide": (12.0, 0.0009 / SLID)}) and not flags({"slide": (12.0, slides / SLID)}, moves=False)
    (flag,) = flags({"slide": (25.0, slides / SLID)}, Depth(0.046, 0.044, 0.048, 20.0))
    assert flag.code == "depth-in-doubt" and f"0 mm deep or a tip that slides, {said}" in re.sub(
        r"\(.*?\) ", "", flag.text
    )


def test_what_explains_nearly_as_well_is_named_too_the_likeliest_first():
    (flag,) = flags({"contact": (29.0, 0.03), "drift": (38.0, 0.6), "calibration": (27.0, 0.6)})
    assert "likely cause: a sensor that drifts, to +0.6 K in the end or a tip or stem that touches" in flag.text
    assert "reads +0.6 K off" not in flag.text and flag.code == "drift-in-doubt"


def test_a_tip_elsewhere_comes_first_with_the_filling_that_explains_its_curve_as_well():
    (flag,) = flags({"contact": (52.0, 0.03), "fill": (55.0, 0.75)}, Depth(0.037, 0.036, 0.038, 60.0))
    said = "likely cause: a tip 37.0 (36.0 to 38.0) mm deep or product filled about 6 mm lower or a tip or stem"
    assert said in flag.text and (flag.figures["fill"], flag.figures["depth"]) == (0.75, 0.037)
    assert (flag.code, flag.brief) == ("depth-in-doubt", "tip at 37.0 mm?")


@pytest.mark.parametrize(("name", "size", "too_small", "code", "said"), [
    ("fill", -0.5, 0.2, "fill-in-doubt", "likely cause: product filled about 4 mm higher."),
    ("headspace", 1.0, 0.3, "headspace-in-doubt", "a headspace that lets through less heat than the case says."),
    ("headspace", -1.0, -0.3, "headspace-in-doubt", "a headspace that lets through more heat than the case says."),
    ("gap", -3.0, 0.9, "gap-in-doubt", "a medium colder in the record's gap than its samples tell."),
    ("uneven start", 3.0, 0.9, "start-uneven", "DID NOT START EVENLY WARM: its curve is that of a start that was not "
     "even, the outside hotter (heated before the record begins)."),
    ("uneven start", -3.0, 0.9, "start-uneven", "the outside colder (left to stand)."),
])  # fmt: skip
def test_what_is_not_the_probes_is_named_too_and_a_start_that_is_not_even_leaves_its_lethality(
    name, size, too_small, code, said
):
    (flag,) = flags({name: (12.0, size)})
    assert flag.code == code and said in flag.text and "{" not in flag.brief
    assert flag.severity == ("warning" if code == "start-uneven" else "danger")
    assert not flags({name: (10.9, size)}) and not flags({name: (12.0, too_small)})


@pytest.mark.parametrize(("change", "said"), [
    (lambda time: -2.5 * (time > 1800.0), "STEPS by -2.6 K at 30.0 min"),
    (lambda time: -1.0 * (time > 1800.0), ""),  # within eight times the noise
    (lambda time: -2.5 * (time == 1830.0), ""),  # a spike comes back
    (lambda time: -5.0 * np.clip((time - 1800.0) / 300.0, 0.0, 1.0), ""),  # slow: conduction, or another film
])  # fmt: skip
def test_a_reading_that_steps_and_stays_is_of_a_probe_that_slipped(change, said):
    """Samples every 30 s, 0.1 K of noise on food that warms by 1 K a minute."""
    time = np.arange(0.0, 3601.0, 30.0)
    expected = 40.0 + time / 60.0
    noise = np.random.default_rng(3).normal(0.0, 0.1, time.size)
    one = made_comparison().containers[0]
    curve = dataclasses.replace(one.as_case, temperature=expected)
    read = dataclasses.replace(one, time=time, temperature=expected + noise + change(time), as_case=curve)
    found = list(flags_of_step(read))
    assert [said in flag.text for flag in found] == [True] * bool(said)
    assert all((flag.severity, flag.brief) == ("danger", "slipped at 30 min?") for flag in found)


def test_a_tip_beside_its_interval_by_less_than_the_limit_is_as_said():
    assert not flags({}, Depth(0.042, 0.0409, 0.043, 60.0))
    assert len(flags({}, Depth(0.042, 0.0411, 0.043, 60.0))) == 1


def tips(*best, moves=True, steep=1e-3):
    """Columns whose curves are explained best by tips so much deeper than said [m], by squares of what is missing."""
    return [
        SimpleNamespace(
            stated=STATED, moves=moves, shiftable=(-0.020, 0.020), fillings=(),
            by_itself=lambda depth, fault, free_clock, one=one: Alone(
                ((depth - STATED - one) / steep) ** 2, Known(), (0.0,) * 5
            ),
        )
        for one in best
    ]  # fmt: skip


@pytest.mark.parametrize(("columns", "tip_mm", "shift"), [
    (tips(0.006, 0.006, 0.006), 1.0, 0.006),
    (tips(-0.004, -0.004, -0.004), 1.0, -0.004),
    (tips(0.006, 0.006, 0.006), 7.0, None),  # no farther than tips are known
    (tips(0.0, 0.0, 0.014), 1.0, None),  # one curve alone asks for it
    (tips(0.006, 0.006, 0.006, steep=1.0), 1.0, None),  # nothing is gained by it
    (tips(0.006), 1.0, None),
    (tips(0.006, 0.006, moves=False), 1.0, None),
])  # fmt: skip
def test_one_length_by_which_all_tips_are_off_is_found_where_it_matters(columns, tip_mm, shift):
    limits = dataclasses.replace(LIMITS, tip_mm=tip_mm)
    found = common_causes(columns, [False] * len(columns), limits, 7.0)
    assert [cause.shift for cause in found] == ([] if shift is None else [pytest.approx(shift)])


@pytest.mark.parametrize(("sizes", "gains", "found"), [
    ((1.0, 0.8, 1.1), (20.0, 20.0, 20.0), True),
    ((1.0, 0.8, -1.1), (20.0, 20.0, 20.0), False),  # not of one sign
    ((0.3, 0.2, 0.3), (20.0, 20.0, 20.0), False),  # too little
    ((1.0, 0.8, 1.1), (40.0, 0.0, 0.0), False),  # one curve alone asks for it
])  # fmt: skip
def test_a_filling_that_all_cans_share_is_one_cause(sizes, gains, found):
    def column(size, gain):
        def by_itself(depth, fault, free_clock):
            return Alone(0.0 if fault else gain, Known(), (0.0, 60.0, 0.0, depth, size))

        return SimpleNamespace(stated=STATED, moves=False, fillings=("headspace",), by_itself=by_itself)

    columns = [column(*pair) for pair in zip(sizes, gains, strict=True)]
    causes = common_causes(columns, [False] * 3, LIMITS, 7.0)
    assert bool(causes) == found
    if causes:
        said = flags_of_causes([*causes, Common(9.0, -0.004)], 3, 3)
        assert "lets through less heat than the case says, or tips 4 mm less deep than said." in said[0].text
        assert {flag.code for flag in said} == {"all-headspaces-in-doubt"}
        assert [flag.figures["headspace"] for flag in said] == list(sizes)
        assert said[0].text.startswith("ALL 3 CANS LOOK FILLED OTHERWISE: by their curves with a headspace that lets")


@pytest.mark.parametrize(("noise", "found"), [(0.8, True), (0.1, False), (0.2, False)])
def test_a_reading_rougher_than_the_others_is_of_a_loose_contact(noise, found):
    """The others have 0.1 K; 0.2 K is twice as much, but no tenth of it goes to and fro by 1 K."""
    chance, one = np.random.default_rng(4), made_comparison().containers[0]

    def rough(by):
        read = one.as_case.temperature + chance.normal(0.0, by, one.as_case.temperature.size)
        return dataclasses.replace(one, temperature=read)

    flags = list(flags_of_noise(rough(noise), [rough(0.1), rough(0.1)]))
    assert [flag.code for flag in flags] == ["probe-noisy"] * found
    assert not list(flags_of_noise(rough(noise), []))
