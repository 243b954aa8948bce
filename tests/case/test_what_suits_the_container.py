"""Places, bases and probes that have to suit the container which they are in."""

import dataclasses
import math

import pytest
from places import CASES
from small_case import LOGGER, SMALL, STEM

import thermsim
from thermsim import Material, Point, case_from_text
from thermsim.case.mounting import room_for
from thermsim.case.profile import Profile, Rise
from thermsim.case.rules import collecting
from thermsim.errors import CaseError

CASE = case_from_text(SMALL)
PASTE = CASE.product.material
SHOULDERED = dataclasses.replace(
    CASE.container, profile=Profile(((0.0, 0.033), (0.08, 0.033), (0.095, 0.026), (0.113, 0.026)))
)


def container(**changes):
    return dataclasses.replace(CASE.container, **changes)


def test_probes_materials_are_looked_at_too():
    case = case_from_text(SMALL + STEM)
    (segment,) = case.probe.segments
    wires = {"core": Material("wires", math.nan, 1.0, 900.0), "wall": 0.0005}
    with pytest.raises(CaseError, match='\\Amaterial "wires".conductivity = nan W/mK is not a number'):
        dataclasses.replace(segment, **wires)
    with collecting():
        probe = dataclasses.replace(case.probe, segments=(dataclasses.replace(segment, **wires),))
    with pytest.raises(CaseError, match='case: material "wires".conductivity = nan W/mK is not a number'):
        case.replace(probe=probe)
    assert case_from_text(SMALL + LOGGER).replace(probe=None).probe is None


@pytest.mark.parametrize("place", [(0.0295, 0.118), (0.0365, 0.05), (0.034, 0.098)])
def test_a_point_beside_a_shoulder_is_refused(place):
    # 26 + 3 mm at the neck, 33 + 3 mm below; on the slope 3 mm at right angles
    with pytest.raises(CaseError, match="lies outside the container, whose outer radius is"):
        CASE.replace(container=SHOULDERED, points=(Point("aside", *place),))


def test_a_point_under_a_base_that_rises_is_refused():
    with pytest.raises(CaseError, match="lies under the base, whose outside rises to 10 mm there"):
        CASE.replace(container=container(rise=Rise(0.01, 0.06)), points=(Point("under", 0.0, 0.009),))


def test_a_base_that_rises_is_covered():
    raised = container(rise=Rise(0.105, 0.06, "cone"))
    with pytest.raises(CaseError) as refused:
        CASE.replace(container=raised, points=())
    assert list(refused.value.faults) == [
        "case: fill_height = 0.101 m does not cover the base, which rises to 105 mm; the product must be at "
        "least 107 mm deep"
    ]


def test_a_probe_has_to_suit_a_base_that_rises():
    case = case_from_text(SMALL + STEM)
    raised = dataclasses.replace(case.container, rise=Rise(0.01, 0.06))
    assert case.replace(container=raised).bottom == 0.015
    # 118.25 mm less 15 mm is the crown; the tip keeps 1 mm away from it
    low = dataclasses.replace(case.probe, insertion=0.1025)
    long = (dataclasses.replace(low.segments[0], length=0.2),)
    assert case.replace(probe=dataclasses.replace(low, segments=long))
    with pytest.raises(CaseError, match="the tip, 102.5 mm from .* is too near to the base.*; at most 102.25 mm"):
        case.replace(container=raised, probe=dataclasses.replace(low, segments=long))
    logger = case_from_text(SMALL + LOGGER)
    narrow = dataclasses.replace(logger.container, rise=Rise(0.004, 0.016))
    with pytest.raises(CaseError, match="is 16 mm wide; it must be narrower than the rise of the base .*, 16 mm"):
        logger.replace(container=narrow)


def test_the_nouns_of_a_probe_are_at_hand():
    from thermsim import Fitting, Gap, Probe, Segment, Stock

    made = Probe("lid", "through", (Segment(0.003, 0.094, PASTE),), 0.05, 0.0, Fitting(0.01, 0.0, 0.0, PASTE))
    made = dataclasses.replace(made, gap=Gap(1e-4, PASTE))
    assert CASE.replace(probe=made, stock=Stock((0.094,))).probe.length == 0.094


def test_probe_built_in_python_whose_tip_misses_the_product_is_refused():
    case = thermsim.read_case(CASES / "can_probe.toml")
    for depth in (0.003, 0.2):
        with pytest.raises(CaseError, match="where it measures no product|puts the tip beyond the inside"):
            case.replace(probe=dataclasses.replace(case.probe, insertion=depth))
    wide = dataclasses.replace(case.probe.segments[0], diameter=0.09)
    with pytest.raises(CaseError, match=r"diameter = 0.09 m must be less than the container's inner diameter"):
        case.replace(probe=dataclasses.replace(case.probe, segments=(wide,)))
    with pytest.raises(CaseError, match="sensing"):
        case.replace(probe=dataclasses.replace(case.probe, sensing=0.2))


#: Narrow half-way up, wider above than below.
WAIST = dataclasses.replace(
    CASE.container, profile=Profile(((0.0, 0.030), (0.050, 0.020), (0.070, 0.020), (0.113, 0.033)))
)


@pytest.mark.parametrize(
    ("probe", "diameter", "part", "said"),
    [
        (LOGGER, 0.042, (0.010, 0.020), "where it has to pass, 40 mm at z = 5"),
        (STEM, 0.042, (0.010, 0.020), "where it has to pass, 40 mm at z = 5"),
        (STEM, 0.062, (0.100, 0.110), "where it is, "),
        (STEM.replace('"lid"', '"base"'), 0.042, None, "at its narrowest, 40 mm at z = 5"),
        (STEM, 0.039, (0.010, 0.020), "at its narrowest, 40 mm at z = 5"),
    ],
)
def test_a_part_is_held_against_the_narrowest_place_on_its_way(probe, diameter, part, said):
    """A body that is let through a waist on paper does not go into the jar."""
    room = room_for(diameter, case_from_text(SMALL + probe).probe, WAIST, part)
    assert said in room.where
