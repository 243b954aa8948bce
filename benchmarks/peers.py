"""The same jar to the same error by thermsim and by general-purpose libraries, in one run on one machine.

``python benchmarks/peers.py`` (about twenty minutes), ``--quick`` (about two), ``--smoke`` (seconds: does it run). It
wants the extra ``bench``; contestants that are not installed are named and left out.

Every contestant tries its settings (``contestants/entries.py``) against a reference that is none of them
(``contestants/reference.py``). For each error asked for, the quickest setting that keeps it, at all places and at the
cold spots, runs several times in turn with the others, and in processes of its own for cold seconds and memory.
thermsim's seconds are those of ``simulate``, with its three grids, its search for the cold spots and its estimates of
uncertainty; the others compute curves at given places and nothing else. Compare the ratios, not the seconds. On a
busy machine set OPENBLAS_NUM_THREADS=1: threads that wait for each other make noise.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import tempfile
import time
from pathlib import Path

from contestants.entries import ENTRIES, Entry
from contestants.table import Chosen, figure, table
from contestants.trial import TARGETS, Trial, Truth, best, process_of_its_own, run_once, sweep, truth_of
from machine import facts, version_of

import thermsim

ROOT = Path(__file__).parent.parent
#: Packages whose versions matter, as they are called where they are installed from.
PACKAGES = ("thermsim", "scikit-fem", "ngsolve", "scipy", "fipy", "py-pde")


@dataclasses.dataclass(frozen=True)
class Effort:
    """How much is done: degree of the reference, turns, cold runs, limit of a run [s], settings a contestant."""

    degree: int
    turns: int
    cold: int
    limit: float
    settings: int | None


FULL, QUICK, SMOKE = (Effort(5, 7, 3, 30.0, None), Effort(4, 5, 1, 2.0, None), Effort(2, 1, 0, 0.2, 2))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="coarser reference, runs of at most 2 s")
    parser.add_argument("--smoke", action="store_true", help="only see whether it runs")
    parser.add_argument("--only", metavar="WORD", help="contestants whose name holds this word, besides thermsim")
    parser.add_argument("--out", type=Path, default=ROOT / "out" / "benchmarks", help="folder for table and figure")
    parser.add_argument("--once", help=argparse.SUPPRESS)
    words = parser.parse_args()
    if words.once:
        run_once(words.once)
        return
    effort = SMOKE if words.smoke else QUICK if words.quick else FULL
    wanted = [entry for entry in ENTRIES if not words.only or words.only in entry.name or "thermsim" in entry.name]
    entries = tuple(entry for entry in wanted if entry.installed)
    missing = {entry.name: "not installed here" for entry in wanted if not entry.installed}
    for name in missing:
        print(f"{name}: not installed here, left out", flush=True)
    machine = facts(Path(thermsim.__file__).parent.parent)
    truths = references(entries, effort, words.out)
    trials = {entry.name: swept(entry, truths[entry.jar().name], effort) for entry in entries}
    chosen = [
        Chosen(entry, target, trial)
        for entry in entries
        for target in TARGETS
        if (trial := best(trials[entry.name], target)) is not None
    ]
    in_turn(chosen, truths, effort)
    compiled = cold(chosen, effort)
    text = report(chosen, wanted, missing, machine, truths, compiled)
    print(text)
    words.out.mkdir(parents=True, exist_ok=True)
    (words.out / "peers.md").write_text(text, "utf-8")
    record = {
        "machine": machine,
        "trials": {name: [dataclasses.asdict(one) for one in found] for name, found in trials.items()},
        "chosen": [
            {"contestant": c.entry.name, "target_K": c.target[0], "setting": c.trial.setting, "warm_s": c.warm,
             "cold_s": c.cold, "memory_MB": c.memory}
            for c in chosen
        ],
    }  # fmt: skip
    (words.out / "peers.json").write_text(json.dumps(record, indent=1), "utf-8")
    figure(trials, words.out / "peers.png")
    print(f"written: {words.out}/peers.md, peers.json, peers.png")


def references(entries: tuple[Entry, ...], effort: Effort, folder: Path) -> dict[str, Truth]:
    """The reference of each jar."""
    truths = {}
    for jar in {entry.jar().name: entry.jar() for entry in entries}.values():
        truths[jar.name] = truth_of(jar, degree=effort.degree, folder=folder)
        one = truths[jar.name]
        print(f"reference of the {jar.name}: {one.curves.unknowns} unknowns, right to {one.error:.1e} K", flush=True)
    return truths


def swept(entry: Entry, truth: Truth, effort: Effort) -> list[Trial]:
    """What a contestant's settings give."""
    found = sweep(entry, truth, limit=effort.limit, settings=entry.settings[: effort.settings])
    for one in found:
        print(
            f"{entry.name:32s} {one.seconds:8.4f} s  {one.error:.4f} K  F {100 * one.error_lethality:.3f} %  "
            f"{one.unknowns} unknowns, {one.steps} steps",
            flush=True,
        )
    return found


def in_turn(chosen: list[Chosen], truths: dict[str, Truth], effort: Effort) -> None:
    """Run the chosen settings in turn, so that whatever else the machine does meets all of them."""
    for _ in range(effort.turns):
        for one in chosen:
            jar, solve, places = (one.entry.jar(), one.entry.load(), truths[one.entry.jar().name].places)
            began = time.perf_counter()
            solve(jar, places, **one.trial.setting)
            one.warm.append(time.perf_counter() - began)


def cold(chosen: list[Chosen], effort: Effort) -> float | None:
    """Run the chosen settings in processes of their own; seconds of thermsim's with nothing compiled."""
    for _ in range(effort.cold):
        for one in chosen:
            seconds, memory = process_of_its_own(one.entry, one.trial.setting)
            one.cold.append(seconds)
            one.memory = max(one.memory, memory)
    own = next((one for one in chosen if one.entry.name == "thermsim" and one.cold), None)
    if own is None:
        return None
    with tempfile.TemporaryDirectory() as cache:
        return process_of_its_own(own.entry, own.trial.setting, cache=cache)[0]


def report(
    chosen: list[Chosen],
    wanted: list[Entry],
    missing: dict[str, str],
    machine: dict[str, object],
    truths: dict[str, Truth],
    compiled: float | None,
) -> str:
    """All that was found, in Markdown."""
    rights = "; ".join(
        f"{name}: {truth.curves.unknowns} unknowns, right to {truth.error:.1e} K" for name, truth in truths.items()
    )
    versions = ", ".join(f"{name} {version_of(name) or 'absent'}" for name in PACKAGES)
    lines = [
        ", ".join(f"{name} {value}" for name, value in machine.items()),
        "",
        f"Versions: {versions}.",
        "",
        f"Reference: spectral elements and eigenmodes; {rights} (difference to the next lower degree).",
        "",
        table(chosen, tuple(wanted), missing),
        "",
    ]
    if compiled is not None:
        lines.append(f"thermsim with nothing compiled yet, a process of its own: {compiled:.1f} s.")
    for target in TARGETS:
        own = [c for c in chosen if c.entry.name == "thermsim" and c.target == target]
        peers = [c for c in chosen if "bare" not in c.entry.name and "thermsim" not in c.entry.name]
        first = min((c for c in peers if c.target == target), key=lambda c: c.seconds, default=None)
        if own and first:
            lines.append(
                f"To {target[0]:g} K the fastest peer, {first.entry.name}, takes "
                f"{first.seconds / own[0].seconds:.2f} times as long as thermsim."
            )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
