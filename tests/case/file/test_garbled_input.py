"""Whatever is in a file, it is read or refused in our own words: no other error may come out."""

import contextlib
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_case import LOGGER, SECOND, SMALL, STEM, recorded, shaped

from thermsim import case_from_text, read_case
from thermsim.errors import CaseError, InputError
from thermsim.loggers.cleaning import cleaned
from thermsim.loggers.logger import LARGEST_LOG, find_column, log_from_text, log_text


def read_log(path):
    """The log in a file."""
    return log_from_text(log_text(path, limit=LARGEST_LOG), name=path.name)


RETORT = "Load 12\nTime [min];Retort [°C];Core\n" + "".join(f"{m};{90 + m % 5},5;{m}\n" for m in range(26))
CLOCKED = "Time,T\n" + "".join(f"03/04/2024 12:{m:02d}:00 PM,{90 + m % 5}\n" for m in range(26))

SHOULDERED = """\
profile_mm = [[0, 33], [80, 33], [95, 26], [113, 26]]
rounding_mm = 5.0
base_rise_mm = 6.0
base_rise_form = "cone"
base_rise_diameter_mm = 50"""
SIZED = """\
size = "307x409"
seam_allowance_mm = 3.0
countersink_allowance_mm = 8.0"""
BRICK = "brick_mm = [165, 95, 80]"
UNEVEN = ("thickness_mm = 3.0", "thickness_mm = [3, 3, 4, 3]")

TEXTS = [
    SMALL,
    recorded(),
    SMALL + STEM + SECOND,
    SMALL + LOGGER,
    shaped(SHOULDERED, UNEVEN) + STEM,
    shaped(SHOULDERED, ("headspace_mm = 12.0", "volume_ml = 300")) + LOGGER,
    shaped("inner_diameter_mm = [66, 80]\ninner_height_mm = 113", ("headspace_mm = 12.0", "mass_g = 300")),
    shaped(SIZED) + STEM,
    shaped(BRICK),
]

SCALARS = st.one_of(
    st.sampled_from(["0", "-1", "nan", "inf", "true", '""', '"x"', "[]", "{}", "[{}]", "1e400", "2024-01-01"]),
    st.sampled_from(
        [
            "[1, 2]",
            "[[0, 1], [9, 0]]",
            "[[0, 33], [33, 0]]",
            '"211x400"',
            "{ side = 1 }",
            "{ material = [] }",
            '{ "a" = {} }',
            "9" * 30,
            '"\\u0000"',
            "07:30:00",
        ]
    ),
)


def refused_or_read(text, **options):
    with contextlib.suppress(CaseError):
        case = case_from_text(text, **options)
        assert case.fill_height > 0
        assert case.process.stages


@given(st.binary(max_size=300))
def test_random_bytes_are_refused_as_a_case(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "jar.toml"
    path.write_bytes(data)
    with pytest.raises(CaseError, match=r"\Ajar\.toml") as refused:
        read_case(path)
    assert all(fault.isprintable() for fault in refused.value.faults)


@given(st.binary(max_size=300))
def test_random_bytes_are_refused_or_read_as_a_log(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "log.csv"
    path.write_bytes(data)
    with contextlib.suppress(InputError):
        assert read_log(path).time.size >= 2


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**9), SCALARS)
def test_any_value_in_any_place_of_a_case_is_refused_or_read(seed, value):
    chooser = random.Random(seed)
    lines = chooser.choice(TEXTS).splitlines()
    place = chooser.choice([number for number, line in enumerate(lines) if " = " in line])
    lines[place] = f"{lines[place].split(' = ')[0]} = {value}"
    refused_or_read("\n".join(lines), attachments={"retort.csv": RETORT})


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**9), st.sampled_from(list('[]{}"=.,;#\n\t\0 09-e:\u2028é')))
def test_a_garbled_case_is_refused_or_read(seed, character):
    chooser = random.Random(seed)
    text = chooser.choice(TEXTS)
    for _ in range(chooser.randint(1, 4)):
        place = chooser.randrange(len(text))
        text = text[:place] + character + text[place + chooser.choice([0, 1, 30]) :]
    refused_or_read(text, attachments={"retort.csv": RETORT})


@settings(max_examples=60)
@given(
    st.integers(0, 10**9), st.sampled_from(list('"=.,;#\n\t 09-e:/\u2028é%') + ["nan", "9" * 400, '""', "1:2", "am"])
)
def test_a_garbled_log_is_refused_or_read(seed, piece):
    chooser = random.Random(seed)
    text = chooser.choice([RETORT, CLOCKED])
    for _ in range(chooser.randint(1, 4)):
        place = chooser.randrange(len(text))
        text = text[:place] + piece + text[place + chooser.choice([0, 1, 30]) :]
    with contextlib.suppress(InputError):
        log = log_from_text(text)
        assert log.time[0] == 0.0
        assert (log.time[1:] > log.time[:-1]).all()
        cleaned(log, find_column(log, log.numbers[0]), of_medium=True)
