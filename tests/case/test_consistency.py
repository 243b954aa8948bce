"""A case is checked however it is made: from a file, in Python, or by changing another."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from small_case import LOGGER, SMALL, STEM

import thermsim
from thermsim.assess.bare_cylinder import bare_cylinders
from thermsim.case import Accuracy, Film, Headspace, Lethality, Material, Point, Process, Stage, case_from_text
from thermsim.errors import CaseError

CASE = case_from_text(SMALL)
FILM = Film.everywhere(450.0)
PASTE = CASE.product.material


def container(**changes):
    return dataclasses.replace(CASE.container, **changes)


def wall(**changes):
    return container(side=dataclasses.replace(CASE.container.side, **changes))


def product(**changes):
    return dataclasses.replace(CASE.product, **changes)


def paste(**changes):
    return product(material=dataclasses.replace(PASTE, **changes))


def stages(*times, medium=100.0, film=FILM):
    return Process(tuple(Stage("hold", time, np.full(np.shape(time), medium), film) for time in times))


def faults(**changes):
    with pytest.raises(CaseError) as refused:
        CASE.replace(**changes)
    return list(refused.value.faults)


FAULTS = [
    ("fill_height", 0.2, r"fill_height = 0\.2 must be above 0 and at most the container's inner height, 0\.113 m"),
    ("fill_height", 0.0, "fill_height = 0.0 must be above 0"),
    ("fill_height", -0.1, "fill_height = -0.1 must be above 0"),
    ("fill_height", math.nan, "fill_height = nan must be above 0"),
    ("fill_height", math.inf, "fill_height = inf must be above 0"),
    ("fill_height", "0.1", 'fill_height = "0.1" must be above 0'),
    ("fill_height", True, "fill_height = true must be above 0"),
    ("fill_height", np.float64(0.1131), "fill_height = 0.1131 must be above 0"),
    ("headspace", Headspace("fixed"), 'headspace "fixed" needs a material: 12 mm are left above the product'),
    ("headspace", Headspace("insulated", PASTE), 'headspace "insulated" takes no material, but names "dense paste"'),
    ("headspace", Headspace("humid"), 'headspace.model = "humid" must be "fixed" or "insulated"'),
    ("container", container(inner_diameter=0.0), "container.inner_diameter = 0.0 must be a finite number above 0 m"),
    (
        "container",
        container(inner_height=-0.113),
        "container.inner_height = -0.113 must be a finite number above 0 m",
    ),
    ("container", container(inner_height=math.nan), "container.inner_height = nan must be a finite number above 0 m"),
    ("container", container(initial=math.nan), "container.initial = nan must be a finite number, degC"),
    ("container", wall(thickness=0.0), "container.side.thickness = 0.0 must be a finite number above 0 m"),
    ("container", wall(thickness=math.inf), "container.side.thickness = inf must be a finite number above 0 m"),
    ("container", wall(material=Material("glue", 0.0, 1.0, 1.0)), 'material "glue": conductivity = 0.0 must be'),
    ("product", paste(conductivity=math.nan), 'material "dense paste": conductivity = nan must be a finite number'),
    ("product", paste(density=-1.0), 'material "dense paste": density = -1.0 must be a finite number above 0 kg/m3'),
    ("product", paste(specific_heat=None), 'material "dense paste": specific_heat = None must be a finite number'),
    ("product", product(initial=math.inf), "product.initial = inf must be a finite number, degC"),
    ("lethality", Lethality(121.1, 0.0), "lethality.z = 0.0 must be a finite number above 0 K"),
    ("lethality", Lethality(121.1, math.nan), "lethality.z = nan must be a finite number above 0 K"),
    ("lethality", Lethality(math.nan, 10.0), "lethality.reference = nan must be a finite number, degC"),
    ("lethality", Lethality(121.1, 10.0, -1.0), "lethality.target = -1.0 must be a finite number above 0 s"),
    ("lethality", Lethality(121.1, 10.0, zone=0.0), "lethality.zone = 0.0 must be a finite number above 0"),
    (
        "points",
        (Point("far", 0.0361, 0.05),),
        r'points\[0\] "far": r = 0.0361 m, z = 0.05 m lies outside the container',
    ),
    ("points", (Point("high", 0.0, 0.119),), r'points\[0\] "high": r = 0 m, z = 0.119 m lies outside the container'),
    ("points", (Point("low", 0.0, -0.01),), r'points\[0\] "low": r = 0 m, z = -0.01 m lies outside the container'),
    ("points", (Point("none", math.nan, 0.0),), r'points\[0\] "none": r = nan, z = 0.0 must be finite numbers, m'),
    ("process", Process(()), "process.stages is empty; at least one is needed"),
    (
        "process",
        stages([0.0, 10.0], [11.0, 20.0]),
        r'process.stages\[1\] "hold": begins at 11 s, but the stage before it ends at 10 s',
    ),
    (
        "process",
        stages([0.0, 10.0], [9.0, 20.0]),
        r'process.stages\[1\] "hold": begins at 9 s, but the stage before it ends at 10 s',
    ),
    ("process", stages([5.0, 10.0]), r'process.stages\[0\] "hold": begins at 5 s, but the process begins at 0 s'),
    ("process", stages([0.0, 0.0]), r'process.stages\[0\] "hold": time must be finite and growing, s'),
    ("process", stages([0.0, math.inf]), r'process.stages\[0\] "hold": time must be finite and growing, s'),
    ("process", stages([0.0]), r'process.stages\[0\] "hold": time and medium must be two lists of the same length'),
    ("process", stages([0.0, 9.0], medium=math.nan), r'process.stages\[0\] "hold": medium must be finite, degC'),
    ("process", stages([0.0, 9.0], film=Film(-1.0, 1.0, 1.0)), r"film\.side = -1.0 must be a number above 0 W/m2K"),
    (
        "process",
        stages([0.0, 9.0], film=Film(1.0, math.nan, 1.0)),
        r"film\.base = nan must be a number above 0 W/m2K",
    ),
    ("process", stages([0.0, 9.0], film=Film(1.0, 1.0, None)), r"film\.lid = None must be a number above 0 W/m2K"),
    ("process", stages([0.0, 9.0], film=Film(1.0, 1.0, 1.0, -2.0)), r"film\.probe = -2.0 must be a number above 0"),
    ("accuracy", Accuracy(temperature=0.0), "accuracy.temperature = 0.0 must be a finite number above 0 K"),
    ("accuracy", Accuracy(lethality=math.nan), "accuracy.lethality = nan must be a finite number above 0"),
    ("accuracy", Accuracy(place=-1.0), "accuracy.place = -1.0 must be a finite number above 0 m"),
    ("output_every", 0.0, "output_every = 0.0 must be a finite number above 0 s"),
]


@pytest.mark.parametrize(("part", "value", "fault"), FAULTS, ids=[fault[:60] for _, _, fault in FAULTS])
def test_a_case_that_cannot_be_computed_is_refused_with_one_line(part, value, fault):
    with pytest.raises(CaseError, match=f"\\Acase: .*{fault}.*\\Z"):
        CASE.replace(**{part: value})


def test_every_fault_is_reported_at_once():
    found = faults(fill_height=0.2, process=Process(()), lethality=Lethality(121.1, -10.0))
    assert [fault.split(" ")[1] for fault in found] == ["fill_height", "process.stages", "lethality.z"]


def test_sizes_at_fault_are_not_blamed_on_fill_and_points_as_well():
    assert len(faults(container=container(inner_height=math.nan))) == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"fill_height": np.float32(0.1)},
        {"fill_height": np.int64(1), "container": container(inner_height=2)},
        {"fill_height": 0.113},
        {"fill_height": 0.113 * (1 + 1e-10)},
        {"fill_height": 0.113, "headspace": Headspace("fixed")},
        {"headspace": Headspace("fixed", PASTE)},
        {"process": stages([0.0, 10.0], [10.0, 20.0], film=Film(0.0, math.inf, np.float64(3.0), 0.0))},
        {"process": stages([0.0, 0.1 + 0.2], [0.3, 20.0])},
        {"points": (Point("rim", 0.036, 0.11825), Point("in the headspace", 0.0, 0.11))},
        {"lethality": Lethality(121, 10, 1e-12, reach=(90.0, 500.0))},
    ],
)
def test_what_can_be_computed_is_accepted(changes):
    assert CASE.replace(**changes).title == "Small"


def test_probes_materials_are_looked_at_too():
    case = case_from_text(SMALL + STEM)
    (segment,) = case.probe.segments
    bad = dataclasses.replace(segment, core=Material("wires", math.nan, 1.0, 1.0), wall=0.0005)
    with pytest.raises(CaseError, match='case: material "wires": conductivity = nan must be a finite number above 0'):
        case.replace(probe=dataclasses.replace(case.probe, segments=(bad,)))
    assert case_from_text(SMALL + LOGGER).replace(probe=None).probe is None


def test_bare_cylinders_are_cases():
    for cylinder in bare_cylinders():
        case = cylinder.case(Lethality(121.1, 10.0))
        assert case.fill_height == case.container.inner_height


def test_a_jar_filled_over_its_rim_is_not_simulated():
    with pytest.raises(CaseError, match="case: fill_height = 0.2 must be above 0 and at most"):
        thermsim.simulate(
            thermsim.read_case(Path(__file__).parents[2] / "cases" / "jar.toml").replace(fill_height=0.2)
        )


def test_the_nouns_of_a_probe_are_at_hand():
    from thermsim.case import Fitting, Gap, Probe, Segment, Stock

    made = Probe("lid", "through", (Segment(0.003, 0.094, PASTE),), 0.05, 0.0, Fitting(0.01, 0.0, 0.0, PASTE))
    made = dataclasses.replace(made, gap=Gap(1e-4, PASTE))
    assert CASE.replace(probe=made, stock=Stock((0.094,))).probe.length == 0.094


def test_probe_built_in_python_whose_tip_misses_the_product_is_refused():
    case = thermsim.read_case(Path(__file__).parents[2] / "cases" / "can_probe.toml")
    for depth in (0.003, 0.2):
        with pytest.raises(CaseError, match="is not in the product"):
            case.replace(probe=dataclasses.replace(case.probe, insertion=depth))
    wide = dataclasses.replace(case.probe.segments[0], diameter=0.09)
    with pytest.raises(CaseError, match="90 mm wide"):
        case.replace(probe=dataclasses.replace(case.probe, segments=(wide,)))
    with pytest.raises(CaseError, match="sensing"):
        case.replace(probe=dataclasses.replace(case.probe, sensing=0.2))
