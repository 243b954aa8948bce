"""A case file and a case built in Python are refused by the same rules, in the same words."""

import dataclasses
import pickle
import re

import pytest
from small_case import SMALL, STEM, changed, faults_of

from thermsim import Accuracy, Container, Lethality, Point, case_from_text
from thermsim.case.container import Seam
from thermsim.case.profile import Profile, Rise, straight
from thermsim.case.rules import collecting
from thermsim.errors import WHOLE, CaseError, Fault

CASE, WITH_STEM = case_from_text(SMALL), case_from_text(SMALL + STEM)
ROUND = "inner_diameter_mm = 66.0\ninner_height_mm = 113.0"
DIAMETER, HEIGHT = ROUND.split("\n")


def inside(**changes):
    return {"container": dataclasses.replace(CASE.container, **changes)}


def profile(*corners, rounding=0.0):
    return inside(profile=Profile(corners, rounding))


def wall(name, **changes):
    return inside(**{name: dataclasses.replace(getattr(CASE.container, name), **changes)})


def probe(**changes):
    return {"probe": dataclasses.replace(WITH_STEM.probe, **changes)}


def segment(**changes):
    return probe(segments=(dataclasses.replace(WITH_STEM.probe.segments[0], **changes),))


def fitting(**changes):
    return probe(fitting=dataclasses.replace(WITH_STEM.probe.fitting, **changes))


def paste(**changes):
    material = dataclasses.replace(CASE.product.material, **changes)
    return {"product": dataclasses.replace(CASE.product, material=material)}


def points(*names_and_places):
    return {"points": tuple(Point(*one) for one in names_and_places)}


def written(points_mm, more=""):
    return (ROUND, f"profile_mm = {points_mm}{more}")


# What is written in the case file, the same in Python, and the rule of both.
with collecting():
    RULES = [
        (
            (DIAMETER, "inner_diameter_mm = 66000"),
            inside(profile=straight(66.0, 0.113)),
            "2000 mm; did you mean 66 mm?",
        ),
        (
            (HEIGHT, "inner_height_mm = 113000"),
            inside(profile=straight(0.066, 113.0)),
            "2000 mm; did you mean 113 mm?",
        ),
        (
            (DIAMETER, "inner_diameter_mm = 2"),
            inside(profile=straight(0.002, 0.113)),
            "must be at least 3 and at most",
        ),
        (written("[[0, 33]]"), profile((0.0, 0.033)), "holds 1 point; it must hold 2 to 200"),
        (
            written("[[0, 33], [50, 0], [113, 33]]"),
            profile((0.0, 0.033), (0.05, 0.0), (0.113, 0.033)),
            "has no radius above 0; only the first and the last point may lie on the axis",
        ),
        (
            written("[[5, 33], [113, 33]]"),
            profile((0.005, 0.033), (0.113, 0.033)),
            "must be at height 0: heights count from the inside of the base; it is as high as the base is thick",
        ),
        (
            written("[[0, 33], [80, 33], [70, 26]]"),
            profile((0.0, 0.033), (0.08, 0.033), (0.07, 0.026)),
            "must be higher than the point before it, [80, 33] mm",
        ),
        (
            written("[[113, 26], [0, 33]]"),
            profile((0.113, 0.026), (0.0, 0.033)),
            "heights that fall from point to point; give the points from the base upwards",
        ),
        (
            written("[[0, 33], [80, 33], [95, 26], [113, 26]]", "\nrounding_mm = 40"),
            profile((0.0, 0.033), (0.08, 0.033), (0.095, 0.026), (0.113, 0.026), rounding=0.04),
            "does not fit between point 2 = [80, 33] and point 3 = [95, 26]; there is room for 37.2 mm at most",
        ),
        (
            written("[[0, 33], [113, 33]]", "\nrounding_mm = 4"),
            profile((0.0, 0.033), (0.113, 0.033), rounding=0.004),
            "the profile has no corner between its ends to be rounded; leave it out",
        ),
        (
            written("[[0, 0], [113, 33]]"),
            profile((0.0, 0.0), (0.113, 0.033)),
            "lies on the axis, where a side wall cannot be closed; leave out side, or give the point a radius",
        ),
        (
            written("[[0, 33], [80, 33], [80.5, 20], [81, 33], [113, 26]]"),
            profile((0.0, 0.033), (0.08, 0.033), (0.0805, 0.02), (0.081, 0.033), (0.113, 0.026)),
            "the side wall is too thick for the profile between point 2 = [80, 33] and point 3 = [80.5, 20]",
        ),
        (
            ("thickness_mm = 0.25", "thickness_mm = 0"),
            wall("lid", thickness=0.0),
            "must be at least 0.02 and at most 200",
        ),
        (
            ("thickness_mm = 3.0", "thickness_mm = [3, 2.5, 2]"),
            wall("side", thickness=0.003, course=(0.003, 0.0025, 0.002)),
            "must be one number or two numbers, [at the base, at the lid]; it holds 3",
        ),
        (
            ("thickness_mm = 0.25", "thickness_mm = 0.25, contact_m2K_W = -1"),
            wall("lid", contact=-1.0),
            "must be above 0 and at most 1 m2K/W",
        ),
        (
            (HEIGHT, f"{HEIGHT}\nbase_rise_mm = 4\nbase_rise_diameter_mm = 67"),
            inside(rise=Rise(0.004, 0.067)),
            "is more than the inner diameter at the base, 66 mm",
        ),
        (
            (HEIGHT, f"{HEIGHT}\nbase_rise_mm = 40"),
            inside(rise=Rise(0.040, 0.066)),
            "is too high for a dome 66 mm wide, which is at most half as high as it is wide",
        ),
        (
            (HEIGHT, f'{HEIGHT}\nbase_rise_mm = 112\nbase_rise_form = "cone"'),
            inside(rise=Rise(0.112, 0.066, "cone")),
            "leaves no room for a product; the container is 113 mm high inside",
        ),
        (
            ("headspace_mm = 12.0", "height_mm = 120"),
            {"fill_height": 0.12},
            "is more than the container's inner height",
        ),
        (
            ("headspace_mm = 12.0", "height_mm = 1.5"),
            {"fill_height": 0.0015},
            "fills 1.5 mm of the container; at least 2 mm are needed",
        ),
        (
            ("headspace_mm = 12.0", "height_mm = 112.95"),
            {"fill_height": 0.11295},
            "leaves a headspace of 0.05 mm; it must be none at all or at least 0.1 mm",
        ),
        (
            ('material = "dense paste"\ninitial_C = 40.0', 'material = "dense paste"\ninitial_C = 313'),
            {"product": dataclasses.replace(CASE.product, initial=313.0)},
            "must be at least -60 and at most 200 degC; did you mean K (39.85 degC)?",
        ),
        (
            ("conductivity_W_mK = 0.55", "conductivity_W_mK = 0"),
            paste(conductivity=0.0),
            "above 0 and at most 5000 W/mK",
        ),
        (("specific_heat_J_kgK = 3700", "specific_heat_J_kgK = 3.7"), paste(specific_heat=3.7), "20000 J/kgK"),
        (("z_C = 10.0", "z_C = 0"), {"lethality": Lethality(121.1, 0.0)}, "must be at least 1 and at most 200 K"),
        (
            ("[lethality]", "[accuracy]\nplace_mm = 0.001\n[lethality]"),
            {"accuracy": Accuracy(place=1e-6)},
            "must be at least 0.005 and at most 50 mm",
        ),
        (
            ("[lethality]", "[output]\nevery_min = 0.001\n[lethality]"),
            {"output_every": 0.06},
            "asks for more than 2000 times; in a process of 107 min it must be at least 0.0535 min",
        ),
        (
            ("r_mm = 0.0", "r_mm = 36.5"),
            points(("far", 0.0365, 0.059)),
            "lies outside the container, whose outer radius",
        ),
        (
            ("z_mm = 59.0", "z_mm = 159"),
            points(("high", 0.0, 0.159)),
            "lies above the container, which is 118.25 mm high",
        ),
        (("z_mm = 59.0", "z_mm = 110"), points(("dry", 0.0, 0.11)), "lies in the insulated headspace"),
        (
            ("[[points]]", '[[points]]\nname = "mid-height"\nr_mm = 1\nz_mm = 50\n[[points]]'),
            points(("mid-height", 0.0, 0.05), ("mid-height", 0.001, 0.05)),
            'name = "mid-height" is taken by an earlier point; give each its own',
        ),
    ]
with collecting():
    STEM_RULES = [
        (("insertion_mm = 54.0", "insertion_mm = 113.3"), probe(insertion=0.1133), "beyond the inside of the base"),
        (
            ("insertion_mm = 54.0", "insertion_mm = 12.25"),
            probe(insertion=0.01225),
            "leaves the tip in the headspace",
        ),
        (
            ("sensing_mm = 2.0", "sensing_mm = 95"),
            probe(sensing=0.095),
            "is more than the length of the last segment",
        ),
        (
            ("diameter_mm = 3.0", "diameter_mm = 66"),
            segment(diameter=0.066),
            "must be less than the container's inner",
        ),
        (("diameter_mm = 3.0", "diameter_mm = 0.15"), segment(diameter=0.00015), "must be at least 0.2 and at most"),
        (("inside_mm = 4.0", "inside_mm = 113"), fitting(inside=0.113), "must be less than the 113 mm between base"),
        (("inside_mm = 4.0", "inside_mm = 53.75"), fitting(inside=0.05375), "reaches to the tip or beyond it"),
        (('entry = "lid"', 'entry = "lid"\nz_mm = 59'), probe(z=0.059), 'has a meaning only with entry = "side"'),
    ]


def same(rule, lines, changes, case):
    assert any(rule in line for line in lines), lines
    with pytest.raises(CaseError, match=re.escape(rule)):
        case.replace(**changes)
    # built anew, where every part is looked at
    with pytest.raises(CaseError, match=re.escape(rule)):
        dataclasses.replace(case, **changes)


@pytest.mark.parametrize(("change", "changes", "rule"), RULES, ids=[rule[-40:] for *_, rule in RULES])
def test_file_and_python_are_refused_in_the_same_words(change, changes, rule):
    same(rule, faults_of(changed(change)), changes, CASE)


@pytest.mark.parametrize(("change", "changes", "rule"), STEM_RULES, ids=[rule[-40:] for *_, rule in STEM_RULES])
def test_probes_in_file_and_python_are_refused_in_the_same_words(change, changes, rule):
    same(rule, faults_of(changed(change, text=SMALL + STEM)), changes, WITH_STEM)


@pytest.mark.parametrize(("lid", "base", "at_fault"), [
    (-0.001, 0.004, "lid = -0.001 m"), (0.004, 0.021, "base = 0.021 m"), (0.021, 0.004, "lid = 0.021 m"),
])  # fmt: skip
def test_a_seam_stands_beyond_either_panel_by_what_seams_do(lid, base, at_fault):
    with pytest.raises(CaseError) as refused:
        dataclasses.replace(CASE.container, seam=Seam(None, lid, base))
    assert refused.value.faults == (f"container.seam.{at_fault} must be at least 0 and at most 20 mm",)


def test_a_jar_of_66_m_is_questioned():
    with pytest.raises(CaseError) as refused:
        Container.straight(66.0, 113.0)
    asked = "must be at least 3 and at most 2000 mm; did you mean"
    assert refused.value.faults == (
        f"container.inner_diameter = 66 m {asked} 66 mm?",
        f"container.inner_height = 113 m {asked} 113 mm?",
    )
    assert [(fault.path, fault.value) for fault in refused.value.found] == [
        ("container.inner_diameter", 66.0),
        ("container.inner_height", 113.0),
    ]
    assert faults_of(changed((DIAMETER, "inner_diameter_mm = 66000"))) == [
        f"jar.toml [container]: inner_diameter_mm = 66000 {asked} 66 mm?"
    ]


def test_a_change_is_checked_against_what_stays():
    assert WITH_STEM.replace(fill_height=0.1).probe is WITH_STEM.probe
    with pytest.raises(CaseError, match="case: probe.insertion = 0.054 m leaves the tip in the headspace"):
        WITH_STEM.replace(fill_height=0.05)
    with pytest.raises(CaseError, match=r"case: points\[0\].z = 0.059 m lies in the insulated headspace"):
        CASE.replace(fill_height=0.05)


def test_a_part_that_no_case_has_is_refused():
    with pytest.raises(TypeError, match="a case has no depth and no stem"):
        CASE.replace(stem=None, depth=1.0)


def test_faults_come_whole_from_a_worker():
    faults = (Fault("fill", 3.0, "is too high", "m"), Fault("lid", WHOLE, "is missing"))
    error = CaseError([str(fault) for fault in faults], faults)
    there = pickle.loads(pickle.dumps(error))
    assert (str(there), there.faults, there.found) == (
        "fill = 3 m is too high\nlid: is missing",
        error.faults,
        faults,
    )
