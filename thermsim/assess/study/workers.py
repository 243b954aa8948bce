"""Processes that make runs: one thread of arithmetic in each, deaf to the keyboard, gone when their parent is.

Nothing that computes is imported here: the number of threads must be set before it is.
"""

from __future__ import annotations

import contextlib
import ctypes
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing import connection
from queue import SimpleQueue
from types import FrameType
from typing import Any

from thermsim.threads import ask_for_one

#: A process that holds more than this [MB] gives back what is free.
HELD = 500.0


def own_processes(workers: int | None = None) -> list[ProcessPoolExecutor]:
    """Workers, each with an executor of its own; as many as the machine has cores where no number is given."""
    spawn = multiprocessing.get_context("spawn")
    executors = [
        ProcessPoolExecutor(1, mp_context=spawn, initializer=become_worker) for _ in range(workers or cores())
    ]
    with _deaf():  # what is ignored when a process begins stays ignored while it loads
        for executor in executors:
            executor.submit(os.getpid)
    return executors


class Interrupts:
    """Interrupts from the keyboard as events among others, so that none falls into what must not be cut in two.

    An interrupt that is raised while a future's lock is taken leaves it locked for ever, and the program hangs. While
    this context is entered the first interrupt only puts None into ``events``; a second one is raised.
    """

    def __init__(self) -> None:
        self.events: SimpleQueue[Future[Any] | None] = SimpleQueue()
        self.pressed = False
        self._before: Any = None

    def __enter__(self) -> Interrupts:
        if threading.current_thread() is threading.main_thread():
            self._before = signal.getsignal(signal.SIGINT)
            if self._before is signal.default_int_handler:
                signal.signal(signal.SIGINT, self._hear)
        return self

    def __exit__(self, *_: object) -> None:
        if self._before is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._before)

    def _hear(self, _number: int, _frame: FrameType | None) -> None:
        if self.pressed:
            raise KeyboardInterrupt
        self.pressed = True
        self.events.put(None)


@contextlib.contextmanager
def _deaf() -> Iterator[None]:
    """Ignore the keyboard for a moment, where that can be said."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def become_worker() -> None:
    """Make the calling process a worker."""
    ask_for_one()
    # the parent hears the interrupt and says what becomes of the work
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_outlive_not, args=(parent.sentinel,), daemon=True).start()


def give_back(above: float = HELD) -> bool:
    """Give memory that is free back to the system, if the process holds more than some [MB]; tell whether it was.

    glibc keeps what was freed in pieces of up to 32 MB once such a piece was: fields of large grids leave a gigabyte
    behind, of which nothing is in use. Elsewhere nothing is done.
    """
    try:
        with open("/proc/self/statm") as statm:
            resident = int(statm.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
        if resident < above:
            return False
        return bool(ctypes.CDLL(None).malloc_trim(0))
    except (OSError, AttributeError, ValueError):
        return False


def _outlive_not(sentinel: int) -> None:
    """End this process when its parent ends, however that ended: a killed parent cannot tell its workers."""
    connection.wait([sentinel])
    os._exit(1)
