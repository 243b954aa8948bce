"""Which machine, packages and revision a benchmark ran with; seconds without them say little."""

from __future__ import annotations

import datetime
import importlib.metadata
import os
import platform
import statistics
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np


def facts(tree: Path) -> dict[str, object]:
    """Machine, load, versions and date; ``tree`` is the checkout whose revision is meant."""
    return {
        "date": datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%d %H:%M UTC"),
        "revision": revision_of(tree),
        "processor": platform.machine(),
        "cores": os.cpu_count(),
        "load": round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None,
        "system": platform.platform(terse=True),
        "python": platform.python_version(),
        **{name: version_of(name) for name in ("numpy", "scipy", "numba")},
        "threads": os.environ.get("OPENBLAS_NUM_THREADS", "as they come"),
        "yardstick_s": round(yardstick(), 5),
    }


def version_of(package: str) -> str | None:
    """Version of an installed package; None where it is not installed."""
    try:
        return importlib.metadata.version(package)
    except importlib.metadata.PackageNotFoundError:
        return None


def revision_of(tree: Path) -> str:
    """Short name of the revision checked out, with a plus sign where files differ from it."""
    try:
        name = _git(tree, "rev-parse", "--short=10", "HEAD").strip()
        changed = _git(tree, "status", "--porcelain", "--untracked-files=no", "--", "thermsim").strip()
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return name + ("+" if changed else "")


def yardstick() -> float:
    """Least seconds of a fixed piece of work on one core, so that machines and hours can be told apart."""
    values = np.random.default_rng(1).standard_normal(200_000)

    def work() -> None:
        np.sort(values)
        sum(k * k for k in range(100_000))

    return min(seconds_of(work, 5))


def peak_memory() -> float:
    """Peak memory of this process alone [MB]; what it was started from does not count where /proc tells."""
    try:
        lines = Path("/proc/self/status").read_text("utf-8").splitlines()
        return next(float(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024
    except (OSError, StopIteration):
        import resource

        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def warm_seconds(work: Callable[[], object], runs: int = 3) -> float:
    """Median seconds of a few runs, after one that compiles and loads everything."""
    work()
    return statistics.median(seconds_of(work, runs))


def seconds_of(work: Callable[[], object], runs: int) -> list[float]:
    """Seconds of each of several runs."""
    seconds = []
    for _ in range(runs):
        began = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - began)
    return seconds


def fitted_exponent(size: list[float], cost: list[float]) -> float:
    """Slope of the straight line through the logarithms (least squares)."""
    return float(np.polyfit(np.log(size), np.log(cost), 1)[0])


def _git(tree: Path, *words: str) -> str:
    return subprocess.run(["git", *words], cwd=tree, check=True, capture_output=True, text=True).stdout
