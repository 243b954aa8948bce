"""Small invented cases that are varied, executors that are simple, runs that cost next to nothing."""

from __future__ import annotations

import math
from concurrent.futures import Executor, Future

import h5py
import numpy as np
import pytest

from thermsim.assess.study.plan import Plan
from thermsim.case.file.reader import case_from_text
from thermsim.exact import FiniteCylinder

RADIUS, HEIGHT, HEATING = 0.0365, 0.110, 3600.0
BARE = f"""
format = 1
title = "Bare cylinder"
container.inner_diameter_mm = {2e3 * RADIUS}
container.inner_height_mm = {1e3 * HEIGHT}
materials.paste = {{ conductivity_W_mK = 0.5, density_kg_m3 = 1040, specific_heat_J_kgK = 3650 }}
product = {{ material = "paste", initial_C = 30 }}
fill.headspace_mm = 0
headspace.model = "insulated"
lethality = {{ reference_C = 121.1, z_C = 10 }}
accuracy = {{ temperature_K = 2, place_mm = 10.0, lethality_percent = 20.0 }}
output.every_min = 1
[process]
start_C = 121.1
film_W_m2K = 180
stage = [{{ name = "hold", minutes = {HEATING / 60} }}]
"""
#: A stem whose insertion is left open.
STEM = """
[probe]
name = "thin stem"
entry = "lid"
mount = "through"
segments = [{ diameter_mm = 3.0, length_mm = 94.0, material = "PEEK" }]
sensing_mm = 2.0
"""
SCAN = """
[study]
kind = "scan"
vary = [{ key = "product.initial_C", low = 20, high = 60, steps = 20 }, { key = "process.film_W_m2K", low = 100, high = 1000, steps = 10 }]
"""  # noqa: E501
SMALL_SCAN = """
[study]
kind = "scan"
vary = [{ key = "product.initial_C", values = [20, 30, 40] }, { key = "process.film_W_m2K", values = [-5, 100, 300, 900] }]
"""  # noqa: E501


def study_case(study, text=BARE):
    return case_from_text(text + study, name="bare.toml")


class Here(Executor):
    """Makes each run when it is given out, in this thread; that is all of the interface that is used."""

    def submit(self, function, /, *arguments, **named):
        future = Future()
        future.set_result(function(*arguments, **named))
        return future


def series(task):
    """Figures of the middle of the bare cylinder by the exact series; some runs fail."""
    initial, film = task.values
    if task.index % 37 == 5:
        raise ValueError("made to fail")
    body = FiniteCylinder(
        radius=RADIUS, height=HEIGHT, conductivity=0.5, density=1040.0, specific_heat=3650.0,
        film_side=film, film_base=film, film_lid=film,
    )  # fmt: skip
    theta = float(body.unaccomplished([0.0], [HEIGHT / 2], [HEATING])[0, 0, 0])
    end = 121.1 + (initial - 121.1) * theta
    return {
        "slowest_end_of_heating": end,
        "slowest_r": 0.0,
        "slowest_z": HEIGHT / 2,
        "least_lethality": 60 * theta,
    }, {}


def smooth(task):
    """Every figure that a run may have, as smooth functions of the values: for what is drawn and written."""
    s = sum(math.sin(0.1 * (k + 1) * value) for k, value in enumerate(task.values) if not math.isnan(value))
    z = 0.06 + 0.01 * s
    depth = 0.05 + 0.002 * s
    figures = {
        "least_lethality": 300.0 * math.exp(0.3 * s), "least_r": 0.004 + 0.001 * s, "least_z": z,
        "least_heating_lethality": 200.0 * math.exp(0.3 * s), "least_end_of_heating": 114.0 + s,
        "slowest_end_of_heating": 113.0 + s, "slowest_r": 0.0, "slowest_z": z - 0.01,
        "slowest_lethality": 330.0 * math.exp(0.3 * s), "slowest_heating_lethality": 190.0 * math.exp(0.3 * s),
        "distance": 0.01, "surface_z": 0.105, "bottom_z": 0.0, "least_z_uncertainty": 1e-4,
        "least_lethality_uncertainty": 1.0, }  # fmt: skip
    if task.setup.required_hold:
        figures["required_hold"] = 4000.0 - 100.0 * s
    if not task.setup.recommend_depth:
        return figures, {}
    figures |= {
        "recommended_depth": depth, "mismatch": 0.02, "over_reading": 0.01,
        "heating_over_reading": 0.015, "cooling_over_reading": 0.005, "heating_bias": 0.02,
        "window_low": depth - 0.003,
        "window_high": depth + 0.003,
    }  # fmt: skip
    return figures, along(task.setup.depths, depth)


def along(depths, right, *, least=0.02, curve=500.0, slope=10.0):
    """What readings are worth along the depths [m]: mismatch a parabola round the right one, the rest straight lines.

    ``curve`` is of the mismatch [1/m2], ``slope`` of the over-readings [1/m].
    """
    off = np.asarray(depths) - right
    lines = {"over_reading": 0.5, "heating_over_reading": 1.0, "cooling_over_reading": -1.0}
    found = {name: slope * part * off for name, part in lines.items()} | {"mismatch": least + curve * off**2}
    return {name: tuple(values.tolist()) for name, values in found.items()}


def differing_sets(one, other):
    """Names of the data sets of two files that are not the same, byte for byte, attributes included."""
    with h5py.File(one) as a, h5py.File(other) as b:
        names = sorted(set(a) | set(b))
        return [name for name in names if name not in a or name not in b or raw(a[name]) != raw(b[name])]


def raw(data):
    # text is stored elsewhere in the file; its bytes are its contents
    values = data[()]
    held = values.tobytes() if isinstance(values, np.ndarray) and values.dtype != object else repr(values).encode()
    kept = ("DIMENSION_LIST", "REFERENCE_LIST")  # places in the file
    return data.dtype.str, data.shape, held, sorted((k, str(v)) for k, v in data.attrs.items() if k not in kept)


def plan_with(result, **changes):
    """A study's plan with some of it replaced."""
    held = {name: getattr(result.plan, name) for name in Plan.__dataclass_fields__}
    return Plan(**{**held, **changes})


@pytest.fixture(scope="module", autouse=True)
def few_resamples():
    """Intervals of the indices are said, not judged: a few samples of them will do."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("thermsim.assess.study.sensitivity.RESAMPLES", 10)
        yield
