import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from small_case import SMALL, faults_of, recorded

from thermsim.case import Film, case_from_text, read_case
from thermsim.case.retort import Record, stages_of, thinned

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
    assert process.heating_end == 20.5 * 60
    # half way from 100 to 90 degC
    assert_allclose(process.stages[2].medium[0], 95.0, rtol=1e-12)
    assert_allclose(process.medium_at(60.0 * MINUTES), MEDIUM, rtol=0, atol=0.02)


def test_a_record_that_ends_with_the_heating_needs_no_cooling_film():
    text = recorded(("cooling_starts_min = 20", "cooling_starts_min = 26"), ("cooling_film_W_m2K = 300\n", ""))
    process = with_record(text).process
    assert [stage.name for stage in process.stages] == ["come-up", "hold"]
    assert process.heating_end == process.end


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


def test_blanks_and_scales_of_the_record_are_noted():
    fahrenheit = RETORT.replace("°C", "°F").replace("\n13;100\n", "\n13;\n")
    notes = with_record(record=fahrenheit).notes
    assert 'retort.csv: column "Retort [°F]" is turned from degF into degC.' in notes
    assert (
        'retort.csv: column "Retort [°F]" has no number in 1 of 27 samples (line 15); they are passed over.' in notes
    )


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
    ("old", "new", "fault"),
    [
        (
            "13;100",
            "13;999.9",
            'retort.csv line 15: column "Retort [°C]" reads 999.9 degC; a medium\'s temperature lies from -60 to '
            "200 degC",
        ),
        (
            "13;100",
            "12;100",
            'retort.csv line 15: time "12" repeats the one before it, "12" on line 14; times must grow',
        ),
        (
            "\n0;40",
            "\n0;",
            'retort.csv line 2: column "Retort [°C]" has no number in the first sample; delete what precedes the '
            "record",
        ),
    ],
)
def test_a_fault_inside_the_record_names_its_line(old, new, fault):
    assert refusals(recorded(), RETORT.replace(old, new)) == [fault]


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
