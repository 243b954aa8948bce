"""Bodies and processes drawn at random (hypothesis)."""

from __future__ import annotations

import numpy as np
from bodies import INSULATED, plain_body
from hypothesis import settings
from hypothesis import strategies as st

from thermsim.case.process import Film, Process, Stage
from thermsim.physics.materials import Material

FEW = settings(max_examples=5, deadline=None, derandomize=True)


materials = st.builds(
    Material,
    name=st.just("drawn"),
    conductivity=st.floats(0.02, 60.0),
    density=st.floats(300.0, 8000.0),
    specific_heat=st.floats(400.0, 4200.0),
)


films = st.one_of(st.floats(5.0, 20000.0), st.just(np.inf))


surfaces = st.builds(Film, side=films, base=films, lid=films)


@st.composite
def bodies(draw):
    """A container with a wall, base and lid of any thickness, product and headspace (of a gas or insulated)."""
    radius, height = draw(st.floats(0.01, 0.08)), draw(st.floats(0.02, 0.15))
    wall, base, lid = (draw(st.floats(1e-4, 6e-3)) for _ in range(3))
    gap = draw(st.floats(2e-3, 15e-3))
    product, shell, gas = draw(materials), draw(materials), Material("gas", draw(st.floats(0.03, 3.0)), 1.0, 1000.0)
    above = draw(st.sampled_from([2, INSULATED]))
    start, walls = draw(st.floats(5.0, 90.0)), draw(st.floats(5.0, 90.0))
    return plain_body(
        np.array([0.0, radius, radius + wall]),
        np.cumsum([0.0, base, height, gap, lid]),
        np.array([[1, 0, above, 1], [1, 1, 1, 1]]),
        np.array([[False, True, False, False], [False] * 4]),
        np.array([[walls, start, start, walls], [walls] * 4]),
        (product, shell, gas),
    )


@st.composite
def processes(draw):
    """Come-up, hold with a jump before it, cooling with other films."""
    hot, cold, start = draw(st.floats(80.0, 130.0)), draw(st.floats(5.0, 40.0)), draw(st.floats(10.0, 100.0))
    up, hold, down = (draw(st.floats(60.0, 2400.0)) for _ in range(3))
    heating, cooling = draw(surfaces), draw(surfaces)
    return Process(
        (
            Stage("come-up", np.array([0.0, up]), np.array([start, hot]), heating),
            Stage("hold", np.array([up, up + hold]), np.array([hot + 1.0, hot + 1.0]), heating),
            Stage("cool", np.array([up + hold, up + hold + down]), np.array([cold, cold]), cooling),
        )
    )
