"""What a worker leaves to the machine between two runs.

Rung: hand-worked sizes.
"""

import ctypes
import os

import numpy as np
import pytest

from thermsim.assess.study.workers import give_back


def resident():
    with open("/proc/self/statm") as statm:
        return int(statm.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


@pytest.mark.skipif(
    not os.path.exists("/proc/self/statm") or not hasattr(ctypes.CDLL(None), "malloc_trim"), reason="needs glibc"
)
def test_a_worker_gives_back_what_lies_free_between_what_it_keeps_but_only_where_it_is_much():
    freed_once = np.ones(3 << 20)
    del freed_once  # from now on pieces of up to 24 MB are kept
    kept, fields = [], []
    for _ in range(20):
        fields.append(np.ones(1 << 20))
        kept.append(np.ones(20_000))
    most = resident()
    fields.clear()
    left = resident()
    assert give_back(above=most + 1000.0) is False
    assert resident() > left - 20.0
    give_back(above=0.0)
    assert resident() < most - 130.0
    assert all(array.sum() == array.size for array in kept)
