"""Random cases as a user might write them, for ``benchmarks/honesty.py``: all of their numbers are invented."""

from __future__ import annotations

import dataclasses

import numpy as np

from thermsim.assess.simulate.simulation import simulate_container
from thermsim.case.case import Accuracy, Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.probe import Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import Profile, Rise, straight
from thermsim.errors import ThermsimError
from thermsim.physics.gap import GasGap
from thermsim.physics.materials import Material

TIN, GLASS = Material("tinplate", 50.0, 7850.0, 460.0), Material("glass", 1.0, 2500.0, 750.0)
PLASTIC = Material("plastic", 0.22, 910.0, 1800.0)
STEM = {
    "steel": Material("stainless steel", 15.0, 7900.0, 480.0),
    "plastic": Material("sheath", 0.3, 1300.0, 1700.0),
}
ACCURACIES = (Accuracy(), Accuracy(), Accuracy(0.5, 0.05, 1e-3), Accuracy(0.02, 0.004, 0.2e-3))
ROUGH = Accuracy(0.5, 0.05, 1e-3)


def drawn(seed: int, number: int) -> Case:
    """The case of a number among those of a seed; what cannot be packed is drawn again."""
    chance = np.random.default_rng([seed, number])
    while True:
        try:
            return _with_aims(_case(chance), chance)
        except ThermsimError:
            continue


def kind_of(case: Case) -> str:
    """What kind of case it is, in a few words."""
    profile = case.container.profile
    shape = "straight" if case.container.is_straight else "tapered" if len(profile.corners) == 2 else "shouldered"
    probe = f", probe from the {case.probe.entry}" if case.probe else ""
    return f"{shape}, {case.headspace.model}, {case.accuracy.temperature:g} K{probe}"


def _case(chance: np.random.Generator) -> Case:
    """A case with neither lethality's aims nor points."""
    uniform, choice = chance.uniform, chance.choice
    radius, height = uniform(0.02, 0.055), uniform(0.03, 0.15)
    shape = choice(["straight", "straight", "tapered", "steep", "shouldered", "shouldered"])
    if shape == "straight":
        profile = straight(2 * radius, height)
    elif shape == "shouldered":
        neck, low = radius * uniform(0.6, 0.85), height * uniform(0.6, 0.75)
        corners = ((0.0, radius), (low, radius), (low + radius - neck, neck), (height, neck))
        profile = Profile(corners, rounding=float(choice([0.0, 2e-3, 4e-3])))
    else:
        slope = uniform(0.05, 0.12) if shape == "tapered" else uniform(0.2, 0.45)
        profile = Profile(((0.0, max(0.012, radius - slope * height / 2)), (height, radius + slope * height / 2)))
    rise = None
    if shape != "straight" and uniform() < 0.3:
        rise = Rise(uniform(2e-3, 6e-3), 2 * profile.corners[0][1] * uniform(0.6, 0.9), str(choice(["dome", "cone"])))
    side, base, lid = {
        "can": (Wall(TIN, 0.2e-3), Wall(TIN, 0.2e-3), Wall(TIN, 0.2e-3)),
        "jar": (Wall(GLASS, uniform(2e-3, 4e-3)), Wall(GLASS, uniform(3e-3, 6e-3)), Wall(TIN, 0.25e-3)),
        "cup": (Wall(PLASTIC, uniform(0.6e-3, 1.2e-3)), Wall(PLASTIC, 0.9e-3), Wall(PLASTIC, 0.1e-3)),
        "none": (None, None, None),
    }[str(choice(["can", "can", "jar", "jar", "cup", "none"]))]
    container = Container(profile, side, base, lid, rise=rise)

    start = uniform(10.0, 70.0)
    product = Product(
        Material("product", uniform(0.35, 0.65), uniform(950.0, 1150.0), uniform(2800.0, 4000.0)), start
    )
    process, hot = _process(chance, start)
    left = uniform(3e-3, 15e-3)
    gap = Headspace("insulated")
    model = str(choice(["none", "insulated", "insulated", "fixed", "fixed", "fixed", "humid", "air"]))
    if model == "none":
        left = 0.0
    elif model == "fixed":
        gap = Headspace("fixed", Material("gas", uniform(0.04, 0.3), 1.0, 1000.0))
    elif model in ("humid", "air"):
        sealed = min(85.0, max(start, 40.0)) if model == "humid" and uniform() < 0.7 else None
        if model == "humid" and sealed is None:
            process, hot = _process(chance, start, hottest=95.0)
        met = (min(start, 10.0), hot)
        gap = Headspace.of_gas(GasGap(model, left, 0.92, 0.3, sealed_at=sealed, lid_wet=bool(uniform() < 0.3)), met)
    case = Case(
        "drawn", container, product, height - left, gap, process, Lethality(121.1, 10.0),
        accuracy=ACCURACIES[int(chance.integers(len(ACCURACIES)))],
    )  # fmt: skip
    if uniform() < 0.3:
        material = STEM[str(choice(list(STEM)))]
        probe = Probe(
            str(choice(["lid", "base"])), "through", (Segment(uniform(1e-3, 4e-3), height + 0.02, material),),
            sensing=float(choice([0.0, 2e-3])),
        )  # fmt: skip
        depth = case.container.outer_height * uniform(0.35, 0.65)
        case = case.replace(probe=dataclasses.replace(probe, insertion=depth))
    if uniform() < 0.3:
        case = case.replace(output_every=float(choice([2.0, 5.0, 120.0])))
    return case


def _process(chance: np.random.Generator, start: float, hottest: float = 130.0) -> tuple[Process, float]:
    """Come-up by a ramp or a jump, a hold, and cooling by a jump or a ramp; and the hottest of the medium."""
    uniform = chance.uniform
    hot, cold = uniform(80.0, hottest), uniform(8.0, 30.0)
    heat, cool = (
        Film(*10.0 ** uniform(1.7, 3.7, 3)) if uniform() < 0.5 else Film.everywhere(10.0 ** uniform(1.7, 3.7))
        for _ in range(2)
    )
    stages, now = [], 0.0
    if uniform() < 0.7:
        now = uniform(120.0, 900.0)
        first = uniform(start - 10.0, start + 20.0)
        stages.append(Stage("come-up", np.array([0.0, now]), np.array([first, hot]), heat))
    held = now + uniform(900.0, 5400.0)
    stages.append(Stage("hold", np.array([now, held]), np.array([hot, hot]), heat))
    times, media = ([held], [cold]) if uniform() < 0.6 else ([held, held + 300.0], [hot, cold])
    stages.append(
        Stage("cool", np.array([*times, times[-1] + uniform(600.0, 2400.0)]), np.array([*media, cold]), cool)
    )
    return Process(tuple(stages)), hot


def _with_aims(case: Case, chance: np.random.Generator) -> Case:
    """The case with a lethality worth gathering, temperatures to reach, a target now and then, and points."""
    uniform = chance.uniform
    bare = case.replace(probe=None, accuracy=ROUGH)
    found = simulate_container(bare)[0]
    reached = float(found.spots[0].temperature.max())
    aims = tuple(case.product.initial + (reached - case.product.initial) * part for part in uniform(0.1, 0.97, 2))
    lethality = Lethality(round(reached - uniform(-5.0, 5.0), 1), float(chance.choice([7.0, 10.0])), reach=aims)
    if uniform() < 0.5:
        least = simulate_container(bare.replace(lethality=lethality))[0].cold_spot.least_lethality.lethality
        lethality = dataclasses.replace(lethality, target=least * 10.0 ** uniform(-0.3, 0.3))
    container, depth = case.container, uniform(0.2, 0.9) * case.fill_height
    z = max(container.floor + depth, container.floor + container.crown + 2e-3)
    points = [Point("in the product", container.radius_at(z) * uniform(0.0, 0.95), z)]
    if container.side is not None and container.is_straight:
        points.append(Point("in the wall", container.radius_at(z) + container.side.thickness / 2, z))
    return case.replace(lethality=lethality, points=tuple(points))
