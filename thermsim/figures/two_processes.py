"""Drawing in two processes: every figure takes a while, and one interpreter draws one at a time."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from types import FrameType
from typing import TypeVar

from thermsim.assess.study.workers import cores

Thing = TypeVar("Thing")
Made = TypeVar("Made")
#: Things at the most whose numbers are a byte each.
MOST = 256


def in_two_processes(make: Callable[[Thing], Made], things: Sequence[Thing]) -> list[Made]:
    """Make something of each of several things, in their order, together with a copy of this process.

    The copy takes what is next when it is free. A process is copied only where that is safe: on Linux, while nothing
    happens in another thread; elsewhere all is made here. What the copy cannot make is made here too, and fails here.
    """
    alone = threading.active_count() == 1
    if not (2 <= len(things) <= MOST and cores() >= 2 and sys.platform == "linux" and alone):
        return [make(thing) for thing in things]
    fork = multiprocessing.get_context("fork")
    # numbers of things in a pipe: whoever is free reads the next, and no lock can be lost with a process
    numbers, writing = os.pipe()
    os.write(writing, bytes(range(len(things))))
    os.close(writing)
    ours, theirs = fork.Pipe(duplex=False)
    copy = fork.Process(target=_make_and_send, args=(make, things, numbers, ours, theirs), daemon=True)
    copy.start()
    theirs.close()
    try:
        made = _make_next(make, things, numbers)
        with contextlib.suppress(EOFError):
            made |= ours.recv()
    finally:
        copy.terminate()
        copy.join()
        ours.close()
        os.close(numbers)
    return [made[k] if k in made else make(thing) for k, thing in enumerate(things)]


def _make_next(make: Callable[[Thing], Made], things: Sequence[Thing], numbers: int) -> dict[int, Made]:
    """Make of one thing after another what no other process has begun; by number."""
    made: dict[int, Made] = {}
    while number := os.read(numbers, 1):
        made[number[0]] = make(things[number[0]])
    return made


def _make_and_send(
    make: Callable[[Thing], Made], things: Sequence[Thing], numbers: int, ours: Connection, theirs: Connection
) -> None:
    """Make things in the copy of a process, deaf to the keyboard: the other hears it, and ends this one."""
    ours.close()  # the other's end: as long as any process holds it, what is sent waits to be read
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _leave)  # what is half-written goes
    made: dict[int, Made] = {}
    with contextlib.suppress(Exception):  # what is missing is made, and fails, where it can be told
        made = _make_next(make, things, numbers)
    with contextlib.suppress(BrokenPipeError):  # the other is gone
        theirs.send(made)


def _leave(_number: int, _frame: FrameType | None) -> None:
    """End this process as if it had come to its end."""
    sys.exit(1)
