"""Random probes from the side, depths asked for, and bricks, for ``benchmarks/honesty.py``: all invented."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from drawn_cases import ACCURACIES, STEM, drawn

from thermsim.case.case import Case
from thermsim.case.file.reader import case_from_text
from thermsim.case.probe import Fitting, Probe, Segment
from thermsim.errors import ThermsimError

BRICK = """
format = 1
title = "drawn brick"
[container]
brick_mm = [{length:.1f}, {width:.1f}, {depth:.1f}]
side = {{ material = "polypropylene", thickness_mm = 0.1 }}
base = {{ material = "polypropylene", thickness_mm = 0.1 }}
lid = {{ material = "polypropylene", thickness_mm = 0.1 }}
[materials.mash]
conductivity_W_mK = {conductivity:.3f}
density_kg_m3 = 1050.0
specific_heat_J_kgK = 3600.0
source = "invented"
[product]
material = "mash"
thickness = "gel/solid"
initial_C = {start:.1f}
[fill]
headspace_mm = 0.0
[process]
start_C = {start:.1f}
film_W_m2K = {film:.0f}
[[process.stage]]
name = "come-up"
minutes = {up:.1f}
to_C = {hot:.1f}
[[process.stage]]
name = "hold"
minutes = {hold:.1f}
[[process.stage]]
name = "cool"
minutes = 20.0
to_C = 25.0
[lethality]
reference_C = {reference:.1f}
z_C = 10.0
"""


def from_side(seed: int, number: int) -> Case:
    """A straight container with a probe through its side wall."""

    def probed(case: Case, chance: np.random.Generator) -> Probe:
        uniform, radius = chance.uniform, case.container.radius_at(case.fill_height / 2)
        wall = case.container.side.thickness if case.container.side else 0.0
        depth = wall + radius * uniform(0.5, 1.2)
        material = STEM[str(chance.choice(list(STEM)))]
        diameter, out = uniform(1.5e-3, 5e-3), uniform(5e-3, 25e-3)
        fitting = None
        if uniform() < 0.3:
            fitting = Fitting(3.0 * diameter, 3e-3, min(out, 8e-3), STEM["steel"])
        height = case.container.floor + (case.surface - case.container.floor) * uniform(0.25, 0.75)
        return Probe(
            "side", "through", (Segment(diameter, depth + out, material),), insertion=depth, sensing=2e-3,
            z=height, fitting=fitting,
        )  # fmt: skip

    return _with(probed, seed, number, 1)


def to_be_placed(seed: int, number: int) -> Case:
    """A container with a probe through its lid or base whose depth is asked for."""

    def probed(case: Case, chance: np.random.Generator) -> Probe:
        material = STEM[str(chance.choice(list(STEM)))]
        segments = (Segment(chance.uniform(1e-3, 4e-3), case.container.outer_height, material),)
        return Probe(str(chance.choice(["lid", "base"])), "through", segments, sensing=2e-3)  # type: ignore[arg-type]

    return _with(probed, seed, number, 2)


def _with(probed: Callable[[Case, np.random.Generator], Probe], seed: int, number: int, kind: int) -> Case:
    """A case that can have such a probe and has no gap of changing gas."""
    chance = np.random.default_rng([seed, number, kind])
    while True:
        case = drawn(seed, int(chance.integers(10_000, 1_000_000)))
        if case.headspace.model in ("air", "humid") or (kind == 1 and not case.container.is_straight):
            continue
        try:
            case = case.replace(probe=probed(case, chance), output_every=None)
        except ThermsimError:
            continue
        if case.probe is not None and not case.side_faults(case.probe):
            return case


def brick(seed: int, number: int) -> Case:
    """A brick or a flat pouch."""
    chance = np.random.default_rng([seed, number, 3])
    uniform = chance.uniform
    length = uniform(60, 220)
    depth, width = sorted((uniform(50, 150), uniform(15, 60)))  # it lies flat
    text = BRICK.format(
        length=length, width=width, depth=depth, conductivity=uniform(0.35, 0.65),
        start=uniform(10, 60), film=10.0 ** uniform(1.7, 3.7), up=uniform(3, 15), hot=uniform(95, 128),
        hold=uniform(15, 70), reference=uniform(85, 121),
    )  # fmt: skip
    case = case_from_text(text)
    return case.replace(accuracy=ACCURACIES[int(chance.integers(len(ACCURACIES)))])
