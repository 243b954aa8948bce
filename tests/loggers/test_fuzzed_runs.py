"""Two thousand damaged logger files: each is read right or refused in our own words, never silently read wrong.

Rung: hand-worked. Every sample on a line that was not damaged must come out as it stood, or not at all.
"""

import random

import numpy as np
import pytest
from written_logs import PIECES as USUAL
from written_logs import damaged_line

from thermsim.errors import InputError
from thermsim.loggers.run import Columns, run_from_bytes

ROWS = 48
PIECES = (*USUAL, "inf", "=")
BATCHES, EACH = 20, 100


def made(kind):
    """Lines of a record with a header, and time [s] and readings of each sample."""
    samples = [(30.0 * k, 60.0 + k, 20.0 + 0.5 * k) for k in range(ROWS)]
    if kind == "points":
        head = "Time [s],Retort [°C],Core [°C]"
        lines = [f"{time:.0f},{a:.2f},{b:.2f}" for time, a, b in samples]
    elif kind == "commas":
        head = "Time [s];Retort [°C];Core [°C]"
        lines = [f"{time:.0f};{a:.2f};{b:.2f}".replace(".", ",") for time, a, b in samples]
    else:
        head = "Clock [hh:mm:ss]\tRetort [°C]\tCore [°C]"
        lines = [
            f"{23 if k < 20 else 0:02d}:{(50 + k // 2) % 60:02d}:{30 * (k % 2):02d}\t{a:.2f}\t{b:.2f}"
            for k, (_, a, b) in enumerate(samples)
        ]
    return ["Batch 7", head, *lines], samples


def damaged(chooser):
    """The bytes of a damaged record, its samples, and the samples whose lines are as they were."""
    lines, samples = made(chooser.choice(["points", "commas", "clock"]))
    sound = set(range(ROWS))
    how = chooser.choice(["piece", "piece", "cut", "drop", "double", "mixed", "binary", "swap"])
    if how == "cut":
        text = "\n".join(lines)
        text = text[: chooser.randrange(1, len(text))]
        return text.encode(), samples, set(range(text.count("\n") - 2))
    for _ in range(chooser.randint(1, 3)):
        row = chooser.randrange(ROWS)
        place = row + 2
        if row not in sound or not lines[place]:
            continue
        sound.discard(row)
        lines[place] = damaged_line(chooser, lines[place], how, PIECES)
    data = "\n".join(lines).encode()
    if how == "binary":
        at = chooser.randrange(len(data))
        data = data[:at] + bytes(chooser.randrange(256) for _ in range(20)) + data[at:]
        sound = set()
    return data, samples, sound


@pytest.mark.parametrize("batch", [k if k < 2 else pytest.param(k, marks=pytest.mark.whole) for k in range(BATCHES)])
def test_a_damaged_record_is_read_right_or_refused(batch):
    read = 0
    for number in range(EACH):
        data, samples, sound = damaged(random.Random(1000 * batch + number))
        try:
            run = run_from_bytes(data, Columns(probes=("Core [°C]",), medium="Retort [°C]"))
        except InputError as refused:
            assert str(refused).isprintable(), data
            continue
        read += 1
        for course, column in ((run.courses[0], 2), (run.medium, 1)):
            assert (np.diff(course.time) > 0).all()
            assert ((course.temperature >= -60) & (course.temperature <= 200)).all()
            if 0 not in sound:
                continue  # the clock then counts from another sample
            true = {samples[row][0]: samples[row][column] for row in sound}
            for time, value in zip(course.time.tolist(), course.temperature.tolist(), strict=True):
                near = min(true, key=lambda known: abs(known - time), default=None)
                if near is not None and abs(near - time) < 1e-6:
                    # to the digits that were written
                    assert abs(value - true[near]) < 0.006, (data, time, value)
    assert read > EACH // 5


def test_quick_and_careful_reading_of_the_same_samples_agree():
    lines, _ = made("commas")
    # a comment makes the reader go line by line
    careful = [*lines[:10], "# a remark", *lines[10:]]
    columns = Columns(probes=("Core [°C]",), medium="Retort [°C]")
    one, other = (run_from_bytes("\n".join(text).encode(), columns) for text in (lines, careful))
    assert np.array_equal(one.courses[0].time, other.courses[0].time)
    assert np.array_equal(one.courses[0].temperature, other.courses[0].temperature)
    assert np.array_equal(one.medium.temperature, other.medium.temperature)
