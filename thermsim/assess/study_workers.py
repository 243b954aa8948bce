"""Processes that make runs: one thread of arithmetic in each, deaf to the keyboard, gone when their parent is.

Nothing that computes is imported here: the number of threads must be set before it is.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import connection

_THREADS = ("NUMBA_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def own_processes(workers: int | None = None) -> list[ProcessPoolExecutor]:
    """Workers, each with an executor of its own; as many as the machine has cores where no number is given."""
    spawn = multiprocessing.get_context("spawn")
    return [ProcessPoolExecutor(1, mp_context=spawn, initializer=become_worker) for _ in range(workers or cores())]


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def become_worker() -> None:
    """Make the calling process a worker."""
    for name in _THREADS:
        os.environ[name] = "1"
    # the parent hears the interrupt and says what becomes of the work
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_outlive_not, args=(parent.sentinel,), daemon=True).start()


def _outlive_not(sentinel: int) -> None:
    """End this process when its parent ends, however that ended: a killed parent cannot tell its workers."""
    connection.wait([sentinel])
    os._exit(1)
