import math
import re

import pytest
from numpy.testing import assert_allclose

from thermsim import case_from_text, find_material
from thermsim.case.keys.key import Key
from thermsim.case.keys.tables import CONTENTS, CSV_ONLY, HEADINGS, TABLES, keys_of
from thermsim.case.keys.template import TOP, allowed_range, key_table, starting_case, table_list
from thermsim.case.profile import Rise
from thermsim.errors import InputError
from thermsim.physics.gap import GasGap


def test_the_starting_case_is_valid_as_it_stands():
    case = case_from_text(starting_case())
    assert case.title == "New case"
    assert case.process.hold == 1


def test_the_starting_case_in_inches_is_the_metric_one_to_four_digits():
    text, metric = starting_case("us"), case_from_text(starting_case())
    case = case_from_text(text)
    names = {key.name: key for keys in TABLES.values() for key in keys}
    assert not [name for name, key in names.items() if key.others and re.search(rf"\b{name}\b", text)]
    assert not [name for name, key in names.items() if not re.search(rf"\b{(key.others or (key,))[0].name}\b", text)]
    material, other = case.product.material, metric.product.material
    assert_allclose(
        [
            case.container.inner_height, case.container.profile.widest, case.container.walls["lid"].thickness,
            case.fill_height, case.points[0].z, material.conductivity, material.density, material.specific_heat,
            *(stage.film.side for stage in case.process.stages), case.lethality.z, case.process.end,
        ],
        [
            metric.container.inner_height, metric.container.profile.widest, metric.container.walls["lid"].thickness,
            metric.fill_height, metric.points[0].z, other.conductivity, other.density, other.specific_heat,
            *(stage.film.side for stage in metric.process.stages), metric.lethality.z, metric.process.end,
        ],
        rtol=5e-4,
    )  # fmt: skip
    assert_allclose(
        [case.product.initial, case.lethality.reference, *case.process.medium_range],
        [metric.product.initial, metric.lethality.reference, *metric.process.medium_range],
        atol=0.03,
    )
    assert case.notes == metric.notes
    # what is behind a sign, what has a second number in degF, and differences beside a mean
    for piece in (
        "# film_Btu_hft2F = { side = 352.2, base = 88.06, lid = 352.2, probe = 140.9 }",
        "# viscosity_cP = 50000 ",
        "viscosity_cP = [[68, 80000], [248, 20000]]: temperature in degF",
        '{ key = "fill.headspace_in", low = 0.315, high = 0.6299 }',
        "mean = 0.4724, deviation = 0.03937, and low",
        "# profile_in = [[0, 1.299], [3.15, 1.299], [3.74, 1.024], [4.134, 1.024]]  #",
        "temperature_F = 0.09",
        "# reach_F = [212, 239]",
    ):
        assert piece in text, piece


def test_the_starting_case_names_every_key():
    for table, keys in TABLES.items():
        for key in keys:
            assert re.search(rf"(?m)^\s*(# )?(\[\[process\.)?[^#]*\b{key.name}\b", starting_case()), (table, key.name)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_every_commented_line_of_the_starting_case_may_be_switched_on(system):
    others = (
        "height_(mm|in)|fraction|mass_|volume_|profile_|size|brick_|composition|mixing_rule|"
        "emissivity|sealed|pressure|lid_wet|viscosity|thickness|medium"
    )
    text = re.sub(
        rf'(?m)^# (?!{others}|csv|cooling|film|thin|material)(\[*[\w"]+(\]| =))', r"\2", starting_case(system)
    )
    case = case_from_text(text)
    rise = case.container.rise
    assert isinstance(rise, Rise) and rise.form == "dome"
    assert_allclose(
        [rise.height, rise.diameter, case.accuracy.place, *case.stock.travel],
        [0.006, 0.060, 0.0005, 0.015, 0.045], rtol=5e-4,
    )  # fmt: skip
    assert case.container.initial == pytest.approx(20.0) and case.lethality.reach == pytest.approx((100.0, 115.0))
    assert [probe.name for probe in case.probes] == ["thin stem"]


@pytest.mark.parametrize(
    ("key", "height_mm", "widest_mm"),
    # size: 3 7/16 in less 3 mm and 4 9/16 in less 8 mm; brick: the diagonal of 165 and 95 mm
    [("profile_mm", 105.0, 66.0), ("size", 107.8875, 84.3125), ("brick_mm", 64.0, math.hypot(165, 95))],
)
def test_each_other_way_of_giving_the_shape_may_be_switched_on_alone(key, height_mm, widest_mm):
    text = re.sub(r"(?m)^inner_.*\n", "", starting_case())
    text = re.sub(rf"(?m)^# ({key} = )", r"\1", text).replace("z_mm = 52.7", "z_mm = 30")
    profile = case_from_text(text).container.profile
    assert_allclose([profile.height, 2 * profile.widest], [height_mm / 1000, widest_mm / 1000], rtol=1e-12)


def test_a_headspace_of_gas_and_a_composition_may_be_switched_on():
    text = re.sub(r"(?m)^# (pressure|lid_wet|composition|mixing_rule)", r"\1", starting_case())
    case = case_from_text(text.replace('material = "my product"\n', "", 1))
    thickness = case.headspace.gap.thickness
    assert_allclose(thickness, 0.008, rtol=1e-12)
    assert case.headspace.gap == GasGap("humid", thickness, 0.92, 0.85, 101325.0, 60.0, lid_wet=False)
    assert case.headspace.material.tabulated.downwards
    assert case.product.composition.water == 0.72
    assert case.product.material.tabulated is not None


def test_the_probe_of_the_starting_case_may_be_switched_on_alone():
    text = starting_case()
    start, end = text.index("# [probe]"), text.index("# ---- Further probes")
    block = re.sub(r"(?m)^# (\[probe\]|\w+ = )", r"\1", text[start:end])
    case = case_from_text(text[:start] + block + text[end:])
    assert (case.probe.name, case.probe.insertion, case.probe.film) == ("steel stem", 0.054, 2000.0)
    assert case.probe.gap.material == find_material("water")
    assert case.stock is None
    shown = {line.split(" = ")[0] for line in block.splitlines() if line[:1].isalpha()}
    assert shown == set(keys_of("probe")) - {"z_mm", "edge"}  # which belong to the side alone
    assert "#     z_mm = " in block


def test_the_key_tables_name_every_key_with_its_unit_and_meaning():
    for table, keys in TABLES.items():
        shown = key_table(table or TOP)
        words = shown.split()
        for key in keys:
            row = re.search(rf"(?m)^  {key.name} .*$", shown).group()
            assert f" {key.unit} " in row, (table, key.name)
            assert set(key.meaning.split()) <= set(words), (table, key.name)


@pytest.mark.parametrize(
    ("table", "row"),
    [
        ("materials", "density_kg_m3 kg/m3 above 0 to 25000 required density; or a table likewise"),
        ("accuracy", "place_mm mm 0.005 to 50 0.5 numerical uncertainty allowed in places"),
        ("film", "lid W/m2K above 0, or inf required heat-transfer coefficient at the lid"),
        ("lethality", "target_min min above 0 none lethality that is wanted"),
        ("points", "name required a name of its own"),
    ],
)
def test_a_row_of_the_key_table_holds_unit_range_default_and_meaning(table, row):
    assert row in [" ".join(line.split()) for line in key_table(table).splitlines()]


def test_a_long_meaning_goes_on_in_its_own_column_and_no_line_is_too_wide_for_a_screen():
    lines = key_table("probe").splitlines()
    number = next(n for n, line in enumerate(lines) if line.startswith("  insertion_mm"))
    below = lines[number + 1]
    assert below.split(maxsplit=2) == ["or", "insertion_in", "through only"]
    assert below.index("through only") == lines[number].index("outer face") == lines[1].index("meaning")
    assert max(len(line) for table in HEADINGS for line in key_table(table or TOP).splitlines()) <= 118


def test_a_number_is_shown_with_the_range_that_the_reader_holds_it_to():
    low = Key("low", "", "", low=-2.5)
    assert [
        allowed_range(key) for key in (low, Key("any", "", ""), Key("top", "", "", high=1e7, low=0, above=True))
    ] == ["-2.5 or more", "", "above 0 to 10000000"]


def test_each_table_is_listed_on_one_line_and_found_by_that_name_or_by_its_heading():
    lines = table_list().splitlines()
    assert len(lines) == len(TABLES)
    for line, (table, heading) in zip(lines, HEADINGS.items(), strict=True):
        assert f" {heading} " in line
        assert line.endswith(f" {CONTENTS[table]}")
        assert key_table(line.split()[0]).startswith(f"{heading}: {CONTENTS[table]}\n")
    assert key_table("[[process.stage]]") == key_table("process.stage")


def test_an_unknown_table_of_keys_is_refused_with_the_nearest_name():
    with pytest.raises(InputError, match=r'^"prob" is no table of a case file; did you mean "probe"\?$'):
        key_table("prob")
    with pytest.raises(InputError, match=r"allowed here: top, container, .*, study\.vary$"):
        key_table("\n")


def test_every_table_of_keys_has_a_heading_and_no_key_twice():
    assert list(HEADINGS) == list(CONTENTS) == list(TABLES)
    for table, keys in TABLES.items():
        assert len(keys_of(table)) == len(keys)
    assert set(CSV_ONLY) < set(keys_of("process"))


def test_a_number_without_a_unit_in_its_name_is_a_mere_number():
    # `minutes` is its own unit, and film coefficients in { side, base, lid } stand under a key with the unit
    bounded = {key.name for keys in TABLES.values() for key in keys if math.isfinite(key.low) and not key.unit}
    counts, parts = {"samples", "seed", "steps", "most_spacers"}, {"fraction", "emissivity_product", "emissivity_lid"}
    # these are in the unit of the key that is varied, or in none
    of_study = {"deviation", "weights"}
    assert bounded == counts | parts | of_study
    assert {key.name: key.unit for key in TABLES["process.stage"]}["minutes"] == "min"
    assert {key.unit for key in TABLES["film"]} == {"W/m2K"}
