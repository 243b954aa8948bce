"""One run of a contestant: its errors against the reference, its seconds, its memory."""

from __future__ import annotations

import hashlib
import json
import math
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from machine import peak_memory

from contestants import reference
from contestants.entries import ENTRIES, Entry, Setting
from contestants.jar import COUNTED_FROM, Array, Jar
from contestants.lethality import lethality
from contestants.reference import Curves

#: Errors asked for: of temperature [K] at every place, and of F at the cold spots (a fraction).
TARGETS = ((0.1, 0.01), (0.02, 0.002), (0.005, 0.0005))


@dataclass(frozen=True)
class Truth:
    """What is right where errors count (cold spots last), F there [s], and the reference's own error [K]."""

    curves: Curves
    lethality: Array
    error: float

    @property
    def places(self) -> Array:
        """The places, shape (n, 2) [m]."""
        return self.curves.places


@dataclass(frozen=True)
class Trial:
    """A setting that was tried: warm seconds, errors [K] and of F (a fraction), what it took."""

    setting: Setting
    seconds: float
    error: float
    error_axis: float
    error_lethality: float
    unknowns: int
    steps: int
    promised: float | None

    def within(self, target: tuple[float, float]) -> bool:
        """Whether it keeps both errors asked for."""
        return self.error <= target[0] and self.error_lethality <= target[1]


def truth_of(jar: Jar, *, degree: int, folder: Path) -> Truth:
    """Solve the reference at a degree and at the next lower one, whose difference is held to be its error.

    It is kept in a folder, under a name that changes with the jar and with the reference's own code.
    """
    recipe = repr(jar) + str(degree) + Path(reference.__file__).read_text("utf-8")
    file = folder / f"reference-{hashlib.sha256(recipe.encode()).hexdigest()[:12]}.npz"
    if file.exists():
        with np.load(file) as stored:
            kept = {name: stored[name] for name in stored}
    else:
        fine, lower = (reference.reference_of(jar, degree=n) for n in (degree, degree - 1))
        places = np.concatenate([jar.places, reference.cold_spots(fine)])
        curves, rough = fine.at(places), lower.at(places)
        later = np.arange(COUNTED_FROM, jar.end, 15.0)
        error = np.abs(curves.temperature(later) - rough.temperature(later)).max()
        kept = {name: getattr(curves, name) for name in ("places", "rates", "shapes", "starts", "lags")}
        kept["error"] = error
        folder.mkdir(parents=True, exist_ok=True)
        np.savez(file, **kept)
    error = float(kept.pop("error"))
    curves = reference.Curves(periods=jar.periods, **kept)
    ends = [period.end for period in jar.periods]
    when = np.unique(np.concatenate([np.arange(0.0, jar.end, 15.0), ends]))
    return Truth(curves, lethality(when, curves.temperature(when)[:, -2:], ends), error)


def tried(entry: Entry, setting: Setting, truth: Truth, *, runs: int = 3) -> Trial:
    """Run a setting once for its errors, and more often for its seconds where it is quick (the least counts)."""
    jar, solve = entry.jar(), entry.load()
    seconds = math.inf
    for _ in range(runs):
        began = time.perf_counter()
        answer = solve(jar, truth.places, **setting)
        seconds = min(seconds, time.perf_counter() - began)
        if seconds > 2.0:
            break
    later = answer.time >= COUNTED_FROM
    wrong = np.abs(answer.temperature[later] - truth.curves.temperature(answer.time[later]))
    gathered = (
        lethality(answer.time, answer.temperature[:, -2:], [period.end for period in jar.periods])
        if answer.lethality is None
        else answer.lethality[-2:]
    )
    return Trial(
        setting=setting,
        seconds=seconds,
        error=float(wrong.max()),
        error_axis=float(wrong[:, truth.places[:, 0] == 0.0].max()),
        error_lethality=float(np.abs(gathered / truth.lethality - 1.0).max()),
        unknowns=int(answer.unknowns),
        steps=int(answer.steps),
        promised=answer.promised,
    )


def sweep(entry: Entry, truth: Truth, *, limit: float, settings: tuple[Setting, ...]) -> list[Trial]:
    """Try the settings, coarse to fine, until a run takes longer than the limit [s]."""
    entry.load()(entry.jar(), truth.places, **settings[0])  # warm
    trials: list[Trial] = []
    for setting in settings:
        trials.append(tried(entry, setting, truth))
        if trials[-1].seconds > limit:
            break
    return trials


def best(trials: list[Trial], target: tuple[float, float]) -> Trial | None:
    """The quickest trial that keeps the errors asked for."""
    return min((one for one in trials if one.within(target)), key=lambda one: one.seconds, default=None)


def process_of_its_own(entry: Entry, setting: Setting, *, cache: str | None = None) -> tuple[float, float]:
    """Seconds of a run in a new process, imports included, and that process's peak memory [MB].

    ``cache`` is a folder for compiled loops: an empty one is what a new machine has.
    """
    environment = {**os.environ, **({"NUMBA_CACHE_DIR": cache} if cache else {})}
    script = Path(__file__).parent.parent / "peers.py"
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, str(script), "--once", json.dumps([entry.name, setting])],
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    return time.perf_counter() - began, float(done.stdout.split()[-1])


def run_once(text: str) -> None:
    """Run one contestant's setting and print the peak memory of this process [MB]."""
    name, setting = json.loads(text)
    entry = next(entry for entry in ENTRIES if entry.name == name)
    jar = entry.jar()
    entry.load()(jar, jar.places, **setting)
    print(peak_memory())
