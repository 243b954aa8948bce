"""The table and the figure of ``benchmarks/peers.py``."""

from __future__ import annotations

import statistics
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from contestants.entries import Entry
from contestants.trial import TARGETS, Trial


@dataclass
class Chosen:
    """A contestant's trial for one target, its warm seconds in turn with the others, cold seconds and memory [MB]."""

    entry: Entry
    target: tuple[float, float]
    trial: Trial
    warm: list[float] = field(default_factory=list)
    cold: list[float] = field(default_factory=list)
    memory: float = 0.0

    @property
    def seconds(self) -> float:
        """Median warm seconds."""
        return statistics.median(self.warm)


def table(chosen: list[Chosen], entries: tuple[Entry, ...], missing: Mapping[str, str]) -> str:
    """Markdown: a row a contestant and target, with the ratio to thermsim on the same jar."""
    lines = [
        "| error asked for | contestant | warm [s] | spread [s] | times thermsim | cold [s] | memory [MB] | unknowns "
        "| steps | error [K] | error of F | setting |",
        "|---|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for target in TARGETS:
        for entry in entries:
            one = next((c for c in chosen if c.entry is entry and c.target == target), None)
            asked = f"{target[0]:g} K, {100 * target[1]:g} %"
            if one is None:
                why = missing.get(entry.name, "not reached with any setting tried")
                lines.append(f"| {asked} | {entry.name} | - | | | | | | | | | {why} |")
                continue
            own = next((c for c in chosen if c.target == target and _same_jar(c.entry, entry)), None)
            ratio = f"{one.seconds / own.seconds:.2f}" if own else ""
            cold = f"{statistics.median(one.cold):.2f}" if one.cold else ""
            trial = one.trial
            spread = f"{min(one.warm):.4f} to {max(one.warm):.4f}"
            took = f"{one.memory:.0f} | {trial.unknowns} | {trial.steps}"
            errors = f"{trial.error:.4f} | {100 * trial.error_lethality:.3f} %"
            seconds = f"{one.seconds:.4f} | {spread} | {ratio} | {cold}"
            lines.append(f"| {asked} | {entry.name} | {seconds} | {took} | {errors} | {told(trial)} |")
    return "\n".join(lines)


def told(trial: Trial) -> str:
    """A setting in words, widths in mm."""
    parts = []
    for name, value in trial.setting.items():
        if name in ("finest", "widest"):
            parts.append(f"{name} {1e3 * float(value):g} mm")
        elif name == "step":
            parts.append(f"step {value:g} s")
        elif name in ("accuracy", "tolerance"):
            parts.append(f"{name} {value:g} K")
        else:
            parts.append(f"{name} {value}")
    return ", ".join(parts)


def _same_jar(own: Entry, entry: Entry) -> bool:
    return own.package == "thermsim" and own.jar is entry.jar


def figure(trials: Mapping[str, list[Trial]], file: Path) -> None:
    """Error against seconds of everything that was tried: down and left is better."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    fig, panels = plt.subplots(1, 2, figsize=(11, 5), sharey=True, width_ratios=(2, 1))
    for name, found in trials.items():
        axes = panels[1] if "bare" in name else panels[0]
        own = name.startswith("thermsim")
        style = {"color": "black", "linewidth": 2.0, "zorder": 3} if own else {"linewidth": 1.0}
        in_order = sorted(found, key=lambda one: one.seconds)
        axes.loglog(
            [one.seconds for one in in_order], [one.error for one in in_order], marker="o", ms=4, label=name, **style
        )
    for axes, title in zip(panels, ("composite jar", "bare product, for codes of one material"), strict=True):
        for target, _ in TARGETS:
            axes.axhline(target, color="0.7", linewidth=0.8, linestyle=":")
        axes.set(title=title, xlabel="warm seconds of a run")
        axes.grid(alpha=0.3, which="both", linewidth=0.4)
        axes.legend(fontsize=8)
    panels[0].set_ylabel("largest error of temperature from minute 2 on [K]")
    fig.tight_layout()
    fig.savefig(file, dpi=130)
    plt.close(fig)
