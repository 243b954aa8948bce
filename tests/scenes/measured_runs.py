"""Invented runs of a small can, from the model's finer grids, with whatever befalls a probe."""

import functools

import numpy as np
from probed import probed_can

from thermsim.assess.measured.model import ProbeModel
from thermsim.case.case import Lethality
from thermsim.case.process import Process, Stage

#: What the clock of the probes is ahead [s], and the noise [K].
COOLING = {"offset": 8.0, "noise": 0.08}
HALF_WAY = 2580.0


def can():
    """A can with its probe said to be 40 mm deep: up in 5 min, held to 50 min, cooled for 25 min."""
    case = probed_can(insertion=0.040)
    film = case.process.stages[0].film
    stages = (
        Stage("come-up", [0.0, 300.0], [40.0, 121.0], film),
        Stage("hold", [300.0, 3000.0], [121.0, 121.0], film),
        Stage("cool", [3000.0, 3060.0, 4500.0], [121.0, 20.0, 20.0], film),
    )
    return case.replace(process=Process(stages), lethality=Lethality(121.1, 10.0, 120.0))


CAN = can()
TIME = np.arange(0.0, CAN.process.end + 1, 30.0)


class _Told(dict):
    """Diffusivity [m2/s] and start [degC] of a container by its name, a little unlike each other."""

    def __missing__(self, name):
        chance = np.random.default_rng(sum(map(ord, name)))
        self[name] = 1.38e-7 * float(np.exp(chance.normal(0.0, 0.006))), 29.5 + float(chance.normal(0.0, 0.2))
        return self[name]


TOLD = _Told()


@functools.cache
def reading(depth, diffusivity, initial):
    """What an ideal probe at a depth [m] reads at TIME [degC]."""
    probe = CAN.probe.at_depth(depth, CAN.container)
    model = ProbeModel(CAN.replace(probe=probe), CAN.process, ("diffusivity", "initial", "offset"), TIME)
    return model.on_grids([diffusivity, initial, COOLING["offset"]], finer=True).temperature


def logger_file(cans):
    """A logger's file of containers: by column the true depth [m] and what becomes of the reading, or None."""
    columns = []
    for place, (name, (depth, change)) in enumerate(cans.items()):
        curve = reading(depth, *TOLD[name])
        curve = curve + np.random.default_rng(100 + place).normal(0.0, COOLING["noise"], TIME.size)
        columns.append(curve if change is None else change(TIME, curve))
    lines = ["Time [s];Retort;" + ";".join(cans)]
    for when, medium, values in zip(TIME, CAN.process.medium_at(TIME), np.column_stack(columns), strict=True):
        cells = ["" if np.isnan(value) else f"{value:.2f}" for value in values]
        lines.append(";".join([f"{when:.0f}", f"{medium:.2f}", *cells]))
    return "\n".join(lines).encode()
