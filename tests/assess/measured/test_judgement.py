"""What is said of a curve that is not as its container is said to be: the fault, its size, on both sides of limits.

Rung: hand-worked. A stand-in tells how much each explanation of a curve gains, and how large it is.
"""

import dataclasses
import re
from types import SimpleNamespace

import numpy as np
import pytest
from measured_runs import made_comparison

from thermsim.assess.measured.judgement import flags_of_column, flags_of_step
from thermsim.assess.measured.result import Limits
from thermsim.assess.measured.shared import Known
from thermsim.assess.measured.suspicion import SLID, Depth, Explanation
from thermsim.assess.measured.whole_run import common_shift

LIMITS = Limits(calibration_K=0.4, contact_percent=1.5, own_clock_s=10.0, tip_mm=1.0)
#: What a tip, and any other explanation, must gain.
MOST = 7.0, 11.0
STATED, CLOCK = 0.040, 8.0


def flags(gains, depth=None, entry="lid", moves=True):
    """Flags of a curve whose explanations gain as told: gain and size by name; filled 80 mm high, 6 mm are free."""
    case = SimpleNamespace(probe=SimpleNamespace(entry=entry), fill_height=0.080, headspace_height=0.006)

    def explained(name):
        gain, size = gains.get(name, (0.0, 0.0))
        offset, size = (size, 0.0) if name == "clock" else (CLOCK, size)
        return Explanation(name, (0.0, 60.0, offset, STATED, size), 1.0, gain)

    column = SimpleNamespace(
        depth=lambda most: depth, explained=explained, stated=STATED, clock=Known(CLOCK, 1.0),
        lattice=SimpleNamespace(case=case), moves=moves,
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


@pytest.mark.parametrize(("entry", "best", "filling"), [
    ("lid", 0.037, "lower"), ("lid", 0.0429, "higher"), ("lid", 0.044, ""), ("lid", 0.029, ""),
    ("base", 0.0371, "higher"), ("base", 0.049, "lower"), ("base", 0.0345, ""),
])  # fmt: skip
def test_a_tip_elsewhere_comes_first_with_the_filling_that_would_do_it(entry, best, filling):
    """The middle of what is filled moves by half of what is added: up to the lid, or less by a quarter of it."""
    (flag,) = flags({"contact": (52.0, 0.03)}, Depth(best, best - 1e-3, best + 1e-3, 60.0), entry)
    mm, moved = 1e3 * best, 2e3 * abs(best - STATED)
    also = f", or product filled about {moved:.0f} mm {filling}" if filling else ""
    assert f"likely cause: a tip {mm:.1f} ({mm - 1:.1f} to {mm + 1:.1f}) mm deep{also} or a tip or stem" in flag.text
    assert (flag.code, flag.brief, flag.figures["depth"]) == ("depth-in-doubt", f"tip at {mm:.1f} mm?", best)


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
            stated=STATED, moves=moves, shiftable=(-0.020, 0.020),
            badness_at=lambda depth, one=one: ((depth - STATED - one) / steep) ** 2,
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
    found = common_shift(columns, [False] * len(columns), limits, 7.0)
    assert found is None if shift is None else found == pytest.approx(shift)
