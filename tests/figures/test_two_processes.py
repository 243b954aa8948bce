"""Things made in two processes: all of them, in their order, and what fails in the copy fails where it is told."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from thermsim.figures import two_processes
from thermsim.figures.two_processes import in_two_processes

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes are copied on Linux only")


@pytest.fixture
def alone(monkeypatch):
    """Two cores, and no thread that may hold anything."""
    monkeypatch.setattr(two_processes, "cores", lambda: 2)
    monkeypatch.setattr(threading, "active_count", lambda: 1)


@pytest.mark.usefixtures("alone")
def test_both_processes_make_some_and_the_order_is_kept():
    ready, begun = os.pipe()

    def make(number):
        if number == 0:  # whoever has the first waits for the second, which only the other can make
            os.read(ready, 1)
        else:
            os.write(begun, b"x")
        return number, os.getpid()

    made = in_two_processes(make, range(5))
    assert [number for number, _ in made] == [0, 1, 2, 3, 4]
    assert len({process for _, process in made}) == 2
    assert os.getpid() in {process for _, process in made}


@pytest.mark.usefixtures("alone")
def test_what_fails_is_told_by_this_process():
    def make(number):
        if number == 3:
            raise OSError("disk full")
        return number

    with pytest.raises(OSError, match="disk full"):
        in_two_processes(make, range(6))


@pytest.mark.usefixtures("alone")
def test_a_copy_that_is_ended_removes_what_it_had_half_written(tmp_path):
    here, begun = os.getpid(), tmp_path / "begun"

    def make(number):
        if os.getpid() != here:
            try:
                begun.touch()
                time.sleep(60.0)
            finally:
                begun.unlink()
        while not begun.exists():
            time.sleep(0.01)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        in_two_processes(make, range(6))
    assert not begun.exists()


@pytest.mark.usefixtures("alone")
def test_what_a_lost_copy_had_begun_is_made_here():
    here = os.getpid()

    def make(number):
        if os.getpid() != here:
            os._exit(1)
        return number

    assert in_two_processes(make, range(6)) == [0, 1, 2, 3, 4, 5]


def test_beside_another_thread_no_process_is_copied(monkeypatch):
    monkeypatch.setattr(two_processes, "cores", lambda: 2)
    done = threading.Event()
    thread = threading.Thread(target=done.wait)
    thread.start()
    try:
        made = in_two_processes(lambda number: (number, os.getpid()), range(4))
    finally:
        done.set()
        thread.join()
    assert made == [(number, os.getpid()) for number in range(4)]


def test_a_copy_whose_process_was_killed_ends_too(tmp_path):
    """What it sends is more than a pipe holds."""
    code = f"""
import os, signal, sys, threading, time
from pathlib import Path
from thermsim.figures import two_processes
two_processes.cores = lambda: 2
here, pid = os.getpid(), Path({str(tmp_path / "pid")!r})
def make(number):
    if os.getpid() == here:
        while not pid.exists():
            time.sleep(0.01)
        os.kill(here, signal.SIGKILL)
    part = pid.with_name("part")
    part.write_text(str(os.getpid()))
    part.rename(pid)
    return bytes(10**6)
two_processes.in_two_processes(make, range(4))
"""
    ended = subprocess.run([sys.executable, "-c", code], check=False, stderr=subprocess.DEVNULL)
    assert ended.returncode == -signal.SIGKILL
    copy = int((tmp_path / "pid").read_text())
    for _ in range(200):
        if not Path(f"/proc/{copy}").exists() or ") Z " in Path(f"/proc/{copy}/stat").read_text():
            return
        time.sleep(0.05)
    os.kill(copy, signal.SIGKILL)
    pytest.fail("the copy is still there")
