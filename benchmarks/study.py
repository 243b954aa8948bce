"""Runs per second of a study of the ready jar on one and two workers, and the parent's memory at 100 and 10,000 runs.

``python benchmarks/study.py``. Both numbers of workers are timed in turns, so that whatever else the machine does
falls on both; the parallel efficiency is the speed with two over twice that with one. Starting the workers, which
happens once a study, is not counted: a turn begins when every worker has made a run. Two processes that make the same
runs without any study are timed in the same turns: what they lose to each other is the machine's loss, not the
study's. Memory is that of the parent alone, with runs that cost nothing, through the same journal, arrays and file.
Absolute numbers depend on the machine: compare the ratios.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from concurrent.futures import Executor, Future, wait
from pathlib import Path

import numpy as np

from thermsim.assess.study.all_runs import OWN_AHEAD, finished_runs
from thermsim.assess.study.one_run import Task, compute_run, setup_of
from thermsim.assess.study.sampling import plan_of
from thermsim.assess.study.workers import own_processes
from thermsim.case.case import Case
from thermsim.case.file.reader import case_from_text
from thermsim.records.study.file import save_study
from thermsim.records.study.running import run_study

JAR = (Path(__file__).parent.parent / "cases" / "jar.toml").read_text("utf-8")
#: Runs of a turn, and turns.
RUNS, TURNS = 40, 7
STUDY = """
[study]
kind = "spread"
samples = {samples}
indices = false
sampler = "latin hypercube"
[[study.vary]]
key = "fill.headspace_mm"
distribution = "uniform"
low = 8
high = 16
[[study.vary]]
key = "materials.bean paste.conductivity_W_mK"
distribution = "uniform"
low = 0.5
high = 0.6
[[study.vary]]
key = "product.initial_C"
distribution = "uniform"
low = 35
high = 45
"""


def jar_study(samples: int) -> Case:
    return case_from_text(JAR + STUDY.format(samples=samples), name="jar.toml")


def warm(executors: list[Executor], task: Task) -> None:
    """Let every worker load, compile and make a run."""
    wait([executor.submit(compute_run, task) for executor in executors])


def study_seconds(case: Case, executors: list[Executor]) -> float:
    """Seconds of a study's runs on workers that are warm."""
    plan = plan_of(case)
    setup = setup_of(case, plan)
    began = time.perf_counter()
    none = np.zeros(plan.runs, dtype=bool)
    for runs in finished_runs(plan, setup, none, executors=executors, compute=compute_run, ahead=OWN_AHEAD):
        assert not any(run.failure for run in runs)
    return time.perf_counter() - began


def several(tasks: list[Task]) -> None:
    for task in tasks:
        compute_run(task)


def bare_seconds(tasks: list[Task], executors: list[Executor]) -> float:
    """Seconds in which each worker makes its share in one go."""
    began = time.perf_counter()
    share = len(tasks) // len(executors)
    wait([executor.submit(several, tasks[k * share : (k + 1) * share]) for k, executor in enumerate(executors)])
    return time.perf_counter() - began


def nothing(task: Task) -> tuple[Mapping[str, float], tuple[float, ...]]:
    """A run that costs nothing."""
    return {"least_lethality": 360.0 + task.values[0], "least_z": 0.1, "slowest_z": 0.07}, {}


class AtOnce(Executor):
    """Makes a run when it is given out."""

    def submit(self, function, /, *arguments, **named):  # type: ignore[no-untyped-def]
        """Make it."""
        future: Future[object] = Future()
        future.set_result(function(*arguments, **named))
        return future


def memory_of(samples: int) -> None:
    """Print the peak of this process's memory [kB] before a study and after it, and its seconds."""
    case = jar_study(samples)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        result = run_study(case, journal=Path(folder) / "j", executor=AtOnce(), compute=nothing)
        save_study(result, Path(folder) / "study.h5")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(before, peak, time.perf_counter() - began)


def measured_memory(samples: int) -> tuple[float, float, float]:
    done = subprocess.run([sys.executable, __file__, str(samples)], check=True, capture_output=True, text=True)
    before, peak, seconds = map(float, done.stdout.split())
    return before, peak, seconds


def main() -> None:
    case = jar_study(RUNS)
    plan = plan_of(case)
    setup = setup_of(case, plan)
    tasks = [Task(k, setup, tuple(plan.values[k].tolist())) for k in range(plan.runs)]
    load = os.getloadavg()[0]
    executors = own_processes(2)
    try:
        warm(list(executors), tasks[0])
        turns = []
        for _ in range(TURNS):
            one = study_seconds(case, [executors[0]])
            two = study_seconds(case, list(executors))
            alone, both = bare_seconds(tasks, [executors[0]]), bare_seconds(tasks, list(executors))
            turns.append((one, two, one / two / 2, alone / both / 2))
    finally:
        for executor in executors:
            executor.shutdown()
    one, two, efficiency, machine = (statistics.median(column) for column in zip(*turns, strict=True))
    busy = f"load of the machine {load:.1f} before, {os.getloadavg()[0]:.1f} after, {os.cpu_count()} cores"
    print(f"a study of the jar, {RUNS} runs, median of {TURNS} turns; {busy}")
    print(f"one worker     {RUNS / one:.2f} runs a second")
    print(f"two workers    {RUNS / two:.2f} runs a second: {one / two:.2f} times as many")
    print(f"efficiency     {efficiency:.2f} ({min(t[2] for t in turns):.2f} to {max(t[2] for t in turns):.2f})")
    print(f"without study  {machine:.2f}: what two processes keep that only make runs")
    print(f"of that        {statistics.median(t[2] / t[3] for t in turns):.2f} is kept by the study")
    few, many = measured_memory(100), measured_memory(10_000)
    print(f"memory of the parent, peak: {few[1] / 1e3:.0f} MB at 100 runs, {many[1] / 1e3:.0f} MB at 10,000")
    each = 1e3 * (many[1] - few[1]) / 9900
    print(f"               {many[1] / few[1]:.2f} times; {each:.0f} bytes for each further run; {many[2]:.0f} s")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("runs", nargs="?", type=int, help=argparse.SUPPRESS)  # whose memory is measured
    asked = parser.parse_args()
    if asked.runs is None:
        main()
    else:
        memory_of(asked.runs)
