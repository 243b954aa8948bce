"""Keys in the other system of units: every one of every table gives the same case; both at once are refused."""

import dataclasses
import re
import tomllib

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_case import LOGGER, SMALL, STEM, changed, faults_of, recorded

from thermsim import case_from_text
from thermsim.case.file.reader import case_from_tables
from thermsim.case.keys.paths import place_of
from thermsim.case.keys.tables import TABLES
from thermsim.errors import InputError

FOOT, POUND, BTU = 0.3048, 0.45359237, 1055.05585262


def fahrenheit(celsius):
    return 1.8 * celsius + 32.0


def times(factor):
    return lambda value: value / factor


#: How a metric key ends, how the other does, and the number there. Source: the definitions of inch, pound, degF and
#: Btu (of the steam tables), from memory.
ENDINGS = {
    "mm": ("in", times(25.4)),
    "K": ("F", times(5 / 9)),
    "W_mK": ("Btu_hftF", times(BTU / 3600 / FOOT * 1.8)),
    "W_m2K": ("Btu_hft2F", times(BTU / 3600 / FOOT**2 * 1.8)),
    "m2K_W": ("hft2F_Btu", times(3600 * FOOT**2 / BTU / 1.8)),
    "kg_m3": ("lb_ft3", times(POUND / FOOT**3)),
    "J_kgK": ("Btu_lbF", times(4186.8)),
    "Pa_s": ("cP", times(1e-3)),
    "kPa": ("psia", times(POUND * 9.80665 / 0.0254**2 / 1e3)),
    "g": ("lb", times(POUND * 1e3)),
    "ml": ("fl_oz", times(231 * 2.54**3 / 128)),
    "C": ("F", fahrenheit),
}


def other_key(name):
    """The key in the other system and how its numbers are made; None where there is none."""
    if name == "z_C":
        return "z_F", times(5 / 9)
    ends = [end for end in ENDINGS if name.endswith(f"_{end}")]
    if not ends:
        return None
    end = max(ends, key=len)
    return name.removesuffix(end) + ENDINGS[end][0], ENDINGS[end][1]


def converted(node, seen, heading="", every=1):
    """The tables of a case with their keys in the other system; ``seen`` gets what was converted."""
    made = {}
    for k, (name, value) in enumerate(node.items()):
        inner = {"probes": "probe", "side": "container.wall", "base": "container.wall", "lid": "container.wall"}
        below = inner.get(name, f"{heading}.{name}".lstrip("."))
        if heading == "materials":
            below = "materials"
        other = other_key(name)
        if other is not None and (k % every == 0):
            seen.add((heading, name))
            made[other[0]] = number(value, other[1], name)
        elif name == "materials":
            made[name] = {one: converted(material, seen, "materials", every) for one, material in value.items()}
        elif isinstance(value, dict):
            made[name] = converted(value, seen, below, every)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            made[name] = [converted(one, seen, below, every) for one in value]
        else:
            made[name] = value
    return made


def number(value, conversion, name):
    if isinstance(value, dict):
        return {part: number(one, conversion, name) for part, one in value.items()}
    if isinstance(value, list) and value and isinstance(value[0], list) and name != "profile_mm":
        return [[fahrenheit(at), conversion(one)] for at, one in value]
    if isinstance(value, list):
        return [number(one, conversion, name) for one in value]
    return conversion(value)


def same(one, other, where=""):
    """Two cases hold the same numbers."""
    if dataclasses.is_dataclass(one):
        assert type(one) is type(other), where
        for field in dataclasses.fields(one):
            if field.name not in ("text", "file", "notes", "attachments", "source", "study"):
                same(getattr(one, field.name), getattr(other, field.name), f"{where}.{field.name}")
    elif isinstance(one, tuple | list):
        assert len(one) == len(other), where
        for a, b in zip(one, other, strict=True):
            same(a, b, where)
    elif isinstance(one, float | np.ndarray):
        assert_allclose(other, one, rtol=1e-9, atol=1e-9, err_msg=where)
    elif callable(one):
        assert type(one) is type(other)
    else:
        assert one == other, where


SHAPE = "inner_diameter_mm = 66.0\ninner_height_mm = 113.0"
HEAD = "headspace_mm = 12.0"
GAS = (
    'model = "insulated"',
    'model = "humid"\nemissivity_product = 0.9\nemissivity_lid = 0.9\nsealed_at_C = 65.0\npressure_kPa = 101.0',
)
TABLED = (
    "conductivity_W_mK = 0.55\ndensity_kg_m3 = 1050\nspecific_heat_J_kgK = 3700",
    "conductivity_W_mK = [[20.0, 0.5], [150.0, 0.6]]\ndensity_kg_m3 = [[20.0, 1060.0], [150.0, 1000.0]]\n"
    "specific_heat_J_kgK = [[20.0, 3600.0], [150.0, 3800.0]]",
)
PROBED = changed(
    ("sensing_mm = 2.0", "sensing_mm = 2.0\nfilm_W_m2K = 900.0\ninitial_C = 21.0"),
    ("length_mm = 94.0, ", 'length_mm = 94.0, wall_mm = 0.4, core = "copper", '),
    text=STEM,
)
CASES = {
    "inside": SMALL,
    "outside": changed((SHAPE, "outer_diameter_mm = [72, 74]\nouter_height_mm = 118.25"), text=SMALL),
    "over seams": changed(
        (
            SHAPE,
            "diameter_over_seams_mm = 70\nseam_allowance_mm = 3.5\n"
            "height_over_seams_mm = 126\ncountersink_mm = 3.5",
        ),
        text=SMALL,
    ),
    "seams, mass": changed(
        (SHAPE, "diameter_over_seams_mm = 70\nheight_over_seams_mm = 126\ncountersink_allowance_mm = 9"),
        (HEAD, "mass_g = 350"),
        text=SMALL,
    ),
    "brimful, volume": changed(
        (SHAPE, "inner_height_mm = 113\nbrimful_ml = 380"), (HEAD, "volume_ml = 350"), text=SMALL
    ),
    "profile": changed(
        (SHAPE, "profile_mm = [[0, 33], [80, 33], [95, 26], [113, 26]]\nrounding_mm = 5\ninitial_C = 22"),
        (HEAD, "height_mm = 100"),
        GAS,
        ("thickness_mm = 3.0", "thickness_mm = 3.0, contact_m2K_W = 0.001"),
        text=SMALL,
    ),
    "punt, tables": changed(
        (SHAPE, f"{SHAPE}\nbase_rise_mm = 4\nbase_rise_diameter_mm = 50"),
        ("thickness_mm = 3.0", 'thickness_mm = 3.0, label = "paper", label_mm = 0.1'),
        TABLED,
        ("initial_C = 40.0", "initial_C = 40.0\nviscosity_Pa_s = [[20.0, 80.0], [150.0, 20.0]]"),
        ("[lethality]", "[accuracy]\ntemperature_K = 0.1\nplace_mm = 0.4\n\n[lethality]\nreach_C = [100, 110]"),
        text=SMALL,
    ),
    "brick": changed((SHAPE, "brick_mm = [165, 95, 80]"), text=SMALL),
    "stem": SMALL + PROBED,
    "logger": SMALL + LOGGER,
    "side": changed(
        ('entry = "lid"', 'entry = "side"\nz_mm = 50.0'),
        ("fitting = {", "gap = { thickness_mm = 0.05, material = \"water\" }\nfitting = { hole_mm = 8.0,"),
        text=SMALL + STEM,
    ),
    "record": recorded(("cooling_starts_min", "thin_K = 0.05\ncooling_starts_min")),
    "study": SMALL + STEM + '\n[study]\nkind = "tornado"\nrecommend_depth = true\ntip_tolerance_mm = 1.0\n'
    'vary = [{ key = "lethality.target_min", low = 5.0, high = 7.0 }]\n',
}  # fmt: skip
RECORD = "time [min],medium\n" + "\n".join(f"{k},{min(40 + 4 * k, 118) if k < 60 else 30}" for k in range(80))


def read(tables):
    return case_from_tables(tables, text="", name="jar.toml", attachments={"retort.csv": RECORD})


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("every", [1, 2])
def test_a_case_in_the_other_units_is_the_same_case(name, every):
    tables = tomllib.loads(CASES[name])
    same(read(tables), read(converted(tables, set(), every=every)))


def test_every_key_with_a_unit_that_the_other_system_has_is_among_them():
    seen = set()
    for text in CASES.values():
        converted(tomllib.loads(text), seen)
    wanted = {(table, key.name) for table, keys in TABLES.items() for key in keys if key.others}
    # of each surface its film is given under a key that carries the unit
    assert wanted <= {*seen, ("probe", "z_mm"), ("container.wall", "thickness_mm")}, wanted - seen
    for table, keys in TABLES.items():
        for key in keys:
            units = {"mm", "degC", "K", "g", "ml", "kPa", "Pa s"} | {"W/mK", "kg/m3", "J/kgK", "W/m2K", "m2K/W"}
            if key.unit in units and table != "film":
                assert key.others and key.others[0].name == other_key(key.name)[0], (table, key.name)
            else:
                assert not key.others or table == "film", (table, key.name)


def test_the_mass_may_be_in_ounces_too():
    case = case_from_text(changed((HEAD, "mass_oz = 12.0"), text=SMALL))
    assert_allclose(case.product_volume * 1050.0, 0.75 * POUND, rtol=1e-12)


def test_numbers_with_few_decimals_stay_what_they_are_meant_to_be():
    case = case_from_text(changed((SHAPE, "inner_diameter_in = 2.5\ninner_height_in = 4.5"), text=SMALL))
    assert (2 * case.container.profile.widest, case.container.inner_height) == (0.0635, 0.1143)
    text = changed(("reference_C = 121.1\nz_C = 10.0", "reference_F = 250\nz_F = 18"), text=SMALL)
    assert (case_from_text(text).lethality.z, case_from_text(text).lethality.reference) == (10.0, 121.111111111111)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        (
            SHAPE,
            f"{SHAPE}\ninner_diameter_in = 2.6",
            "[container]: inner_diameter_mm = 66.0 and inner_diameter_in = 2.6 are given together; give one of them",
        ),
        (
            HEAD,
            "mass_lb = 0.7\nmass_oz = 12",
            "[fill]: mass_lb = 0.7 and mass_oz = 12 are given together; give one of them",
        ),
        (
            SHAPE,
            "inner_diameter_in = 0.1\ninner_height_in = 4.5",
            "[container]: inner_diameter_in = 0.1 must be at least 0.11811 and at most 78.7402 in",
        ),
        (
            SHAPE,
            "inner_diameter_in = 82\ninner_height_in = 4.5",
            "[container]: inner_diameter_in = 82 must be at least 0.11811 and at most 78.7402 in; did you mean "
            "inner_diameter_mm?",
        ),
        (
            SHAPE,
            "inner_diameter_in = 2.6\nouter_diameter_in = 2.6\ninner_height_in = 4.5",
            "[container]: inner_diameter_mm = 66.04 (written inner_diameter_in = 2.6) and outer_diameter_mm = 66.04 "
            "(written outer_diameter_in = 2.6) contradict each other: the outside less 3 mm of side leaves 60.04 mm "
            "inside, not 66.04 mm; correct one of them or leave it out",
        ),
        (SHAPE, "inner_diameter_inch = 2.6\ninner_height_in = 4.5", '[container]: unknown key "inner_diameter_inch"; '
         'did you mean "inner_diameter_in"?'),
        (
            "film_W_m2K = 450",
            "film_Btu_hft2F = { side = -80, base = 80, lid = 80 }",
            "[[process.stage]] no. 1 film_W_m2K: side = -454.261 (written film_Btu_hft2F.side = -80) must be above 0 "
            "W/m2K",
        ),
        (
            SHAPE,
            "profile_in = [[0, 1.3], [4, 0], [4.5, 1]]",
            "[container]: profile_mm: point 2 = [101.6, 0.0] (written [4, 0]) has no radius above 0; only the first "
            "and the last point may lie on the axis",
        ),
    ],
)  # fmt: skip
def test_a_slip_in_the_other_units_is_told_as_it_is_written(old, new, fault):
    assert old in SMALL
    assert [line for line in faults_of(changed((old, new), text=SMALL)) if "headspace" not in line][0] == (
        f"jar.toml {fault}"
    )


def test_tables_over_temperature_under_the_other_key_are_in_degrees_fahrenheit_and_that_is_said():
    tables = converted(tomllib.loads(CASES["punt, tables"]), set())
    notes = [note for note in read(tables).notes if "taken in degF" in note]
    assert len(notes) == 4
    assert re.search(r'^\[materials."dense paste"\]: conductivity_Btu_hftF = .*: the table\'s temperatures', notes[0])


def test_a_study_varies_a_number_in_the_unit_it_is_written_in():
    tables = tomllib.loads(changed((HEAD, "headspace_in = 0.5"), text=SMALL))
    place = place_of(tables, "fill.headspace_in")
    assert (place.unit, place.value) == ("in", 0.5)
    # one that is left out may be varied in either, one that stands there in its own alone
    assert [place_of(tables, f"container.side.contact_{end}").unit for end in ("m2K_W", "hft2F_Btu")] == [
        "m2K/W",
        "hft2F/Btu",
    ]
    with pytest.raises(InputError, match='did you mean "fill.headspace_in"'):
        place_of(tables, "fill.headspace_mm")
