import dataclasses
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from small_case import SMALL, faults_of, recorded

from thermsim import Film, case_from_text, read_case
from thermsim.case.file.logged_process import MOST_KNOTS, Record, averaged, calmed, knots_of, stages_of, thinned
from thermsim.case.file.measured_medium import cooling_start, process_of
from thermsim.case.process import Process
from thermsim.errors import InputError
from thermsim.loggers.run import Columns, Course, run_from_bytes

#: One sample a minute: 40 to 100 degC in 10 min, held to 20 min, down to 40 degC at 26 min.
MINUTES = np.arange(27)
MEDIUM = np.interp(MINUTES, [0, 10, 20, 26], [40, 100, 100, 40])
RETORT = "Time [min];Retort [°C]\n" + "".join(f"{m};{t:g}\n" for m, t in zip(MINUTES, MEDIUM, strict=True))


def with_record(text=None, record=RETORT):
    return case_from_text(text or recorded(), name="jar.toml", attachments={"retort.csv": record})


def refusals(text, record=RETORT):
    return faults_of(text, attachments={"retort.csv": record})


def test_a_record_becomes_come_up_hold_and_cool():
    process = with_record().process
    assert [stage.name for stage in process.stages] == ["come-up", "hold", "cool"]
    assert [stage.start for stage in process.stages] == [0.0, 600.0, 1200.0]
    assert process.end == 26 * 60
    assert process.source == "retort.csv"
    # straight pieces need their ends only
    assert [stage.time.size for stage in process.stages] == [2, 2, 2]
    assert [stage.film for stage in process.stages] == [Film.everywhere(h) for h in (500.0, 500.0, 300.0)]
    assert_allclose(process.medium_at(60.0 * MINUTES), MEDIUM, rtol=0, atol=0.02)


def test_cooling_that_starts_between_samples_is_a_knot_there():
    process = with_record(recorded(("cooling_starts_min = 20", "cooling_starts_min = 20.5"))).process
    assert process.heated_until == 20.5 * 60
    # half way from 100 to 90 degC
    assert_allclose(process.stages[2].medium[0], 95.0, rtol=1e-12)
    assert_allclose(process.medium_at(60.0 * MINUTES), MEDIUM, rtol=0, atol=0.02)


def test_a_record_that_ends_with_the_heating_needs_no_cooling_film():
    text = recorded(("cooling_starts_min = 20", "cooling_starts_min = 26"), ("cooling_film_W_m2K = 300\n", ""))
    process = with_record(text).process
    assert [stage.name for stage in process.stages] == ["come-up", "hold"]
    assert process.heated_until == process.end


def test_a_medium_that_is_hot_from_the_start_has_no_come_up():
    record = Record("T", np.array([0.0, 60.0, 120.0]), np.array([99.7, 100.0, 60.0]))
    stages = stages_of(record, 60.0, 0.02, Film.everywhere(500), Film.everywhere(300))
    assert [(stage.name, stage.start, stage.end) for stage in stages] == [("hold", 0.0, 60.0), ("cool", 60.0, 120.0)]


def test_a_medium_that_still_rises_when_cooling_starts_has_no_hold():
    record = Record("T", np.array([0.0, 60.0, 120.0]), np.array([40.0, 70.0, 60.0]))
    stages = stages_of(record, 60.0, 0.02, Film.everywhere(500), Film.everywhere(300))
    assert [(stage.name, stage.start, stage.end) for stage in stages] == [
        ("come-up", 0.0, 60.0),
        ("cool", 60.0, 120.0),
    ]


def test_the_case_carries_the_record_and_can_be_read_again():
    case = with_record()
    assert case.attachments == {"retort.csv": RETORT}
    again = case_from_text(case.text, attachments=case.attachments)
    assert again.process.stages[1].medium.tolist() == case.process.stages[1].medium.tolist()


def test_the_record_lies_beside_the_case_file(tmp_path):
    (tmp_path / "jar.toml").write_text(recorded())
    (tmp_path / "retort.csv").write_text(RETORT)
    assert read_case(tmp_path / "jar.toml").process.end == 26 * 60


def test_an_attachment_goes_before_the_file(tmp_path):
    (tmp_path / "retort.csv").write_text("something else")
    case = case_from_text(recorded(), attachments={"retort.csv": RETORT}, folder=tmp_path)
    assert case.process.end == 26 * 60


def test_what_was_made_of_the_record_is_noted():
    assert (
        'retort.csv: the medium follows column "Retort [°C]", 27 samples over 26 min, by 4 knots and straight lines '
        "within 0.02 K of every sample."
    ) in with_record().notes


def test_where_the_come_up_ends_is_noted():
    within = "within 0.5 K of its highest heating temperature"
    assert f"retort.csv: come-up until the medium first comes {within}, at 10 min." in with_record().notes
    hot = "Time [min];T\n" + "".join(f"{m};{100 if m < 20 else 40}\n" for m in MINUTES)
    assert (
        f"retort.csv: no come-up: the medium is {within} from the first sample on."
        in with_record(recorded(("cooling_starts_min = 20", "cooling_starts_min = 19")), hot).notes
    )


@pytest.mark.parametrize(
    ("z", "thin", "percent", "how"),
    # 10^(0.02/10) = 1.004616, 10^(0.1/7.5) = 1.031178; computed by hand with a table of logarithms' series
    [("10.0", "0.02", "0.46", "0.02/10"), ("7.5", "0.1", "3.1", "0.1/7.5")],
)
def test_what_thinning_may_do_to_a_lethality_is_noted(z, thin, percent, how):
    text = recorded(("z_C = 10.0", f"z_C = {z}"), ('csv = "retort.csv"', f'csv = "retort.csv"\nthin_K = {thin}'))
    assert (
        f"Following the record within {thin} K may change a lethality by at most {percent} % (10^({how}) - 1); this "
        "is not counted in the numerical uncertainty."
    ) in with_record(text).notes


def noisy(samples=20_000, noise=0.3):
    """Come-up to a tenth, hold to 0.7, cold at 0.71; one sample every half second."""
    time = 0.5 * np.arange(samples)
    medium = np.interp(time / time[-1], [0, 0.1, 0.7, 0.71, 1], [40, 120, 120, 30, 30])
    return Record("T", time, medium + np.random.default_rng(7).normal(0.0, noise, samples))


def test_a_noisy_record_is_averaged_until_its_knots_are_few():
    record, film = noisy(), Film.everywhere(500)
    cooling = float(record.time[14_000])
    assert knots_of(stages_of(record, cooling, 0.02, film, film)) > 15_000
    calm, interval = calmed(record, cooling, 0.02)
    stages = stages_of(calm, cooling, 0.02, film, film)
    # near the most, for the interval grows by a quarter at a time
    assert 0.7 * MOST_KNOTS < knots_of(stages) <= MOST_KNOTS
    assert 5.0 < interval < 60.0
    assert [stage.name for stage in stages] == ["come-up", "hold", "cool"]
    assert stages[2].start == cooling
    assert (stages[0].medium[0], stages[2].medium[-1]) == (record.medium[0], record.medium[-1])
    assert stages[2].medium[0] == record.medium[14_000]
    # nothing of the cold is in the last means of the hold: three deviations of a mean of some 28 samples
    assert stages[1].medium[1:-1].min() > 119.7
    # the mean over time is kept but for the ends' half intervals: 0.3 K over 7 s each, and the fall of 0.9 K/s
    assert abs(np.trapezoid(calm.medium, calm.time) - np.trapezoid(record.medium, record.time)) < 0.003 * 10_000


def test_a_record_of_few_knots_is_left_as_it_is():
    record = noisy(noise=0.0)
    calm, interval = calmed(record, 7000.0, 0.02)
    assert calm is record
    assert interval == 0.0


def test_averaging_is_noted():
    record = noisy()
    text = "Time [s];T\n" + "".join(f"{t:g};{v:.3f}\n" for t, v in zip(record.time, record.medium, strict=True))
    case = with_record(recorded(("cooling_starts_min = 20", "cooling_starts_min = 116.6")), text)
    assert knots_of(case.process.stages) <= MOST_KNOTS
    (note,) = [note for note in case.notes if "noisy" in note]
    assert re.fullmatch(
        r"retort\.csv: the record is noisy: averaged over [\d.]+ s\. Food cannot follow faster changes\.", note
    )
    assert any("20000 samples" in note and note.endswith("within 0.02 K of every mean.") for note in case.notes)


def test_averages_are_those_of_the_straight_lines_between_samples():
    # worked by hand: 0, 4, 0 at 0, 1, 4 s; areas to 1 s 2, from 1 to 2 s (4 + 8/3)/2, ...
    time, values = averaged(np.array([0.0, 1.0, 4.0]), np.array([0.0, 4.0, 0.0]), 2.0)
    assert time.tolist() == [0.0, 2.0, 4.0]
    # from 1 to 3 s: 4 down to 4/3, mean 8/3
    assert_allclose(values, [0.0, 8 / 3, 0.0], rtol=1e-14)
    assert [part.tolist() for part in averaged(np.array([0.0, 1.0]), np.array([5.0, 6.0]), 9.0)] == [[0, 1], [5, 6]]


@given(st.lists(st.tuples(st.floats(0.1, 100), st.floats(-50, 200)), min_size=2, max_size=60), st.floats(0.5, 500))
def test_averages_keep_the_area_between_the_outermost_middles(steps, interval):
    time = np.cumsum([step for step, _ in steps])
    values = np.array([value for _, value in steps])
    places, means = averaged(time, values, interval)
    assert np.diff(places).max() <= interval * (1 + 1e-9)
    assert (places[0], places[-1], means[0], means[-1]) == (time[0], time[-1], values[0], values[-1])
    first, last = (places[0] + places[1]) / 2, (places[-1] + places[-2]) / 2
    inside = (time > first) & (time < last)
    knots = np.concatenate([[first], time[inside], [last]])
    area = np.trapezoid(np.interp(knots, time, values), knots)
    width = places[1] - places[0]
    assert_allclose((means[1:-1] * width).sum(), area, rtol=0, atol=1e-7)  # sums of some 60 areas up to 2e4


def test_blanks_and_scales_of_the_record_are_noted():
    fahrenheit = RETORT.replace("°C", "°F").replace("\n13;100\n", "\n13;\n")
    notes = with_record(record=fahrenheit).notes
    assert 'retort.csv: column "Retort [°F]" is turned from degF into degC.' in notes
    assert 'retort.csv: column "Retort [°F]" has no number in 1 of 27 samples (line 15); they are left out.' in notes


def test_columns_unit_and_decimal_sign_may_be_stated():
    record = "a;b;c\n" + "".join(f"{m};{t:g};{t + 5:g}\n" for m, t in zip(MINUTES, MEDIUM, strict=True))
    stated = 'csv = "retort.csv"\ncsv_time = 1\ncsv_temperature = "c"\ncsv_time_unit = "min"\ncsv_decimal = ","'
    process = with_record(recorded(('csv = "retort.csv"', stated)), record).process
    assert process.end == 26 * 60
    assert process.stages[0].medium[0] == 45.0


REFUSALS = tomllib.loads(Path(__file__).with_name("refused_record_cases.toml").read_text("utf-8"))["refusal"]


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal["new"][:40])
def test_one_fault_of_a_record_gives_one_clear_line(refusal):
    assert refusals(recorded((refusal["old"], refusal["new"]))) == [refusal["fault"]]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "13;100",
            "13;999.9",
            'column "Retort [°C]" drops out in 1 samples; the first of them reads 999.9 degC (line 15)',
        ),
        (
            "13;100",
            "12;100",
            "1 sample repeats the time of the one before (line 15): the first of each time is kept.",
        ),
        ("13;100", "13;", 'column "Retort [°C]" has no number in 1 of 27 samples (line 15); they are left out.'),
        ("\n0;40", "\n0;", 'column "Retort [°C]" begins 60 s late; until then it is taken as level.'),
    ],
)
def test_a_process_may_be_as_messy_as_a_measured_run_with_the_same_notes(old, new, said):
    text = RETORT.replace(old, new)
    case = with_record(recorded(), text)
    assert any(said in note for note in case.notes)
    # what a measured run says of the same file
    columns = Columns(probes=("3",), medium="2")
    lines = [line + (";20" if k else ";Can") for k, line in enumerate(text.splitlines()) if line]
    run = run_from_bytes("\n".join(lines).encode(), columns, name="retort.csv")
    notes = [*run.notes, *process_of(run, case)[1]]
    assert any(said in note for note in notes)
    assert any(note.endswith(" min of the record, where the medium leaves its hold.") for note in notes)
    told = run_from_bytes("\n".join(lines).encode(), dataclasses.replace(columns, cooling=1200.0), name="retort.csv")
    assert "retort.csv: cooling starts at 20 min of the record, as said." in process_of(told, case)[1]


@pytest.mark.parametrize(("columns", "stages", "said"), [
    ({"medium": "2", "cooling": 1200.0}, 2, "the record goes on for 6 min of cooling, but the case's process has"),
    ({"medium": "2", "cooling": 1620.0}, 3, "cooling is said to start at 27 min; it must lie after the start of the "
     "process and before the end of the record, 26 min"),
    ({"cooling": 1200.0}, 3, "when cooling starts is said, but no column of the medium"),
])  # fmt: skip
def test_a_measured_run_that_does_not_fit_its_process_is_refused(columns, stages, said):
    case = case_from_text(SMALL)
    case = case.replace(process=Process(case.process.stages[:stages]))
    lines = "".join(f"{m};{t:g};{20 + m}\n" for m, t in zip(MINUTES, MEDIUM, strict=True))
    run = run_from_bytes(f"Time [min];Retort [°C];Can [°C]\n{lines}".encode(), Columns(probes=("3",), **columns))
    with pytest.raises(InputError, match=said):
        process_of(run, case)
    # a record that ends when cooling starts needs no stage for it
    if stages == 2:
        ends = dataclasses.replace(run, medium=Course("Retort", 60.0 * MINUTES[:21], MEDIUM[:21]))
        assert [stage.name for stage in process_of(ends, case)[0].stages] == ["come-up", "hold"]


def test_films_that_change_in_a_stage_do_so_as_long_after_its_start_as_in_the_case():
    """Water for 2 min, then air: in a record that cools from minute 20 on up to 22, whatever the case's own times."""
    case = case_from_text(SMALL)
    come_up, hold, cool = case.process.stages
    water, air = (Film.everywhere(film) for film in (600.0, 20.0))
    early, late = (np.array([start, cool.start + 120.0]) for start in (cool.start, cool.start + 60.0))
    stages = (
        come_up, hold,
        dataclasses.replace(cool, time=early, medium=np.full(2, 30.0), film=water),
        dataclasses.replace(cool, time=late + 60.0, medium=np.full(2, 30.0), film=air),
    )  # fmt: skip
    case = case.replace(process=Process(stages))
    lines = "".join(f"{m};{t:g};{20 + m}\n" for m, t in zip(MINUTES, MEDIUM, strict=True))
    text = f"Time [min];Retort [°C];Can [°C]\n{lines}"
    run = run_from_bytes(text.encode(), Columns(probes=("3",), medium="2", cooling=1200.0))
    found = process_of(run, case)[0]
    cooled = [(stage.start, stage.end, stage.film) for stage in found.stages if stage.name == "cool"]
    assert cooled == [(1200.0, 1320.0, water), (1320.0, 1560.0, air)]
    assert found.medium_at(np.array([1319.0, 1321.0])) == pytest.approx(
        MEDIUM[22] + 10.0 / 60.0 * np.array([1, -1]), abs=0.1
    )
    whole = process_of(run, case.replace(process=Process(stages[:3])))[0]
    assert [stage.film for stage in whole.stages] == [come_up.film, hold.film, water]


def test_a_record_that_is_missing_is_one_line(tmp_path):
    (tmp_path / "retort.csv").write_text(RETORT)
    (tmp_path / "jar.toml").write_text(SMALL)
    (fault,) = faults_of(recorded(('"retort.csv"', '"retrot.csv"')), folder=tmp_path)
    assert fault.startswith('jar.toml [process]: csv = "retrot.csv": ')
    assert fault.endswith('retrot.csv: no such file; did you mean "retort.csv"?')


def test_a_record_of_more_than_twenty_megabytes_is_refused(tmp_path):
    with (tmp_path / "retort.csv").open("wb") as file:
        file.truncate(20_000_001)
    (fault,) = faults_of(recorded(), folder=tmp_path)
    assert fault.endswith("has 20.0 MB, too large for a data logger's file; at most 20 MB are read")


@given(
    st.lists(st.tuples(st.floats(0.1, 100), st.floats(-50, 200)), min_size=2, max_size=60),
    st.sampled_from([0.02, 1.0, 30.0]),
)
def test_a_thinned_record_stays_within_its_tolerance_of_every_sample(steps, tolerance):
    time = np.cumsum([step for step, _ in steps])
    values = np.array([value for _, value in steps])
    knots = thinned(time, values, tolerance)
    assert (knots[0], knots[-1]) == (0, time.size - 1)
    assert np.all(np.diff(knots) > 0)
    # 1e-9: rounding of the slopes of values of some 100 K
    assert np.abs(np.interp(time, time[knots], values[knots]) - values).max() <= tolerance + 1e-9


def test_thinning_finds_the_kinks_and_nothing_else():
    knots = thinned(60.0 * MINUTES, MEDIUM, 0.02)
    assert knots.tolist() == [0, 10, 20, 26]
    # a curve bent by 1/8 c dt^2: y = t^2 (c = 2) between knots dt apart lies up to dt^2/4 off its chord
    time = np.linspace(0.0, 10.0, 1001)
    steps = np.diff(time[thinned(time, time**2, 0.25)])
    assert_allclose(steps[:-1], 1.0, rtol=0, atol=0.02)


@pytest.mark.parametrize("noise", [0.0, 0.1])
@pytest.mark.parametrize("fall", [1.0, 60.0, 300.0])
def test_cooling_starts_at_the_last_sample_of_the_hold(fall, noise):
    """Every 30 s: up in 10 min, held at 121 degC to 50 min, down to 20 degC at once, in 1 min or in 5 min."""
    time = np.arange(0.0, 4501.0, 30.0)
    medium = np.interp(time, [0.0, 600.0, 3000.0, 3000.0 + fall, 4500.0], [40.0, 121.0, 121.0, 20.0, 20.0])
    medium += np.random.default_rng(3).normal(0.0, noise, time.size) if noise else 0.0
    assert cooling_start(Course("Retort", time, medium)) == 3000.0
    kept = time <= 3000.0
    assert cooling_start(Course("Retort", time[kept], medium[kept])) == 3000.0
