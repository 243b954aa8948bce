"""A case is checked however it is made: from a file, in Python, or by changing another."""

import dataclasses
import math

import numpy as np
import pytest
from places import CASES
from small_case import LOGGER, SMALL, STEM

import thermsim
from thermsim.assess.verify.bare_cylinder import bare_cylinders
from thermsim.case import Accuracy, Film, Headspace, Lethality, Material, Point, Process, Stage, case_from_text
from thermsim.case.profile import Profile, Rise, straight
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
    ("headspace", Headspace("damp"), 'headspace.model = "damp" must be "fixed", "insulated", "air" or "humid"'),
    (
        "headspace",
        Headspace("humid"),
        'headspace "humid" needs its gap and the material made from it: see gas_headspace',
    ),
    ("container", container(profile=straight(0.0, 0.113)), "container.profile has no radius above 0"),
    (
        "container",
        container(profile=straight(0.066, -0.113)),
        "container.profile corner 2 is at height -0.113 m, not above corner 1 at 0 m",
    ),
    (
        "container",
        container(profile=straight(0.066, math.nan)),
        r"container.profile corner 2, .*, must be a height and a radius, finite numbers in m",
    ),
    ("container", container(profile=Profile(((0.0, 0.03),))), "container.profile needs two corners or more"),
    (
        "container",
        container(profile=Profile(((0.005, 0.03), (0.1, 0.03)))),
        "container.profile corner 1 is at height 0.005 m; it must be at 0, the inside of the base",
    ),
    (
        "container",
        container(profile=Profile(((0.0, 0.03), (0.05, 0.0), (0.1, 0.03)))),
        "container.profile corner 2 has a radius of 0 m; it must be above 0",
    ),
    (
        "container",
        container(profile=Profile(((0.0, 0.03), (0.05, 0.02), (0.113, 0.03)), rounding=1.0)),
        "container.profile: the corner at height 50 mm, radius 20 mm has no room for a rounding of 1000 mm",
    ),
    (
        "container",
        container(profile=Profile(((0.0, 0.03), (0.05, 0.02), (0.113, 0.03)), rounding=-1.0)),
        "container.profile.rounding = -1.0 must be 0 or more, m",
    ),
    (
        "container",
        container(profile=Profile(((0.0, 0.0), (0.113, 0.03)))),
        "container.profile begins on the axis: a side wall cannot be closed there",
    ),
    (
        "container",
        # a waist rounded by less than the wall is thick
        container(profile=Profile(((0.0, 0.03), (0.05, 0.02), (0.113, 0.03)), rounding=0.002)),
        "container.side is too thick for the profile between heights .* mm: its outside would fold over itself",
    ),
    (
        "container",
        wall(course=(0.003, 0.004, 0.003)),
        "container.side.course has 3 thicknesses, the profile 2 corners: it must have one for each",
    ),
    ("container", wall(course=(0.003, 0.0)), "container.side.thickness = 0.0 must be a finite number above 0 m"),
    ("container", container(rise=Rise(0.006, 0.067)), "container.rise is 67 mm wide, the base inside 66 mm"),
    ("container", container(rise=Rise(0.12, 0.06)), "container.rise is 120 mm high, the container inside 113 mm"),
    ("container", container(rise=Rise(0.04, 0.06)), "container.rise is 40 mm high and 60 mm wide: a dome is at most"),
    ("container", container(rise=Rise(0.0, 0.06)), "container.rise.height = 0.0 must be a finite number above 0 m"),
    ("container", container(rise=Rise(0.006, 0.06, "tent")), 'container.rise.form = "tent" must be "dome" or "cone"'),
    (
        "container",
        # the dome is nearly upright at its rim, the wall leans inwards by 45 degrees
        container(profile=Profile(((0.0, 0.033), (0.02, 0.013), (0.113, 0.013))), rise=Rise(0.032, 0.066), side=None),
        "container.rise passes through the side wall .* mm above the base's rim",
    ),
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
    assert len(faults(container=container(profile=straight(0.066, math.nan)))) == 1


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
        thermsim.simulate(thermsim.read_case(CASES / "jar.toml").replace(fill_height=0.2))


@pytest.mark.parametrize("place", [(0.0295, 0.118), (0.0365, 0.05), (0.034, 0.098)])
def test_a_point_beside_a_shoulder_is_refused(place):
    # 26 + 3 mm at the neck, 33 + 3 mm below; on the slope 3 mm at right angles
    with pytest.raises(CaseError, match="lies beside the container|lies outside the container"):
        CASE.replace(container=SHOULDERED, points=(Point("aside", *place),))


def test_a_point_under_a_base_that_rises_is_refused():
    with pytest.raises(CaseError, match="lies beside the container, or under its base"):
        CASE.replace(container=container(rise=Rise(0.01, 0.06)), points=(Point("under", 0.0, 0.009),))


def test_a_base_that_rises_is_covered():
    raised = container(rise=Rise(0.105, 0.06, "cone"))
    assert faults(container=raised, points=()) == [
        "case: fill_height = 0.101 m does not cover the base, which rises to 0.105 m"
    ]


def test_a_probe_has_to_suit_a_base_that_rises():
    case = case_from_text(SMALL + STEM)
    raised = dataclasses.replace(case.container, rise=Rise(0.01, 0.06))
    assert case.replace(container=raised).bottom == 0.015
    # 118.25 mm less 15 mm is the crown; the tip keeps 1 mm away from it
    low = dataclasses.replace(case.probe, insertion=0.1025)
    assert case.replace(probe=dataclasses.replace(low, segments=(dataclasses.replace(low.segments[0], length=0.2),)))
    with pytest.raises(CaseError, match="its tip, at z = 15.75 mm, is not in the product, 16 to 106 mm"):
        case.replace(container=raised, probe=low)
    logger = case_from_text(SMALL + LOGGER)
    narrow = dataclasses.replace(logger.container, rise=Rise(0.004, 0.016))
    with pytest.raises(CaseError, match="is 16 mm wide, the rise of the base that it stands on 16 mm"):
        logger.replace(container=narrow)


def test_the_nouns_of_a_probe_are_at_hand():
    from thermsim.case import Fitting, Gap, Probe, Segment, Stock

    made = Probe("lid", "through", (Segment(0.003, 0.094, PASTE),), 0.05, 0.0, Fitting(0.01, 0.0, 0.0, PASTE))
    made = dataclasses.replace(made, gap=Gap(1e-4, PASTE))
    assert CASE.replace(probe=made, stock=Stock((0.094,))).probe.length == 0.094


def test_probe_built_in_python_whose_tip_misses_the_product_is_refused():
    case = thermsim.read_case(CASES / "can_probe.toml")
    for depth in (0.003, 0.2):
        with pytest.raises(CaseError, match="is not in the product"):
            case.replace(probe=dataclasses.replace(case.probe, insertion=depth))
    wide = dataclasses.replace(case.probe.segments[0], diameter=0.09)
    with pytest.raises(CaseError, match="90 mm wide"):
        case.replace(probe=dataclasses.replace(case.probe, segments=(wide,)))
    with pytest.raises(CaseError, match="sensing"):
        case.replace(probe=dataclasses.replace(case.probe, sensing=0.2))
