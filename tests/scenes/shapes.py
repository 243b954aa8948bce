"""Containers of several shapes that the tests of the fitted grids use."""

from __future__ import annotations

import numpy as np
from bodies import GAS, GLASS, PASTE, STEEL

from thermsim.case.case import Case, Lethality
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import Profile, Rise

TAPER = Profile(((0.0, 0.030), (0.070, 0.0375)))
SHOULDER = Profile(((0.0, 0.036), (0.080, 0.036), (0.090, 0.026), (0.110, 0.026)))
ROUNDED = Profile(SHOULDER.corners, rounding=0.004)


def vase(points=41, height=0.08):
    """A smooth profile: the wall swings in and out, given by many points."""
    z = np.linspace(0.0, height, points)
    return Profile(tuple(zip(z.tolist(), (0.03 + 0.005 * np.sin(2 * np.pi * z / height)).tolist(), strict=True)))


def packed(profile, *, rise=None, walls=True, film=None, fill=None, start=40.0):
    """A case in a container of a shape: glass walls and a steel lid, or none; come-up, hold, ramped cooling."""
    film = Film.everywhere(400.0) if film is None else film
    cooling = Film(film.side / 2, film.base / 2, film.lid / 2)
    stages = (
        Stage("come-up", np.array([0.0, 600.0]), np.array([40.0, 118.0]), film),
        Stage("hold", np.array([600.0, 3600.0]), np.array([118.0, 118.0]), film),
        Stage("cool", np.array([3600.0, 4200.0, 4800.0]), np.array([118.0, 30.0, 30.0]), cooling),
    )
    side, base, lid = (Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(STEEL, 0.00025)) if walls else (None, None, None)
    return Case(
        title="shape",
        container=Container(profile, side, base, lid, rise=rise),
        product=Product(PASTE, start),
        fill_height=profile.height if fill is None else fill,
        headspace=Headspace("insulated") if fill is None else Headspace("fixed", GAS),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
    )


DOME, CONE = Rise(0.010, 0.050), Rise(0.010, 0.050, "cone")
SHAPES = {
    "taper": packed(TAPER, fill=0.06),
    "shoulder": packed(SHOULDER, fill=0.1),
    "filled to the shoulder": packed(SHOULDER, fill=0.085),
    "rounded, with a dome": packed(ROUNDED, rise=DOME, fill=0.1),
    "cone": packed(TAPER, rise=CONE, fill=0.06),
    "vase": packed(vase(), rise=DOME),
    "bare": packed(TAPER, walls=False),
}
SHAPES["punt wider than the neck"] = packed(
    Profile(((0.0, 0.036), (0.080, 0.036), (0.094, 0.022), (0.110, 0.022))), rise=Rise(0.015, 0.060), fill=0.1
)
