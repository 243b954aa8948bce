"""Results of small cases with whatever a file has to hold, each saved when a test first asks for it."""

import dataclasses
import functools
import math
from types import SimpleNamespace

import numpy as np
import pytest
from small_jars import ROUGH

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.file.reader import case_from_text
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material
from thermsim.records.files.results import save_result

PASTE = Material("paste", 0.55, 1050.0, 3700.0, "invented")
GLASS = Material("glass", 1.0, 2500.0, 750.0, "invented")

WITH_A_LOGGED_RETORT = """
format = 1
accuracy = { temperature_K = 1, lethality_percent = 20, place_mm = 5 }
title = "Cup, as logged \u00b0"
[container]
inner_diameter_mm = 60.0
inner_height_mm = 40.0
[materials.paste]
conductivity_W_mK = 0.55
density_kg_m3 = 1050
specific_heat_J_kgK = 3700
[product]
material = "paste"
initial_C = 30.0
[fill]
headspace_mm = 0
[process]
csv = "retort.csv"
cooling_starts_min = 30
film_W_m2K = 400
cooling_film_W_m2K = 200
[lethality]
reference_C = 121.1
z_C = 10
"""
RETORT = "time [min];temperature [degC]\r\n0;30\r\n5;118.5\r\n30;118.4\r\n40;30\r\n"


def jar(**changes):
    """A jar with walls, an insulated headspace, two places to follow, and a target."""
    film = Film(450.0, 60.0, math.inf)
    stages = (
        Stage("come-up", [0.0, 600.0], [40.0, 118.0], film),
        Stage("hold", [600.0, 3600.0], [118.0, 118.0], film),
        Stage("cool", [3600.0, 4800.0], [30.0, 30.0], film),
    )
    case = Case(
        "Paste, jar",
        Container(straight(0.066, 0.080), Wall(GLASS, 0.003), Wall(GLASS, 0.005), None, initial=25.0),
        Product(PASTE, 40.0),
        0.070,
        Headspace("insulated"),
        Process(stages),
        Lethality(121.1, 10.0, 360.0, reach=(90.0, 200.0)),
        accuracy=ROUGH,
        points=(Point("mid-height", 0.0, 0.040), Point("glass\n2", 0.034, 0.050)),
        output_every=80.0,
        notes=("A note.",),
    )
    return case.replace(**changes)


def bare(**changes):
    """A bare cylinder without target, points or text, its surface at the medium's temperature."""
    film = Film.everywhere(math.inf)
    stages = (Stage("hold", [0, 1800], [121, 121], film), Stage("cool", [1800, 2400], [25, 25], film))
    case = Case(
        "bare",
        Container(straight(0.05, 0.04)),
        Product(PASTE, 30),
        0.04,
        Headspace("insulated"),
        Process(stages),
        Lethality(121.1, 10.0),
        accuracy=ROUGH,
        output_every=40.0,
    )
    return case.replace(**changes)


CASES = {
    "jar": jar,
    "bare": bare,
    "with text": lambda: bare(text="title = 1\r\n# \u00e4\n", attachments={"../a.b/c.csv": "1\n2\n", "empty": ""}),
    "with odd text": lambda: bare(text="nul \0 and \ud800\n", title="two\nlines\0", attachments={"\0": "\0\n"}),
    "from a file": lambda: case_from_text(WITH_A_LOGGED_RETORT, attachments={"retort.csv": RETORT}),
}


#: Results with a probe, which all tests of the records share.
SHARED = ("probed", "advised", "stacked", "uncooled", "shaped", "standing")


def few(*names, among, mark="whole"):
    """All as parameters; those that are not named are left to a longer run."""
    return [name if name in names else pytest.param(name, marks=getattr(pytest.mark, mark)) for name in among]


@functools.cache
def solved(name):
    return simulate(CASES[name]())


@pytest.fixture(scope="session")
def kept(tmp_path_factory):
    """The files that were saved, by name, and their folder."""
    return {}, tmp_path_factory.mktemp("results")


@pytest.fixture
def saved(kept, request):
    """What gives a case's result and the file it was saved to."""
    found, folder = kept

    def of(name):
        if name not in found:
            result = solved(name) if name in CASES else request.getfixturevalue(name)
            found[name] = SimpleNamespace(result=result, path=folder / f"{name}.h5")
            save_result(result, found[name].path)
        return found[name]

    return of


def differences(a, b, where="result"):
    """Places at which two results differ; numbers must agree bit by bit."""
    if isinstance(a, np.ndarray):
        same = isinstance(b, np.ndarray) and a.dtype == b.dtype and a.shape == b.shape and a.tobytes() == b.tobytes()
        return [] if same else [where]
    if dataclasses.is_dataclass(a):
        if type(a) is not type(b):
            return [where]
        names = [field.name for field in dataclasses.fields(a)]
        return [d for n in names for d in differences(getattr(a, n), getattr(b, n), f"{where}.{n}")]
    if isinstance(a, tuple):
        if not isinstance(b, tuple) or len(a) != len(b):
            return [where]
        return [d for k, (p, q) in enumerate(zip(a, b, strict=True)) for d in differences(p, q, f"{where}.{k}")]
    if isinstance(a, dict):
        if not isinstance(b, dict) or list(a) != list(b):
            return [where]
        return [d for key in a for d in differences(a[key], b[key], f"{where}.{key}")]
    return [] if a == b and isinstance(a, str | None) == isinstance(b, str | None) else [where]
