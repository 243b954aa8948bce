"""Rung: hand-worked. A measured run is read as it comes, and what is dropped is said."""

import hashlib

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.errors import InputError
from thermsim.loggers.cleaning import noise_of, running_median
from thermsim.loggers.run import Columns, read_run, run_from_bytes

N = 60
CORE = [20.0 + 0.8 * k for k in range(N)]
MEDIUM = [60.0 + k for k in range(N)]


def record(rows=None, head="Time [min];Retort [°C];Can 1 [°C];Can 2 [°C]"):
    rows = rows or [(k * 0.5, MEDIUM[k], CORE[k], CORE[k] + 1) for k in range(N)]
    return (head + "\n" + "".join(";".join(str(cell) for cell in row) + "\n" for row in rows)).encode()


def rows(**changes):
    """Rows of the record with the cells of the first can changed, by row."""
    found = [[k * 0.5, MEDIUM[k], CORE[k], CORE[k] + 1] for k in range(N)]
    for row, value in changes.items():
        found[int(row[1:])][2] = value
    return found


BOTH = Columns(probes=("Can 1 [°C]", "Can 2 [°C]"), medium="Retort [°C]")


def test_columns_become_courses_on_the_processs_clock():
    run = run_from_bytes(record(), BOTH, name="run.csv")
    assert [course.name for course in run.courses] == ["Can 1 [°C]", "Can 2 [°C]"]
    assert_allclose(run.courses[0].time, np.arange(N) * 30.0, rtol=1e-12)
    assert_allclose(run.courses[1].temperature, np.array(CORE) + 1, rtol=1e-12)
    assert_allclose(run.medium.temperature, MEDIUM, rtol=1e-12)
    assert run.notes == ()


def test_the_file_is_kept_byte_by_byte_and_not_altered(tmp_path):
    data = record().replace(b"\n", b"\r\n")
    path = tmp_path / "run.csv"
    path.write_bytes(data)
    run = read_run(path, BOTH)
    assert path.read_bytes() == data == run.data.tobytes()
    assert run.sha256 == hashlib.sha256(data).hexdigest()


def test_columns_may_be_numbers_and_the_only_probe_needs_no_name():
    assert run_from_bytes(record(), Columns(probes=("3",), medium="2")).courses[0].name == "Can 1 [°C]"
    one = record([row[:3] for row in rows()], "Time [min];Retort [°C];Can 1 [°C]")
    assert run_from_bytes(one, Columns(medium="Retort [°C]")).courses[0].name == "Can 1 [°C]"


def test_the_start_of_the_process_is_taken_off():
    run = run_from_bytes(record(), Columns(probes=("3",), start=300.0))
    assert_allclose(run.courses[0].time[0], 0.0)
    assert_allclose(run.courses[0].temperature[0], CORE[10], rtol=1e-12)
    assert "10 samples before the process starts" in " ".join(run.notes)


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        (Columns(probes=("Can 3 [°C]",)), 'no column "Can 3 [°C]"; did you mean "Can'),
        (Columns(probes=("Can 1 [°C]", "3")), "named twice"),
        (Columns(probes=("2",), medium="2"), "as the medium and as a probe"),
        (Columns(probes=("1",)), "not a column of readings"),
        (Columns(probes=("3",), depths=(("4", 0.06),)), "is not a probe"),
        (Columns(probes=("3",), depths=(("3", 0.06), ("3", 0.05))), "two depths"),
        (Columns(probes=("3",), start=1e5), "the record ends at 29.5 min"),
        (Columns(medium="2"), "which column is the temperature is not clear"),
    ],
)
def test_a_column_that_is_not_clear_is_refused_in_one_line(columns, said):
    with pytest.raises(InputError) as refused:
        run_from_bytes(record(), columns, name="run.csv")
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_spike_is_dropped_and_a_step_of_the_medium_is_not():
    changed = rows(r30=CORE[30] + 5.0)
    for row in changed[40:]:
        row[1] = 25.0
    run = run_from_bytes(record(changed), BOTH, name="run.csv")
    assert 900.0 not in run.courses[0].time
    assert run.courses[0].time.size == N - 1
    assert run.medium.time.size == N
    assert '"Can 1 [°C]"' in run.notes[0] and "line 32" in run.notes[0]


def test_drop_outs_and_blanks_are_dropped_and_named():
    run = run_from_bytes(record(rows(r10=999.9, r11=-200, r20="", r21="OL")), BOTH, name="run.csv")
    assert run.courses[0].time.size == N - 4
    assert run.courses[1].time.size == N
    said = " ".join(run.notes)
    assert "no number in 2 of 60 samples (lines 22, 23)" in said
    assert "drops out in 2 samples; the first of them reads 999.9 degC (lines 12, 13)" in said


def test_repeated_times_keep_their_first_sample():
    doubled = rows()
    doubled.insert(6, [2.5, 0.0, 77.0, 77.0])
    run = run_from_bytes(record(doubled), BOTH, name="run.csv")
    assert run.courses[0].time.size == N
    assert 77.0 not in run.courses[0].temperature
    assert "1 sample repeats the time of the one before (line 8)" in run.notes[0]
    doubled.insert(9, doubled[8])
    again = run_from_bytes(record(doubled), BOTH, name="run.csv")
    assert "2 samples repeat the time of the one before (lines 8, 11)" in again.notes[0]


def test_times_that_go_back_are_refused():
    turned = rows()
    turned[20][0] = 1.0
    with pytest.raises(InputError, match="is earlier than"):
        run_from_bytes(record(turned), BOTH)


def test_columns_sampled_unlike_keep_their_own_times():
    sparse = rows(**{f"r{k}": "" for k in range(1, N, 2)})
    run = run_from_bytes(record(sparse), BOTH, name="run.csv")
    assert_allclose(run.courses[0].time, np.arange(0, N, 2) * 30.0, rtol=1e-12)
    assert run.courses[1].time.size == N


def test_fahrenheit_is_turned_and_unmarked_fahrenheit_is_refused():
    hot = [(k * 0.5, 200 + k, 150 + k, 151 + k) for k in range(N)]
    turned = run_from_bytes(record(hot, "Time [min];Retort [°F];Can 1 [°F];Can 2 [°F]"), Columns(probes=("3",)))
    assert_allclose(turned.courses[0].temperature[0], (150 - 32) / 1.8, rtol=1e-12)
    with pytest.raises(
        InputError,
        match='no temperature from -60 to 200 degC; it reads 260; did you mean degF.* say so: "Retort .degF.',
    ):
        run_from_bytes(record([(a, b + 60, c + 60, d) for a, b, c, d in hot]), Columns(probes=("2",)))


def test_too_few_readings_are_no_curve():
    with pytest.raises(InputError, match="at least 20 are needed"):
        run_from_bytes(record(rows()[:15]), BOTH)


def test_a_jump_of_a_probe_is_named():
    jumped = rows(**{f"r{k}": CORE[k] + 40.0 for k in range(30, N)})
    run = run_from_bytes(record(jumped), BOTH, name="run.csv")
    assert "steps by up to 40.8 K" in " ".join(run.notes)


def test_noise_is_found_on_a_bent_course_with_spikes():
    chance = np.random.default_rng(1)
    course = 60.0 * (1 - np.exp(-np.arange(400) / 80)) + chance.normal(0, 0.1, 400)
    course[50] += 20
    # the median of 400 sizes is sure to about 5 %
    assert_allclose(noise_of(course), 0.1, rtol=0.15)


def test_the_running_median_leaves_a_ramp_as_it_is():
    ramp = np.linspace(0.0, 9.0, 10)
    assert_allclose(running_median(ramp), ramp, rtol=1e-12, atol=1e-12)
