import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.errors import InputError
from thermsim.loggers.cleaning import cleaned
from thermsim.loggers.logger import LARGEST_LOG, find_column, log_from_text, log_text


def read_log(path):
    """The log in a file."""
    return log_from_text(log_text(path, limit=LARGEST_LOG), name=path.name)


def times(text, **options):
    return log_from_text(text, **options).time.tolist()


@pytest.mark.parametrize(
    "header", ["Time [min]", "time_min", "Time (min)", "Time, min", "t/min", "Zeit min", "Elapsed minutes", "t [min]"]
)
def test_the_unit_of_time_is_read_from_the_header(header):
    assert times(f"{header};T\n2;40\n3;41\n5;42\n") == [0.0, 60.0, 180.0]


@pytest.mark.parametrize(("unit", "seconds"), [("s", 1.0), ("min", 60.0), ("h", 3600.0)])
def test_the_unit_of_time_may_be_stated(unit, seconds):
    assert times("1;40\n2;41\n", time_unit=unit) == [0.0, seconds]
    assert times(f"t_{unit};T\n1;40\n2;41\n") == [0.0, seconds]


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        (("00:00:00", "00:00:30", "00:01:00"), [0, 30, 60]),
        (("23:59:30", "00:00:00", "00:00:30"), [0, 30, 60]),
        (("11:59:30 PM", "12:00:00 AM", "12:00:30 a.m."), [0, 30, 60]),
        (("12:59:59 am", "1:00:00 am", "1:00:01 am"), [0, 1, 2]),
        (("99:00:00", "99:59:59", "100:00:00"), [0, 3599, 3600]),
        (("00:00:00.5", "00:00:01.25", "00:00:02"), [0, 0.75, 1.5]),
        (("2024-12-31 23:59:30", "2025-01-01 00:00:00", "2025-01-01T00:00:30"), [0, 30, 60]),
        (("2024-03-01T12:00:00Z", "2024-03-01T12:00:01Z", "2024-03-01T12:00:02Z"), [0, 1, 2]),
        # the hour that the clock is put back
        (("2024-10-27T02:59:30+02:00", "2024-10-27T02:00:00+01:00", "2024-10-27T02:00:30+01:00"), [0, 30, 60]),
        (("28.02.2024 23:59", "29.02.2024 00:00", "01.03.2024 00:00"), [0, 60, 86460]),
        (("31.12.24 12:00:00", "31.12.24 12:00:10", "01.01.25 12:00:00"), [0, 10, 86400]),
        # slashes: the month cannot be 13; the day cannot be 31 of a month of 30
        (("12/13/2024 12:00:00", "12/13/2024 12:00:05", "12/14/2024 12:00:00"), [0, 5, 86400]),
        (("13/12/2024 12:00:00", "13/12/2024 12:00:05", "14/12/2024 12:00:00"), [0, 5, 86400]),
        # month first it would run from October back to February
        (("10/10/2024 23:59:00", "11/10/2024 00:00:00", "02/11/2024 00:00:00"), [0, 60, 60 + 22 * 86400]),
        # within one day it does not matter which is the month
        (("03/04/2024 11:59:59 am", "03/04/2024 12:00:00 pm", "03/04/2024 12:00:01 pm"), [0, 1, 2]),
    ],
)
def test_times_are_seconds_from_the_first_sample(cells, seconds):
    text = "Time;T\n" + "".join(f"{cell};40\n" for cell in cells)
    # dates are counted in seconds of some 1e11, of which a double holds 1e-5
    assert_allclose(times(text), seconds, rtol=0, atol=1e-4)


@pytest.mark.parametrize(
    ("options", "header", "seconds"),
    [({"time_unit": "mm:ss"}, "Time", 90.0), ({"time_unit": "hh:mm"}, "Time", 5400.0), ({}, "Time [mm:ss]", 90.0)],
)
def test_times_of_two_parts_are_what_the_unit_says(options, header, seconds):
    assert times(f"{header};T\n10:00;40\n11:30;41\n", **options) == [0.0, seconds]


@pytest.mark.parametrize(
    "text",
    [
        "Time [s];T\n0;40.5\n30;41.25\n",
        "Time [s];T\n0;40,5\n30;41,25\n",
        "Time [s]\tT\n0\t40,5\n30\t41,25\n",
        "Time [s],T\n0,40.5\n30,41.25\n",
        '"Time [s]","T"\n"0","40,5"\n"30","41,25"\n',
        "\ufeffTime [s];T\r\n0;40,5\r\n\r\n30;41,25\r\n",
        "Time [s];T;;\n0;40,5;;\n30;41,25;;\n",
        "# made by a logger\n# Time [s];T\n0;40,5\n30;41,25\n",
        "Logger 12\nSerial;4711\nInterval;30;120\n\nTime [s];T\n0;40,5\n30;41,25\n",
        "Time;T\ns;degC\n0;40,5\n30;41,25\n",
        "Time [s];T;State\n0;40,5;ok\n30;41,25;ok\nEnd of record\n",
        "Time [s] ; T \n 0 ; 40,5 \n 30 ; 41,25 \n;;\n",
        "Time [s];T\r0;40,5\r30;41,25\r",
    ],
)
def test_every_layout_gives_the_same_numbers(text):
    log = log_from_text(text)
    assert log.time.tolist() == [0.0, 30.0]
    assert log.values[:, 0].tolist() == [40.5, 41.25]
    assert log.columns[0].startswith("T")
    assert log.numbers[0] == 2


@pytest.mark.parametrize(
    ("header", "reading"),
    [("T [°F]", 212.0), ("T (F)", 212.0), ("T_F", 212.0), ("T deg F", 212.0), ("T [K]", 373.15), ("T_K", 373.15)],
)
def test_other_temperature_scales_are_turned_into_celsius_with_a_note(header, reading):
    log = log_from_text(f"Time [s];{header}\n0;{reading}\n1;{reading}\n")
    assert_allclose(log.values, 100.0, rtol=1e-14)
    assert log.notes[0].startswith(f'log.csv: column "{header}" is turned from ')


def test_readings_that_are_no_numbers_are_blanks():
    log = log_from_text("Time [s];T;U\n0;40;1\n1;---;2\n2;NaN;3\n3;inf;4\n4;1_000;5\n5;41\n")
    assert np.isfinite(log.values[:, 0]).tolist() == [True, False, False, False, False, True]
    assert np.isnan(log.values[5, 1])


def test_the_first_sample_counts_even_if_its_reading_is_no_number():
    log = log_from_text("Time [s];T;U\n0;Overrange;1\n30;41;2\n60;42;3\n")
    assert log.columns == ("T", "U")
    assert log.time.tolist() == [0.0, 30.0, 60.0]
    assert np.isnan(log.values[0, 0])


def test_lines_and_places_are_those_of_the_file():
    log = log_from_text("Remark\n\nNo;Time [s];T\n1;0;40\n\n2;1;41\n")
    assert log.lines.tolist() == [4, 6]
    assert log.columns == ("No", "T")
    assert log.numbers == (1, 3)


def test_columns_without_any_number_are_left_out():
    log = log_from_text("Date;Time;T;State\n03.04.2024;12:00:00;40;ok\n03.04.2024;12:00:30;41;ok\n")
    assert log.columns == ("T",)
    assert log.numbers == (3,)


def test_a_long_pause_is_noted():
    text = "Time [min];T\n" + "".join(f"{minute};40\n" for minute in (0, 1, 2, 3, 33, 34, 35))
    assert log_from_text(text).notes == (
        "log.csv: no samples for 30 min from 3 min on (before line 6); usually one is taken every 1 min. In "
        "between the temperature is interpolated linearly.",
    )


def test_several_pauses_are_noted_in_one_sentence():
    minutes = [0, 1, 2, 15, 16, 30, 31, 45, 46, 60, *range(61, 70)]
    (note,) = log_from_text("Time [min];T\n" + "".join(f"{minute};40\n" for minute in minutes)).notes
    assert note == (
        "log.csv: no samples for 13 min from 2 min on (before line 5), for 14 min from 16 min on (before line 7), "
        "for 14 min from 31 min on (before line 9) and 1 more times; usually one is taken every 1 min. In between "
        "the temperature is interpolated linearly."
    )


@pytest.mark.parametrize(
    ("seconds", "noted"),
    [
        ((0, 1, 2, 3, 122), False),  # 119 steps, but not two minutes
        ((0, 1, 2, 3, 124), True),
        ((0, 60, 120, 180, 780), False),  # ten steps
        ((0, 60, 120, 180, 781), True),
    ],
)
def test_a_pause_is_longer_than_ten_steps_and_two_minutes(seconds, noted):
    log = log_from_text("Time [s];T\n" + "".join(f"{second};40\n" for second in seconds))
    assert bool(log.notes) is noted


def test_blanks_that_make_a_pause_are_noted_as_one():
    text = "Time [min];T\n" + "".join(f"{m};{'' if 100 <= m < 120 else 40}\n" for m in range(500))
    notes = cleaned(log_from_text(text), 0, of_medium=True).notes
    assert len(notes) == 2
    assert notes[1].startswith("no samples for 21 min from 99 min on (before line 122);")


def test_a_pause_of_the_log_is_not_noted_again_with_its_column():
    text = "Time [min];T\n" + "".join(f"{m};{'' if m == 3 else 40}\n" for m in [*range(60), *range(100, 160)])
    log = log_from_text(text)
    assert log.notes[0].startswith("log.csv: no samples for 41 min from 59 min on (before line 62);")
    assert len(cleaned(log, 0, of_medium=True).notes) == 1


def test_cells_beyond_the_others_are_noted():
    log = log_from_text("Time [s];T\n0;40\n1;41;7\n2;42;;\n3;43;;9\n4;44\n")
    assert log.notes == ("log.csv: 2 lines have more than 2 cells (line 3 the first); the cells beyond are skipped.",)
    assert log.values[:, 0].tolist() == [40.0, 41.0, 42.0, 43.0, 44.0]
    log = log_from_text("Time [s];T\n0;40\n1;41\n2;42;7\n")
    assert log.notes == ("log.csv: 1 line has more than 2 cells (line 4); the cells beyond are skipped.",)


def test_columns_beyond_the_headers_are_noted():
    log = log_from_text("Time [s];T\n0;40;5\n1;41;5\n")
    assert log.columns == ("T", "column 3")
    assert log.notes == (
        "log.csv: rows have 3 cells under 2 headers: check that each column stands under its own header.",
    )
    # a trailing separator, or a first column without a header, leaves no doubt
    assert log_from_text("Time [s];T\n0;40;\n1;41;\n").notes == ()
    assert log_from_text(";Time [s];T\n1;0;40\n2;1;41\n").notes == ()
    assert log_from_text("0;40\n1;41\n", time_unit="s").notes == ()


@pytest.mark.parametrize(
    ("name", "start"),
    [("log.csv", b"PK\x03\x04"), ("log.csv", b"\xd0\xcf\x11\xe0"), ("log.XLSX", b"x"), ("a.ods", b"")],
)
def test_a_spreadsheet_is_told_to_be_exported(tmp_path, name, start):
    (tmp_path / name).write_bytes(start + b"\0\1")
    with pytest.raises(InputError, match=rf"\A{name}: looks like a spreadsheet: export it as CSV\Z"):
        read_log(tmp_path / name)


def test_what_follows_the_last_sample_is_passed_over_with_a_note():
    log = log_from_text("Time [s];T\n0;40\n1;41\nEnd;of record\n")
    assert log.notes == ("log.csv: lines after the last sample (from line 4 on) are skipped.",)


def test_a_log_cannot_be_written_to():
    log = log_from_text("Time [s];T\n0;40\n1;41\n")
    with pytest.raises(ValueError, match="read-only"):
        log.values[0] = 3


REFUSALS = tomllib.loads(Path(__file__).with_name("refused_logs.toml").read_text("utf-8"))["refusal"]


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal["message"][:40])
def test_what_is_not_clear_is_refused_with_its_place(refusal):
    with pytest.raises(InputError, match=refusal["message"]):
        log_from_text(refusal["text"], **refusal["options"])


LOGGED = "Time [min];Retort [°C];Core [°C];Pressure [bar]\n0;40;30;1\n1;50;31;1,1\n2;60;32;1,2\n"


def test_a_column_is_chosen_by_header_number_or_being_the_only_temperature():
    log = log_from_text(LOGGED)
    assert find_column(log, "Core [°C]") == 1
    assert find_column(log, "core [°c]") == 1
    assert find_column(log, 3) == 1
    assert find_column(log_from_text(LOGGED.replace("Core [°C]", "Valve [%]")), None) == 0
    assert find_column(log_from_text("Time [s];Medium\n0;40\n1;41\n"), None) == 0


@pytest.mark.parametrize(
    ("choice", "message"),
    [
        (
            None,
            r"not clear; name the medium's and each probe's \(--medium and --probe on the command line\), of "
            r'2 "Retort \[°C\]", 3 "Core \[°C\]", 4 "Press',
        ),
        (1, r'not a column of readings; there are 2 "Retort \[°C\]", 3 "Core \[°C\]", 4 "Pressure \[bar\]"'),
        ("Retrt [°C]", r'has no column "Retrt \[°C\]"; did you mean "Retort \[°C\]"\?'),
    ],
)
def test_a_column_that_is_not_clear_is_refused(choice, message):
    with pytest.raises(InputError, match=message):
        find_column(log_from_text(LOGGED), choice)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_the_encoding_of_a_file_is_found_out(tmp_path, encoding):
    path = tmp_path / "log.csv"
    path.write_bytes("Time [min];Kühlung [°C]\n0;40\n1;41\n".encode(encoding))
    assert read_log(path).columns == ("Kühlung [°C]",)


@pytest.mark.parametrize("contents", [b"\x89HDF\r\n\0\0", b"\xff\xfe\x00\xd8"])
def test_a_binary_file_is_refused(tmp_path, contents):
    path = tmp_path / "log.csv"
    path.write_bytes(contents)
    with pytest.raises(InputError, match=r"log\.csv: (is not a text file|holds no rows of numbers)"):
        read_log(path)


def test_a_huge_file_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        file.truncate(200_000_001)  # a sparse file: nothing is written
    with pytest.raises(
        InputError, match=r"has 200\.0 MB, too large for a data logger's file; at most 200 MB are read"
    ):
        read_log(path)


def test_a_folder_is_no_log(tmp_path):
    with pytest.raises(InputError, match="is a folder, not a data logger's file"):
        read_log(tmp_path)


def test_a_long_log_comes_out_whole():
    n = 100_000
    text = "Time [s];T\n" + "".join(f"{place};{40 + place % 7}\n" for place in range(n))
    log = log_from_text(text)
    assert log.values.shape == (n, 1)
    assert log.values[-1, 0] == 40 + (n - 1) % 7
    assert log.lines[-1] == n + 1
