"""Invented runs of a small can, from the model's finer grids, with whatever befalls a probe; a comparison made up."""

import dataclasses
import functools

import numpy as np
from probed import probed_can

from thermsim.assess.curves.fit import Estimate, Fit
from thermsim.assess.curves.general_method import GeneralMethod
from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.curves.straight_part import Break, Line
from thermsim.assess.measured.doubts.explanation import Depth
from thermsim.assess.measured.doubts.failure import Failure
from thermsim.assess.measured.model import ProbeModel
from thermsim.assess.measured.result import (
    Check,
    Comparison,
    Corrected,
    DesignRow,
    Measured,
    Misfit,
    Modelled,
    Plan,
)
from thermsim.case.case import Accuracy, Lethality
from thermsim.case.process import Film, Process, Stage
from thermsim.loggers.run import Columns, Course, Run
from thermsim.notice import Notice

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
    fine = Accuracy(place=2e-3)
    return case.replace(process=Process(stages), lethality=Lethality(121.1, 10.0, 120.0), accuracy=fine)


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


class Numbers:
    """Numbers none of which comes twice: 101, 102, ... times what is asked for."""

    def __init__(self):
        self.last = 100

    def __call__(self, scale=1.0):
        self.last += 1
        return self.last * scale


def penetration(new, *, automatic=True):
    f, j = new(10.0), new(0.01)
    line = Line(
        f=f, f_low=f - new(0.5), f_high=f + new(0.5), j=j, j_low=j - new(1e-3), j_high=j + new(1e-3), zero=new(2.0),
        start=new(12.0), end=new(18.0), samples=new(1), correlation_time=1.0, scatter=0.1, automatic=automatic,
        bends=False,
    )  # fmt: skip
    return Penetration(
        new(), new(0.5), line.zero, line, Break(new(10.0), new(9.0), new(18.0), 20.0), f"remark {new()}"
    )


def misfit(new):
    return Misfit(new(-0.001), new(0.01), new(-0.02), new(15.0))


def modelled(new, temperature):
    return Modelled(temperature, misfit(new), penetration(new), penetration(new, automatic=False))


def container(new, name, **changes):
    level = new(0.1)
    temperature = 100.0 - 70.0 * np.exp(-TIME / 900.0) + level
    lethality = new(6.0)
    corrected = Corrected(
        r=new(1e-5), z=new(3e-4), lethality=lethality, heating_lethality=new(2.0), numerical=new(0.03),
        low=lethality - new(0.3), high=lethality + new(0.4), end_of_heating=new(), time=TIME,
        temperature=temperature - 3.0, over_reading=new(1e-3), heating_over_reading=new(-1.5e-3),
    )  # fmt: skip
    estimates = tuple(
        Estimate(name, new(scale), new(0.9 * scale), new(1.1 * scale), new(0.5 * scale), bound)
        for name, scale, bound in (("diffusivity", 1e-9, False), ("initial", 0.3, False), ("offset", 0.1, True))
    )
    correlation = np.array([[1.0, 0.25, -0.5], [0.25, 1.0, 0.75], [-0.5, 0.75, 1.0]])
    fit = Fit(
        estimates, np.eye(3), correlation, np.zeros(TIME.size), new(1e-3), new(0.02), 50.0, 2.0,
        (("initial", "offset", 0.97),), True,
    )  # fmt: skip
    made = Measured(
        name=name,
        insertion=new(4e-4),
        own_depth=False,
        time=TIME,
        temperature=temperature,
        general=GeneralMethod(new(7.0), new(3.0), new(7.0), new(-0.01), np.linspace(0.0, new(7.0), TIME.size)),
        heating=penetration(new),
        cooling=penetration(new, automatic=False),
        as_case=modelled(new, temperature - 2.0),
        fit=fit,
        fitted=modelled(new, temperature - 0.5),
        corrected=corrected,
        channel=new(1),
        depth=Depth(new(4e-4), new(3.9e-4), new(4.1e-4), new(0.1), (new(2e-4),)),
    )
    return dataclasses.replace(made, **changes)


def made_comparison():
    """Three containers of which nothing was computed: no figure comes twice, so none can take another's place."""
    new = Numbers()
    flag = Notice("depth-in-doubt", "danger", "logger", "The tip may be elsewhere.", {}, "tip?")
    cans = (
        container(new, "A", predicted=new(5.0), there=new(5.5), flags=(flag,)),
        container(new, "B", seen=None, failure=None),
        container(new, "C", corrected=None, seen=new(4.0), failure=Failure("freezes", new(20.0)), own_depth=True),
    )
    stages = tuple(dataclasses.replace(stage, film=Film(new(), new(), new())) for stage in CAN.process.stages)
    checks = (
        Check("first", "found one", "limit one", True),
        Check("second", "found two", "limit two", False),
        Check("third", "found three", "limit three", None),
        Check("the target", "found four", "limit four", False, target=True),
    )
    design = (
        DesignRow("as planned", new(3.0), new(20.0), new(25.0), new(0.2), ""),
        DesignRow("colder", new(3.0), new(20.0), new(25.0), 0.0, ""),
        DesignRow("not to be reached", new(3.0), None, None, 0.0, "no hold reaches it"),
    )
    run = Run(
        "run.csv", "5eed" * 16, np.frombuffer(b"bytes", np.uint8), Columns(),
        tuple(Course(one.name, TIME, (1.0 + 0.01 * k) * one.temperature) for k, one in enumerate(cans)), None, (),
    )  # fmt: skip
    notices = (Notice("as-given", "note", "input", "A note."),)
    process = Process(stages, "run.csv")
    plan = Plan(credit=0.37, target=new(5.0))
    return Comparison(CAN, plan, run, process, cans, 1, checks, design, notices)
