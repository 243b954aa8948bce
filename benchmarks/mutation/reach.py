"""A pytest plugin that notes which functions of the package each test file enters, and what the file costs.

Loaded by ``benchmarks/mutants.py --reach``. Work of other processes is not seen.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]

#: Code entered and seconds of processor time, by test file; the set that is filled now.
entered: dict[str, set[object]] = {}
seconds: dict[str, float] = {}
now: set[object] = set()


def trace(frame, event, argument):
    now.add(frame.f_code)


def pytest_runtest_protocol(item, nextitem):
    """Fill the set of the test's file from here on."""
    global now
    file = item.nodeid.partition("::")[0]
    now = entered.setdefault(file, set())
    seconds[file] = seconds.get(file, 0.0) - time.process_time()
    sys.settrace(trace)
    threading.settrace(trace)


def pytest_runtest_logfinish(nodeid, location):
    sys.settrace(None)
    threading.settrace(None)
    seconds[nodeid.partition("::")[0]] += time.process_time()


def pytest_sessionfinish(session):
    found = {}
    for file, codes in entered.items():
        names = set()
        for code in codes:
            try:
                names.add(f"{Path(code.co_filename).relative_to(ROOT).as_posix()}:{code.co_qualname}")
            except ValueError:
                continue
        ours = sorted(name for name in names if name.startswith("thermsim/"))
        found[file] = {"seconds": round(seconds[file], 2), "functions": ours}
    Path(os.environ["REACH"]).write_text(json.dumps(found), "utf-8")
