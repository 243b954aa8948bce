"""Threads of the libraries that compute, said before any of them is loaded.

Matrices as small as these are done before a second thread has woken up, and threads are begun as a library is loaded.
"""

from __future__ import annotations

import os

_NUMBERS = ("NUMBA_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def ask_for_one() -> None:
    """Let the libraries that this process and its children load have one thread each."""
    for name in _NUMBERS:
        os.environ[name] = "1"
