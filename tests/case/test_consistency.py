"""A case is checked however it is made: from a file, in Python, or by changing another."""

import dataclasses
import math

import numpy as np
import pytest
from places import CASES
from small_case import SMALL

import thermsim
from thermsim import Accuracy, Film, Headspace, Lethality, Material, Point, Process, Stage, case_from_text
from thermsim.assess.verify.bare_cylinder import bare_cylinders
from thermsim.case.profile import Profile, Rise, straight
from thermsim.case.rules import collecting
from thermsim.errors import CaseError

CASE = case_from_text(SMALL)
SHOULDERED = dataclasses.replace(
    CASE.container, profile=Profile(((0.0, 0.033), (0.08, 0.033), (0.095, 0.026), (0.113, 0.026)))
)
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


with collecting():
    FAULTS = [
        ("fill_height", 0.2, r"fill_height = 0\.2 m is more than the container's inner height, 113 mm"),
        ("fill_height", 0.0, "fill_height = 0 m leaves no room for a product; the container is 113 mm high inside"),
        ("fill_height", -0.1, "fill_height = -0.1 m leaves no room for a product"),
        ("fill_height", math.nan, "fill_height = nan is not a finite number"),
        ("fill_height", math.inf, "fill_height = inf is not a finite number"),
        ("fill_height", "0.1", 'fill_height = "0.1" is not a finite number'),
        ("fill_height", True, "fill_height = true is not a finite number"),
        (
            "fill_height",
            np.float64(0.1131),
            "fill_height = 0.1131 m is more than the container's inner height, 113 mm",
        ),
        ("headspace", Headspace("fixed"), 'headspace: "fixed" needs a material: 12 mm are left above the product'),
        (
            "headspace",
            Headspace("insulated", PASTE),
            'headspace: "insulated" takes no material, but names "dense paste"',
        ),
        (
            "headspace",
            Headspace("damp"),
            'headspace.model = "damp" is unknown; allowed here: fixed, insulated, air, humid',
        ),
        (
            "headspace",
            Headspace("humid"),
            'headspace: "humid" needs its gap and the material made from it: see Headspace.of_gas',
        ),
        (
            "container",
            container(profile=straight(0.0, 0.113)),
            "container.inner_diameter = 0 m must be at least 3 and at most 2000 mm",
        ),
        (
            "container",
            container(profile=straight(0.066, -0.113)),
            "container.profile.corners: has heights that fall from point to point; give the points from the",
        ),
        (
            "container",
            container(profile=straight(0.066, math.nan)),
            r"container.profile.corners\[1\] = \(nan, 0.033\) must be two finite numbers, \[height, radius\]",
        ),
        (
            "container",
            container(profile=Profile(((0.0, 0.03),))),
            r"container.profile.corners: holds 1 point; it must hold 2 to 200: \[height, radius\] each",
        ),
        (
            "container",
            container(profile=Profile(((0.005, 0.03), (0.1, 0.03)))),
            r"container.profile.corners\[0\] = \(0.005, 0.03\) must be at height 0: .*take 5 mm off every height",
        ),
        (
            "container",
            container(profile=Profile(((0.0, 0.03), (0.05, 0.0), (0.1, 0.03)))),
            r"container.profile.corners\[1\] = \(0.05, 0.0\) has no radius above 0; only the first and the last",
        ),
        (
            "container",
            container(profile=Profile(((0.0, 0.03), (0.05, 0.02), (0.113, 0.03)), rounding=1.0)),
            r"container.profile.rounding = 1 m does not fit between point 1 = \[0, 30\] and point 2 = \[50, 20\]",
        ),
        (
            "container",
            container(profile=Profile(((0.0, 0.03), (0.05, 0.02), (0.113, 0.03)), rounding=-1.0)),
            "container.profile.rounding = -1 m must be above 0 and at most 1000 mm",
        ),
        (
            "container",
            container(profile=Profile(((0.0, 0.0), (0.113, 0.03)))),
            r"container.profile.corners\[0\] = \(0.0, 0.0\) lies on the axis, where a side wall cannot be closed",
        ),
        (
            "container",
            # a waist rounded by less than the wall is thick
            container(profile=Profile(((0.0, 0.03), (0.05, 0.02), (0.113, 0.03)), rounding=0.002)),
            r"container: the side wall is too thick for the profile in the rounding at point 2 = \[50, 20\]: its",
        ),
        (
            "container",
            wall(course=(0.003, 0.004, 0.003)),
            r"container.side.course = \(0.003, 0.004, 0.003\) must be one number or two numbers, .*; it holds 3",
        ),
        (
            "container",
            wall(course=(0.003, 0.0)),
            r"container.side.course\[1\] = 0 m must be at least 0.02 and at most 200 mm",
        ),
        (
            "container",
            container(rise=Rise(0.006, 0.067)),
            "container.rise.diameter = 0.067 m is more than the inner diameter at the base, 66 mm",
        ),
        (
            "container",
            container(rise=Rise(0.12, 0.06)),
            "container.rise.height = 0.12 m leaves no room for a product",
        ),
        (
            "container",
            container(rise=Rise(0.04, 0.06)),
            "container.rise.height = 0.04 m is too high for a dome 60 mm wide",
        ),
        ("container", container(rise=Rise(0.0, 0.06)), "container.rise.height = 0 m must be above 0 and at most"),
        (
            "container",
            container(rise=Rise(0.006, 0.06, "tent")),
            'container.rise.form = "tent" is unknown; .*dome, cone',
        ),
        (
            "container",
            # the dome is nearly upright at its rim, the wall leans inwards by 45 degrees
            container(
                profile=Profile(((0.0, 0.033), (0.02, 0.013), (0.113, 0.013))), rise=Rise(0.032, 0.066), side=None
            ),
            "container.rise.height = 0.032 m takes the base through the side wall: .* mm above its rim the base is",
        ),
        ("container", container(initial=math.nan), "container.initial = nan degC is not a number"),
        ("container", wall(thickness=0.0), "container.side.thickness = 0 m must be at least 0.02 and at most 200 mm"),
        (
            "container",
            wall(thickness=math.inf),
            "container.side.thickness = inf m must be at least 0.02 and at most 200 mm",
        ),
        (
            "container",
            wall(material=Material("glue", 0.0, 1.0, 900.0)),
            'material "glue".conductivity = 0 W/mK must be above 0',
        ),
        ("product", paste(conductivity=math.nan), 'material "dense paste".conductivity = nan W/mK is not a number'),
        (
            "product",
            paste(density=-1.0),
            'material "dense paste".density = -1 kg/m3 must be above 0 and at most 25000 kg/m3',
        ),
        ("product", paste(specific_heat=None), 'material "dense paste".specific_heat = None is not a number'),
        (
            "product",
            product(initial=math.inf),
            "product.initial = inf degC must be at least -60 and at most 200 degC",
        ),
        ("lethality", Lethality(121.1, 0.0), "lethality.z = 0 K must be at least 1 and at most 200 K"),
        ("lethality", Lethality(121.1, math.nan), "lethality.z = nan K is not a number"),
        ("lethality", Lethality(math.nan, 10.0), "lethality.reference = nan degC is not a number"),
        (
            "lethality",
            Lethality(121.1, 10.0, -1.0),
            r"lethality.target = -1 s \(-0.0166667 min\) must be above 0 min and finite",
        ),
        (
            "lethality",
            Lethality(121.1, 10.0, zone=0.0),
            r"lethality.zone = 0 \(0 %\) must be above 0 and at most 1000 %",
        ),
        (
            "points",
            (Point("far", 0.0361, 0.05),),
            r"points\[0\].r = 0.0361 m lies outside the container, whose outer radius is 36 mm",
        ),
        (
            "points",
            (Point("high", 0.0, 0.119),),
            r"points\[0\].z = 0.119 m lies above the container, which is 118.25 mm high",
        ),
        ("points", (Point("low", 0.0, -0.01),), r"points\[0\].z = -0.01 m must be at least 0 and at most 4000 mm"),
        ("points", (Point("none", math.nan, 0.0),), r"points\[0\].r = nan m is not a number"),
        ("process", Process(()), r"process.stages = \(\) holds no stage; at least one is needed"),
        (
            "process",
            stages([0.0, 10.0], [11.0, 20.0]),
            r"process.stages\[1\]: begins at 11 s, but the stage before it ends at 10 s",
        ),
        (
            "process",
            stages([0.0, 10.0], [9.0, 20.0]),
            r"process.stages\[1\]: begins at 9 s, but the stage before it ends at 10 s",
        ),
        ("process", stages([5.0, 10.0]), r"process.stages\[0\]: begins at 5 s, but the process begins at 0 s"),
        ("process", stages([0.0, 0.0]), r"process.stages\[0\]: time must be finite and growing, s"),
        ("process", stages([0.0, math.inf]), r"process.stages\[0\]: time must be finite and growing, s"),
        ("process", stages([0.0]), r"process.stages\[0\]: time and medium must be two lists of the same length"),
        ("process", stages([0.0, 9.0], medium=math.nan), r"process.stages\[0\].medium = nan degC is not a number"),
        ("process", stages([0.0, 9.0], film=Film(-1.0, 1.0, 1.0)), r"film\.side = -1 W/m2K must be at least 0 W/m2K"),
        ("process", stages([0.0, 9.0], film=Film(1.0, math.nan, 1.0)), r"film\.base = nan W/m2K is not a number"),
        ("process", stages([0.0, 9.0], film=Film(1.0, 1.0, None)), r"film\.lid = None is not a number"),
        ("process", stages([0.0, 9.0], film=Film(1.0, 1.0, 1.0, -2.0)), r"film\.probe = -2 W/m2K must be at least 0"),
        (
            "accuracy",
            Accuracy(temperature=0.0),
            "accuracy.temperature = 0 K must be at least 0.0005 and at most 10 K",
        ),
        ("accuracy", Accuracy(lethality=math.nan), r"accuracy.lethality = nan \(nan %\) is not a number"),
        ("accuracy", Accuracy(place=-1.0), "accuracy.place = -1 m must be at least 0.005 and at most 50 mm"),
        ("output_every", 0.0, r"output_every = 0 s \(0 min\) must be above 0 min and finite"),
    ]


@pytest.mark.parametrize(("part", "value", "fault"), FAULTS, ids=[fault[:60] for _, _, fault in FAULTS])
def test_a_case_that_cannot_be_computed_is_refused_with_one_line(part, value, fault):
    with pytest.raises(CaseError, match=f"\\Acase: .*{fault}.*\\Z"):
        CASE.replace(**{part: value})


def made_anew(noun):
    """The same noun made by hand, its parts first."""
    if isinstance(noun, tuple):
        return tuple(map(made_anew, noun))
    if not dataclasses.is_dataclass(noun) or isinstance(
        noun, Material
    ):  # a material is looked at by what is made of it
        return noun
    parts = {field.name: getattr(noun, field.name) for field in dataclasses.fields(noun)}
    return dataclasses.replace(noun, **{name: made_anew(part) for name, part in parts.items()})


BY_ITSELF = [
    (value, fault)
    for part, value, fault in FAULTS
    if part in ("container", "product", "process", "accuracy", "lethality")
]


@pytest.mark.parametrize(("noun", "fault"), BY_ITSELF, ids=[fault[:60] for _, fault in BY_ITSELF])
def test_a_noun_that_is_wrong_by_itself_is_refused_where_it_is_made(noun, fault):
    # what is said of its inmost part, by the name of the argument; the part's own place in a case is not known yet
    said = fault.rpartition("stages")[2].removeprefix(r"\[0\]").removeprefix(r"\[1\]").removeprefix(".")
    said = said.removeprefix("container.side.").removeprefix(":")
    with pytest.raises(CaseError, match=said):
        made_anew(noun)


def test_every_fault_is_reported_at_once():
    with collecting():
        process, lethality = Process(()), Lethality(121.1, -10.0)
    found = faults(fill_height=0.2, process=process, lethality=lethality)
    assert [fault.split(" ")[1] for fault in found] == ["fill_height", "process.stages", "lethality.z"]


def test_sizes_at_fault_are_not_blamed_on_fill_and_points_as_well():
    with collecting():
        nowhere = container(profile=straight(0.066, math.nan))
    assert len(faults(container=nowhere)) == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"fill_height": np.float32(0.1)},
        {"fill_height": np.int64(1), "container": container(profile=straight(0.066, 2))},
        {"container": container(profile=Profile(((0.0, 0.0), (0.05, 0.033), (0.113, 0.0))), side=None)},
        {"container": container(rise=Rise(0.033, 0.066)), "points": (Point("on the punt", 0.0, 0.034),)},
        {"points": (Point("beside the shoulder", 0.028, 0.118),), "container": SHOULDERED},
        {"fill_height": 0.113},
        {"fill_height": 0.113 * (1 + 1e-10)},
        {"fill_height": 0.113, "headspace": Headspace("fixed")},
        {"headspace": Headspace("fixed", PASTE)},
        {"process": stages([0.0, 10.0], [10.0, 20.0], film=Film(0.0, math.inf, np.float64(3.0), 0.0))},
        {"process": stages([0.0, 0.1 + 0.2], [0.3, 20.0])},
        {"points": (Point("rim", 0.036, 0.11825), Point("in the product", 0.0, 0.1))},
        {"lethality": Lethality(121, 10, 1e-12, reach=(90.0, 180.0))},
    ],
)
def test_what_can_be_computed_is_accepted(changes):
    assert CASE.replace(**changes).title == "Small"


def test_bare_cylinders_are_cases():
    for cylinder in bare_cylinders():
        case = cylinder.case(Lethality(121.1, 10.0))
        assert case.fill_height == case.container.inner_height


def test_a_jar_filled_over_its_rim_is_not_simulated():
    with pytest.raises(CaseError, match="case: fill_height = 0.2 m is more than the container's inner height"):
        thermsim.simulate(thermsim.read_case(CASES / "jar.toml").replace(fill_height=0.2))
