"""Loggers' files in every manner, damaged or not: each is read right or refused, never read wrong.

Rung: hand-worked. The samples are known before they are written.
"""

import numpy as np
import pytest
from written_logs import written

from thermsim.errors import InputError
from thermsim.loggers.logger import decoded, log_from_text
from thermsim.loggers.run import Columns, run_from_bytes


def misread(seed):
    """What is wrong with what is read of the file of a seed; "" where it is right, None where it is refused."""
    file = written(seed)
    try:
        run = run_from_bytes(file.data, Columns(probes=(file.core,), medium=file.medium))
    except InputError as refused:
        assert str(refused).isprintable()
        return None
    # without its first sample a record counts from another one
    true = {time: row for row, (time, *_) in enumerate(file.samples)} if 0 in file.sound else {}
    for course, column in ((run.medium, 1), (run.courses[0], 2)):
        if file.whole and course.time.size != len(file.samples):
            return f"{course.time.size} samples of {len(file.samples)}: {file.manner}"
        for time, value in zip(course.time.tolist(), course.temperature.tolist(), strict=True):
            row = true.get(round(time))
            # hours are written to 0.036 s, temperatures to 0.01
            if file.whole and (row is None or abs(time - file.samples[row][0]) > 0.3):
                return f"time {time}: {file.manner}"
            # what was damaged may bear the time of the sample after it
            if (
                row is not None
                and {row, row - 1} <= {*file.sound, -1}
                and abs(value - file.samples[row][column]) > 0.0051
            ):
                return f"{value} in place of {file.samples[row][column]} at {time} s: {file.manner}"
    return ""


@pytest.mark.parametrize(
    "seeds", [range(100), *(pytest.param(range(k, k + 500), marks=pytest.mark.whole) for k in range(0, 3000, 500))]
)
def test_a_loggers_file_is_read_right_or_refused(seeds):
    found = [misread(seed) for seed in seeds]
    assert [fault for fault in found if fault] == []
    assert found.count("") > len(found) / 4


ROWS = [(30 * k, f"{60 + 0.5 * k:.1f}", f"{20 + 0.5 * k:.1f}") for k in range(30)]


def text_of(head, separator=";", decimal=".", rows=ROWS):
    lines = [separator.join(str(cell).replace(".", decimal) for cell in row) for row in rows]
    return "\n".join([head, *lines]) + "\n"


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be", "cp850", "mac-roman", "cp1252"])
def test_degrees_fahrenheit_are_seen_in_any_encoding(encoding):
    data = text_of("Time [s];Retort [°F];Core [°F]").encode(encoding)
    log = log_from_text(decoded(data, "log.csv"))
    assert log.columns == ("Retort [°F]", "Core [°F]")
    np.testing.assert_allclose(log.values[0], [(60 - 32) / 1.8, (20 - 32) / 1.8])


@pytest.mark.parametrize(
    "header", ["Core (degrees F)", "Core, F", "Core FAHRENHEIT", "Core deg. F", "core_f", "(°f)"]
)
def test_degrees_fahrenheit_are_seen_however_they_are_written(header):
    log = log_from_text(text_of(f"Time [s];Retort [°C];{header}"))
    np.testing.assert_allclose(log.values[0], [60.0, (20 - 32) / 1.8])


@pytest.mark.parametrize("header", ["Probe F", "Probe K", "Thermocouple K", "Type K"])
def test_a_letter_that_counts_probes_is_no_unit(header):
    other = header[:-1] + "E" if header.startswith("Probe") else "Core"
    log = log_from_text(text_of(f"Time [s];{other};{header}"))
    assert log.values[0].tolist() == [60.0, 20.0]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (text_of("Time [s],Retort,Core", ",", ","), "decimal commas need ; or tab"),
        (text_of("Time [s]|Retort|Core", "|", ","), "holds no rows of numbers"),
        (text_of("Time [s] Retort Core", " ", ",", [(f"{a}.5", *b) for a, *b in ROWS]), "hold several numbers"),
        (
            text_of(
                "Time;Core", rows=[("24-01-02 23:59:30", 20), ("24-01-03 00:00:00", 21), ("24-01-03 00:00:30", 22)]
            ),
            "lies 364 days after the one before it",
        ),
    ],
)
def test_what_would_be_misread_is_refused_with_the_reason(text, fault):
    with pytest.raises(InputError, match=fault):
        log_from_text(text)


@pytest.mark.parametrize("data", [b"\xff\xfeT", "Time [s];T\n0;1\n".encode("utf-16")[:-1], "T".encode("utf-32")])
def test_wide_text_that_is_cut_is_no_text(data):
    with pytest.raises(InputError, match=r"log\.csv: is not a text file"):
        decoded(data, "log.csv")
