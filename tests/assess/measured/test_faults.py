"""Rung: our own model as the truth. What is mis-set does not slip through, and nothing sound is accused.

Curves are made by the model on its finer grids; what finds the faults solves on the coarser ones at other depths.
``benchmarks/faults_found.py`` does so for many more kinds and runs, some by finite elements.
"""

import dataclasses
import math

import numpy as np
import pytest
from measured_runs import CAN, COOLING, HALF_WAY, TOLD, logger_file, reading
from numpy.testing import assert_allclose

from thermsim.assess.measured.comparison import compare
from thermsim.assess.measured.correction import bare, corrected, log_least
from thermsim.assess.measured.model import ProbeModel
from thermsim.assess.measured.result import Plan
from thermsim.case.process import Process, Stage
from thermsim.errors import InputError
from thermsim.loggers.run import Columns, run_from_bytes
from thermsim.records.measured.rows import rows_table
from thermsim.records.measured.sentences import measured_answer

#: By column: the depth that is said, the true one [m], and what becomes of the reading.
COLUMNS = {
    "sound 1": (0.040, 0.040, None),
    "sound 2": (0.040, 0.040, None),
    "moved": (0.040, 0.052, None),
    "dead": (0.040, 0.040, lambda time, reading: np.where(time > HALF_WAY, np.nan, reading)),
    "hot": (0.040, 0.040, lambda time, reading: reading + 1.0),
    "late": (0.040, 0.040, lambda time, reading: np.interp(time - 40.0, time, reading)),
    "deep 1": (0.040, 0.046, None),
    "deep 2": (0.040, 0.046, None),
    "deep 3": (0.032, 0.038, None),
    "north": (0.055, 0.025, None),
    "south": (0.025, 0.055, None),
}
TOLD_DEPTHS = (("north", 0.055), ("south", 0.025), ("deep 3", 0.032))
DEEP = ("deep 1", "deep 2", "deep 3")
#: Those that are looked at beside one other alone.
APART = (*DEEP, "late")


def compared(names, **more):
    depths = tuple((name, depth) for name, depth in TOLD_DEPTHS if name in names)
    columns = Columns(probes=tuple(names), medium="Retort", depths=depths, **more)
    cans = {name: (COLUMNS[name][1], COLUMNS[name][2]) for name in names}
    return compare(CAN, run_from_bytes(logger_file(cans), columns), Plan(columns=columns, design=False))


@pytest.fixture(scope="module")
def found():
    return compared([name for name in COLUMNS if name not in APART])


def test_a_tip_that_slides_is_told_from_one_that_is_elsewhere_and_leaves_its_figures_in_doubt():
    """From 40 to 46 mm, evenly from start to end of the process: on its way it reads as if always there."""
    depths = np.linspace(0.040, 0.046, 4)

    def slid(time, read):
        ways = np.stack([reading(one, *TOLD["slid"]) for one in depths.tolist()], axis=1)
        there = np.linspace(0.040, 0.046, time.size)
        return read + [np.interp(at, depths, way - way[0]) for at, way in zip(there, ways, strict=True)]

    names = ("sound 1", "sound 2", "slid")
    columns = Columns(probes=names, medium="Retort")
    data = logger_file({"sound 1": (0.040, None), "sound 2": (0.040, None), "slid": (0.040, slid)})
    off = compare(CAN, run_from_bytes(data, columns), Plan(columns=columns, design=False))
    assert [codes(off, name) for name in names] == [[], [], ["slide-in-doubt"]]
    (said,) = one_of(off, "slid").flags
    assert_allclose(said.figures["size"], 0.006, atol=0.0015)
    assert not one_of(off, "slid").sound and not one_of(off, "slid").factors_stand


def one_of(found, name):
    return next(one for one in found.containers if one.name == name)


def codes(found, name):
    return [flag.code for flag in one_of(found, name).flags]


def lethality(diffusivity, initial):
    model = ProbeModel(CAN, CAN.process, ("diffusivity", "initial"), np.array([0.0]))
    return math.exp(log_least(bare(model.case_with([diffusivity, initial])[0])))


def test_nothing_sound_is_accused_and_recovery_is_as_ever(found):
    for name in ("sound 1", "sound 2"):
        one = one_of(found, name)
        assert codes(found, name) == []
        assert_allclose(one.fit.value("diffusivity"), TOLD[name][0], rtol=0.01)
        assert_allclose(one.corrected.lethality, lethality(*TOLD[name]), rtol=0.02)
        over = one.general.lethality / one.corrected.lethality - 1.0
        assert_allclose(one.corrected.over_reading, over, rtol=1e-9)  # of what the cold spot got, not of what is read
        assert one.depth.low < 0.040 < one.depth.high


def test_no_depth_stands_as_said_that_its_curve_does_not_show(found):
    """That of a sensor which reads 1 K high is the one its curve would have otherwise."""
    checks = {check.name: check.within for check in found.checks}
    shown = {one.name: one.depth.holds(one.insertion, 1e-3) for one in found.containers if one.depth is not None}
    assert not shown["hot"] and not shown["moved"]
    assert all(holds or not checks[f'"{name}": depth of the tip'] for name, holds in shown.items())
    rows = {row[0]: row[3] for row in rows_table(found).rows}
    assert [rows[name].endswith(" ?") for name in ("hot", "moved", "sound 1")] == [True, False, False]


def test_a_tip_that_is_elsewhere_is_found_with_its_interval(found):
    moved = one_of(found, "moved")
    assert codes(found, "moved") == ["depth-in-doubt"]
    assert moved.depth.low < 0.052 < moved.depth.high
    assert not moved.sound
    (flag,) = moved.flags
    assert [flag.figures[name] for name in ("low", "depth", "high")] == [
        moved.depth.low, moved.depth.best, moved.depth.high
    ]  # fmt: skip
    # told the truth, its lethality is the true one; the lower of the two counts
    true = lethality(*TOLD["moved"])
    assert_allclose(moved.there, true, rtol=0.02)
    assert moved.lethality == min(moved.there, moved.corrected.lethality)


def test_a_depth_that_all_tips_share_wrongly_is_found_though_their_clock_hides_it_from_each():
    found = compared(DEEP)
    assert all("all-depths-in-doubt" in codes(found, name) and not one_of(found, name).sound for name in DEEP)
    (said,) = [notice for notice in found.notices if notice.code == "all-depths-in-doubt"]
    assert said.text.startswith("ALL 3 TIPS READ AS IF 6 mm deeper than said")
    assert_allclose(said.figures["shift"], 0.006, atol=0.001)
    # one alone that is elsewhere is not what all share
    assert not any(notice.code == said.code for notice in compared(("sound 1", "sound 2", "moved")).notices)


def test_a_process_whose_clock_is_not_the_loggers_is_found_and_heating_counted_to_the_turn_of_the_probes(found):
    """The retort's record is 3 min behind: all that it holds seems to begin and to end earlier."""
    behind = 180.0
    come_up, hold, cool = CAN.process.stages
    stages = (
        Stage("come-up", [0.0, 300.0 - behind], [40.0 + 81.0 * behind / 300.0, 121.0], come_up.film),
        Stage("hold", hold.time - behind, hold.medium, hold.film),
        Stage("cool", [*(cool.time[:2] - behind), cool.time[2]], cool.medium, cool.film),
    )
    columns = Columns(probes=("sound 1",))
    run = run_from_bytes(logger_file({"sound 1": (0.040, None)}), columns)
    off = compare(CAN.replace(process=Process(stages)), run, Plan(columns=columns, design=False))
    (said,) = [notice for notice in off.notices if notice.code == "heating-ended-otherwise"]
    assert_allclose(said.figures["later"], behind + COOLING["offset"], atol=15.0)
    assert 'by the turn of "sound 1" than by the case\'s process: at 50.1, not 47.0 min' in said.text
    # what is read until then is what it is by the right clock, 8 s of a fast rise apart at most
    read = [one_of(of, "sound 1").general.heating for of in (off, found)]
    assert_allclose(*read, rtol=0.03)


@pytest.mark.parametrize(
    ("longer", "late", "likelier"), [(300.0, 0.0, True), (-360.0, 0.0, True), (0.0, 150.0, False)]
)
def test_a_hold_that_is_not_the_process_s_is_told_from_a_clock_and_accuses_nothing_else(longer, late, likelier):
    """Heating lasts 5 min longer than the case has it, or 6 min less, further than clocks are looked for; or the
    probe's clock is 2.5 min ahead."""
    data = logger_file({"sound 1": (0.040, lambda time, read: np.interp(time - late, time, read))})
    columns = Columns(probes=("sound 1",))
    case = CAN.replace(process=CAN.process.with_hold(CAN.process.held - longer))
    off = compare(case, run_from_bytes(data, columns), Plan(columns=columns, design=False))
    (one,) = off.containers
    assert [flag.code for flag in one.flags] == ["heating-ended-otherwise"]
    assert one.held.likelier is likelier and (one.otherwise is not None) == likelier
    true = lethality(*TOLD["sound 1"])
    found = one.held.lethality if likelier else one.corrected.lethality
    assert_allclose(found, true, rtol=0.02)
    assert one.lethality <= found
    if likelier:
        assert_allclose(one.held.later, longer, atol=3.0)
    else:
        assert one.lethality == one.corrected.lethality
    # no check of a fit that the danger explains stands as one that fails
    outside = [check.name for check in off.checks if check.within is False and not check.target]
    assert outside == ([] if likelier else ['"sound 1": clocks'])
    said = next(notice for notice in off.notices if notice.code == "heating-ended-otherwise").short
    told = f"if heating was really longer, {found / 60:.2f} min (so the curves tell)"
    if longer < 0.0:  # no figure of a clock that is stopped by its bound is told
        told = f"The curves tell that heating was really shorter: least corrected lethality {found / 60:.2f} min."
        assert said.startswith("HEATING ENDED 6.0 min EARLIER")
    assert (told if likelier else f"clocks that differ: least corrected lethality {found / 60:.2f} min") in said


def cut(first, late, medium):
    """A run of two sound cans whose record begins so much after steam on, the probes' clock so much ahead [s]."""
    names = ("sound 1", "sound 2")
    cans = {name: (0.040, lambda time, read: np.interp(time - late, time, read)) for name in names}
    head, *rows = logger_file(cans).decode().splitlines()
    cells = [row.split(";", 1) for row in rows if float(row.split(";")[0]) >= first]
    text = "\n".join([head, *(f"{float(time) - first:.0f};{rest}" for time, rest in cells)])
    columns = Columns(probes=names, medium=medium)
    return compare(CAN, run_from_bytes(text.encode(), columns), Plan(columns=columns, design=False))


@pytest.mark.parametrize(
    ("first", "late", "medium", "flags"),
    [
        (300.0, 0.0, "Retort", ["come-up-missing"]),
        (300.0, 150.0, "Retort", ["come-up-missing", "heating-ended-otherwise"]),
        (600.0, 0.0, None, ["clock-too-far"]),
    ],
)
def test_what_a_record_lacks_at_its_begin_accuses_no_probe_beside_it_and_no_hold_is_told(first, late, medium, flags):
    found = cut(first, late, medium)
    assert [codes(found, one.name) for one in found.containers] == [flags] * 2
    assert all(one.otherwise is None and one.there is None and not one.sound for one in found.containers)
    told = " ".join(notice.text for notice in found.notices)
    assert ("COME-UP NOT IN THE RECORD" in told) == (medium is not None) and "PROBES" not in told
    if medium is None:
        assert 'THE CLOCK OF "sound 1" IS 5 min OR MORE BEHIND' in told and "HEATING ENDED" not in told


def test_a_medium_that_falls_between_two_rare_samples_accuses_no_probe_and_hides_none():
    """Cold water within a quarter of a minute, a sample each minute: of three cans one tip is 6 mm deeper."""
    begins, after = 3007.0, np.linspace(0.0, 90.0, 25)
    cool = [*(20.0 + 101.0 * np.exp(-after / 15.0)), 20.0]
    come_up, hold, _ = CAN.process.stages
    stages = (
        come_up,
        Stage("hold", [300.0, begins], hold.medium, hold.film),
        Stage("cool", [*(begins + after), CAN.process.end], cool, hold.film),
    )
    process, time = Process(stages), np.arange(0.0, CAN.process.end + 1.0, 60.0)
    names, noise = ("sound 1", "sound 2", "moved"), np.random.default_rng(1)
    columns = [time, process.medium_at(time)]
    for name in names:
        probe = CAN.probe.at_depth(0.046 if name == "moved" else 0.040, CAN.container)
        model = ProbeModel(CAN.replace(probe=probe, process=process), process, ("diffusivity", "initial"), time)
        columns.append(model.on_grids(TOLD[name], finer=True).temperature + noise.normal(0.0, 0.08, time.size))
    rows = [";".join(f"{value:.2f}" for value in row) for row in zip(*columns, strict=True)]
    said = Columns(probes=names, medium="Retort")
    run = run_from_bytes("\n".join(["Time [s];Retort;" + ";".join(names), *rows]).encode(), said)
    found = compare(CAN, run, Plan(columns=said, design=False))
    assert [codes(found, name) for name in names] == [[], [], ["depth-in-doubt"]]


@pytest.mark.parametrize(("other", "code"), [("moved", "depth-in-doubt"), ("hot", "calibration-in-doubt")])
def test_of_two_the_sound_one_is_not_accused_of_what_the_other_does_to_their_clock(other, code):
    two = compared((other, "sound 1"))
    assert codes(two, other) == [code] and codes(two, "sound 1") == []
    assert_allclose(one_of(two, "sound 1").fit.value("offset"), COOLING["offset"], atol=2.0)


def test_of_two_clocks_that_differ_one_is_off_and_the_likelier_is_named():
    two = compared(("sound 1", "late"))
    assert [codes(two, name) for name in ("sound 1", "late")] == [["clocks-differ"]] * 2
    (said, _) = [notice for notice in two.notices if notice.code == "clocks-differ"]
    assert 'likelier that of "late", +' in said.text and 'of "sound 1" and "late" differ by' in said.text
    assert_allclose(said.figures["apart"], -40.0, atol=3.0)


def test_no_corrected_lethality_in_doubt_stands_without_a_word_beside_it(found):
    rows = {row[0]: " ".join(row) for row in rows_table(found).rows}
    for name in ("moved", "hot", "north", "south"):
        assert "DOUBT" in rows[name] and one_of(found, name).flags[0].short.split()[0] in rows[name]
    assert "DOUBT" not in rows["sound 1"]
    assert "REFUSED" in rows["dead"] and f"ends at {HALF_WAY / 60:.1f} min" in rows["dead"]


def test_the_row_of_each_container_comes_first(found):
    lines = measured_answer(found)
    assert lines[0].split()[:2] == ["can", "no."]
    # the heads may be folded; no row is left out, however short the screen
    names = [one.name for one in found.containers]
    begun = [name for line in lines[: lines.index("")] for name in names if line.startswith(f"{name} ")]
    assert begun == names


def test_a_probe_that_dies_half_way_has_no_corrected_lethality_and_counts_nowhere(found):
    dead = one_of(found, "dead")
    assert codes(found, "dead") == ["probe-failed"]
    assert dead.failure.kind == "ends" and dead.corrected is None
    assert dead.time[-1] <= HALF_WAY
    # what was seen is a bound
    assert 0.0 < dead.seen < lethality(*TOLD["dead"])
    assert found.containers[found.slowest].whole
    said = " ".join(check.name + check.statement for check in found.checks)
    assert '"dead"' not in said


def test_two_columns_that_are_exchanged_are_named(found):
    assert codes(found, "north") == ["columns-swapped"] and codes(found, "south") == ["columns-swapped"]
    assert '"north" AND "south" LOOK SWAPPED' in one_of(found, "north").flags[0].text


def test_a_sensor_that_reads_high_is_not_taken_for_a_tip(found):
    (flag,) = one_of(found, "hot").flags
    assert flag.code == "calibration-in-doubt"
    assert "a sensor that reads +1.0 K off" in flag.text
    # no depth is put forward where the tip is not what is wrong
    assert set(flag.figures) == {"gain", "stated", "size"} and flag.figures["stated"] == 0.040


def test_spreads_are_those_of_the_sound_alone(found):
    (spread,) = [check for check in found.checks if check.name == "containers alike: lethality"]
    assert spread.statement.startswith("2 containers")


def test_all_columns_have_one_clock_and_show_their_own(found):
    offsets = {one.fit.value("offset") for one in found.containers if one.fit is not None}
    assert len(offsets) == 1
    assert_allclose(offsets.pop(), COOLING["offset"], rtol=0, atol=3.0)
    moved = {one.name: one.own[0].value for one in found.containers if one.own}
    # by itself the moved tip would have passed as a clock of its own
    assert abs(moved["moved"] - COOLING["offset"]) > 3 * abs(moved["sound 1"] - COOLING["offset"])


def test_a_record_that_ends_before_cooling_ends_is_refused(found):
    sound = one_of(found, "sound 1")
    names = [estimate.name for estimate in sound.fit.estimates]
    model = ProbeModel(CAN, found.process, names, sound.time)
    spot, seen = corrected(model, sound.fit, sound.general, found.process.heated_until)
    # much of it is gathered after heating
    assert spot is None and 0.0 < seen < 0.8 * sound.corrected.lethality
    short = dataclasses.replace(sound, corrected=None, seen=seen)
    lines = measured_answer(dataclasses.replace(found, containers=(short,), slowest=0))
    assert "REFUSED" in lines[1]
    assert any(line.startswith("Least lethality REFUSED") for line in lines)


def test_a_record_that_begins_hot_is_said_to_lack_its_come_up():
    text = logger_file({"sound 1": COLUMNS["sound 1"][1:]}).decode().splitlines()
    columns = Columns(probes=("sound 1",), medium="Retort", start=0.0)
    late = "\n".join([text[0], *text[12:]]).encode()
    one = compare(CAN, run_from_bytes(late, columns), Plan(columns=columns, fit=(), design=False))
    assert "come-up-missing" in [notice.code for notice in one.notices]


def test_outliers_among_containers_alike_are_named_with_a_likely_cause(found):
    from thermsim.assess.measured.doubts.judgement import flags_of_replicates

    sound = [one_of(found, name) for name in ("sound 1", "sound 2")]

    def with_values(one, **values):
        estimates = tuple(dataclasses.replace(e, value=values.get(e.name, e.value)) for e in one.fit.estimates)
        return dataclasses.replace(one, fit=dataclasses.replace(one.fit, estimates=estimates), flags=())

    odd = with_values(sound[0], diffusivity=0.88 * sound[0].fit.value("diffusivity"))
    flags = flags_of_replicates(CAN, [sound[0], sound[1], sound[1], odd], Plan().limits)
    assert list(flags) == [3]
    assert flags[3][0].code == "outlier" and "another product" in flags[3][0].text
    # of two either may be off: the one that is further from the case's is likelier
    case = CAN.product.material.diffusivity
    for first, said in ((0.80, "likelier this: it is"), (1.20, "likelier this"), (0.93, "neither is likelier")):
        pair = [with_values(sound[0], diffusivity=first * case), with_values(sound[1], diffusivity=1.05 * case)]
        flags = flags_of_replicates(CAN, pair, Plan().limits)
        assert list(flags) == [0, 1] and said in flags[0][0].text
        assert '"sound 1" OR THE OTHER OF TWO IS OFF' in flags[0][0].text
        assert said.replace("this", "the other")[:17] in flags[1][0].text
    cold = with_values(sound[0], initial=sound[0].fit.value("initial") - 5.0)
    flags = flags_of_replicates(CAN, [sound[0], sound[1], cold], Plan().limits)
    assert [flag.code for flag in flags[2]] == ["start-otherwise"]


def run_of(rows, *, seed=0, names=("A", "B", "C"), keep=slice(None), medium=None, **more):
    """What is said of noisy readings (n, 3) every 30 s."""
    time = np.arange(0.0, CAN.process.end + 1.0, 30.0)
    noise = np.random.default_rng(seed).normal(0.0, 0.05, (time.size, 3))
    table = np.column_stack([time, CAN.process.medium_at(time) if medium is None else medium, rows(time) + noise])
    lines = ["Time [s];Retort;" + ";".join(names), *(";".join(f"{cell:.2f}" for cell in row) for row in table[keep])]
    columns = Columns(probes=names, medium="Retort", **more)
    return compare(CAN, run_from_bytes("\n".join(lines).encode(), columns), Plan(columns=columns, design=False))


def alike(time):
    return np.stack([reading(0.040, *TOLD[name]) for name in ("sound 1", "sound 2", "sound 1")], axis=1)


def test_what_is_shared_by_a_record_is_said_of_it_and_not_of_probes():
    """A gap where cooling begins, and a medium in the wrong unit."""
    time = np.arange(0.0, CAN.process.end + 1.0, 30.0)
    turn = CAN.process.heated_until
    kept = np.flatnonzero((time < turn - 150.0) | (time > turn + 150.0))
    unseen = run_of(alike, keep=kept)
    assert all([flag.code for flag in one.flags] == ["cooling-unseen"] for one in unseen.containers)
    (said,) = [notice for notice in unseen.notices if notice.code == "cooling-unseen"]
    assert "Say when by --cooling-min" in said.text and not any(
        check.within for check in unseen.checks if check.target
    )
    told = run_of(alike, keep=kept, cooling=turn)
    assert not any(one.flagged("cooling-unseen") for one in told.containers)
    fahrenheit = (CAN.process.medium_at(time) - 32.0) / 1.8
    with pytest.raises(InputError, match="are they degC already"):
        run_of(alike, medium=fahrenheit)
