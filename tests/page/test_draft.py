"""The case under edit: its text is read back as it was, typed values are what they say, faults find their place.

Rung: hand-worked.
"""

from pathlib import Path

import pytest

from thermsim.case.keys.syntax import parsed
from thermsim.case.keys.tables import TABLES
from thermsim.errors import CaseError
from thermsim.page.draft import Draft, draft_of_bytes, draft_of_text, said_of, shown, toml_text, typed, where_of
from thermsim.page.units import system_of, tables_in

HERE = Path(__file__).parents[2] / "cases"
CASES = sorted(HERE.glob("*.toml"))


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_a_case_is_written_as_it_was_read(path):
    tables = parsed(path.read_text("utf-8"), "case.toml")
    assert parsed(toml_text(tables), "case.toml") == tables


@pytest.mark.parametrize(
    "tables",
    [
        {"title": 'a "quoted" \\ name\n\t\x7f\x01 \u00fc'},
        {"materials": {'x "y".z': {"density_kg_m3": 1e-7}, "": {"a": 1}}},
        {"process": {"film_W_m2K": {"side": float("inf"), "base": 3, "lid": 0.1}, "stage": [{"name": "hold"}, {}]}},
        {"probes": [{"segments": [{"diameter_mm": 3, "spacer": True}], "gap": {}}]},
        {"container": {"profile_mm": [[0, 33.0], [80, 26]], "side": {}}, "lethality": {"reach_C": []}},
    ],
)
def test_any_tables_are_written_so_that_they_are_read_back(tables):
    assert parsed(toml_text(tables), "case.toml") == tables


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("", None),
        (" 12 ", 12),
        ("12.50", 12.5),
        ("inf", float("inf")),
        ("60, 80.5", [60, 80.5]),
        ("60,", [60]),
        ("0, 33; 80, 26", [[0, 33], [80, 26]]),
        ("side 450, base inf", {"side": 450, "base": float("inf")}),
        ("12,5", "12,5"),
        ("wide", "wide"),
    ],
)
def test_what_is_typed_is_the_value_it_says_and_is_shown_so_again(words, value):
    assert typed(words) == value
    assert typed(shown(value)) == value


def test_a_list_of_one_is_a_list_where_lists_are_wanted():
    assert typed("60", listed=True) == [60]
    assert typed("60,80", listed=True) == [60, 80]


def test_changes_make_other_drafts_and_leave_the_first():
    draft = draft_of_text("format = 1 # the first\n[fill]\nheadspace_mm = 12.0\n", "a.toml")
    assert draft.with_value(("fill", "headspace_mm"), 12) is draft
    changed = draft.with_value(("fill", "headspace_mm"), 13)
    assert (draft.text, changed.tables["fill"]) == (draft.original, {"headspace_mm": 13})
    assert "first" in draft.text and "first" not in changed.text
    assert "headspace_mm" not in changed.with_blank(("fill", "headspace_mm")).text
    assert changed.with_value(("fill", "headspace_mm"), None).tables["fill"] == {}


def test_a_material_is_renamed_wherever_it_is_named():
    draft = Draft({"materials": {"a": {}, "b": {}}, "product": {"material": "a"}, "title": "a"})
    renamed = draft.with_name(("materials",), "a", "c")
    assert renamed.tables == {"materials": {"c": {}, "b": {}}, "product": {"material": "c"}, "title": "a"}
    assert draft.with_name(("materials",), "a", "b") is draft


@pytest.mark.parametrize(
    ("trail", "where"),
    [
        (("fill",), "[fill]"),
        (("container", "side"), "[container] side"),
        (("process", "stage", 1), "[[process.stage]] no. 2"),
        (("process", "film_W_m2K"), "[process] film_W_m2K"),
        (("probe", "segments", 0), "[probe] segments no. 1"),
        (("probes", 1, "fitting"), "[[probes]] no. 2 fitting"),
        (("materials", "a b"), '[materials."a b"]'),
    ],
)
def test_places_are_called_as_the_reader_calls_them(trail, where):
    assert where_of(trail) == where


def test_every_fault_of_a_broken_case_keeps_its_words_and_names_a_table():
    draft = draft_of_text("format = 1\n[fill]\nheadspace_mm = 'x'\n[materials.'a: b']\ndensity_kg_m3 = 0\n", "a.toml")
    with pytest.raises(CaseError) as raised:
        draft.case()
    said = said_of(raised.value, "a.toml")
    assert len(said) == len(raised.value.faults) > 5
    assert {one.key for one in said if one.where == "[fill]"} == {"headspace_mm"}
    assert {one.key for one in said if one.where == '[materials."a: b"]'} >= {"density_kg_m3", "conductivity_W_mK"}
    for one, line in zip(said, raised.value.faults, strict=True):
        assert line.endswith(one.text)


def test_too_large_a_file_and_one_that_is_no_text_are_refused():
    with pytest.raises(CaseError, match="too large"):
        draft_of_bytes(b"#" * 1_000_001, "a.toml")
    with pytest.raises(ValueError, match="NUL"):
        draft_of_bytes(b"a\0b", "a.toml")


def test_every_key_of_the_format_has_a_field():
    """A new key appears by itself: the fields of a table are those of its key table."""
    from thermsim.page.form.fields import fields_of

    for table, keys in TABLES.items():
        names = {field.key.name for field in fields_of(Draft({}), table, ("x",))}
        logged = {field.key.name for field in fields_of(Draft({"x": {"csv": "a.csv"}}), table, ("x",))}
        assert names | logged == {key.name for key in keys}


def test_labels_units_choices_and_blanks_come_from_the_key_tables():
    from thermsim.page.form.fields import fields_of

    fields = {field.key.name: field for field in fields_of(Draft({}), "container", ("container",))}
    assert fields["inner_height_mm"].label == "inner height" and fields["inner_height_mm"].unit == "mm"
    assert fields["base_rise_form"].choices == ("dome", "cone") and fields["size"].kind == "text"
    assert fields["seam_allowance_mm"].blank == "3"
    stage = {field.key.name: field for field in fields_of(Draft({}), "process.stage", ("process", "stage", 0))}
    assert stage["name"].choices == ("come-up", "hold", "cool") and stage["film_W_m2K"].unit == "W/m²K"
    assert "condensing steam" in stage["medium"].choices
    product = {
        field.key.name: field for field in fields_of(Draft({"materials": {"my": {}}}), "product", ("product",))
    }
    assert product["material"].choices[0] == "my" and "tinplate" in product["material"].choices
    assert product["composition"].choices[:2] == ("water", "protein")


def test_a_table_that_is_added_begins_with_what_it_needs():
    from thermsim.page.form.samples import sample

    assert sample("probe").keys() == {"entry", "mount", "segments", "sensing_mm", "name"}
    assert sample("stock")["probe_lengths_mm"] == [60.0, 80.0, 94.0, 120.0]
    assert sample("container.wall") == {"material": "tinplate", "thickness_mm": 0.2}


def test_a_key_shows_what_the_starting_case_says_of_it_be_it_in_a_comment():
    from thermsim.page.form.samples import example

    assert example("container", "inner_height_mm") == 105.0
    assert example("container", "brick_mm") == [165.0, 95.0, 64.0]
    assert example("container", "headspace_mm") is None and example("no such table", "inner_height_mm") is None


def test_a_case_is_seen_in_either_system_of_units_and_stays_as_it_was_written():
    text = (HERE / "can_inches.toml").read_text("utf-8")
    draft = draft_of_text(text, "can_inches.toml")
    assert draft.text == text and system_of(draft.tables) == "us"
    metric, us = draft.seen("metric"), draft.seen("us")
    assert metric.value(("container", "diameter_over_seams_mm")) == 2.6875 * 25.4
    assert metric.value(("process", "stage", 0, "to_C")) == pytest.approx((250 - 32) / 1.8, rel=1e-12)
    assert metric.value(("probe", "segments", 0, "diameter_mm")) == 0.0625 * 25.4
    assert us.value(("container", "diameter_over_seams_in")) == 2.6875
    # the same case, to the digits that a file holds
    case = draft.case()
    for other in (metric.case(), us.case()):
        assert case.container.profile.widest == pytest.approx(other.container.profile.widest, rel=1e-13)
        assert case.process.medium_range == pytest.approx(other.process.medium_range, rel=1e-13)
        assert case.lethality.z == pytest.approx(other.lethality.z, rel=1e-13)


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_number_goes_to_the_other_units_and_back(path):
    tables = tables_in(parsed(path.read_text("utf-8"), "case.toml"), "metric")
    there = tables_in(tables, "us")

    def numbers(node):
        if isinstance(node, dict | list):
            for one in node.values() if isinstance(node, dict) else node:
                yield from numbers(one)
        elif isinstance(node, float | int):
            yield node

    back = tables_in(there, "metric")
    assert list(numbers(back)) == pytest.approx(list(numbers(tables)), rel=1e-12)
    assert list(numbers(there)) != list(numbers(tables))


def test_a_table_over_temperature_goes_over_with_its_temperatures():
    tables = {"materials": {"a": {"conductivity_W_mK": [[20, 0.5], [100, 0.6]]}}}
    (first, _), (_, last) = tables_in(tables, "us")["materials"]["a"]["conductivity_Btu_hftF"]
    assert (first, last) == (68.0, pytest.approx(0.6 / 1.730735, rel=1e-6))


def test_a_value_set_in_another_unit_takes_the_place_of_the_first():
    draft = Draft({"fill": {"headspace_mm": 12.0}}).with_value(("fill", "headspace_in"), 0.5)
    assert draft.tables == {"fill": {"headspace_in": 0.5}}
    assert draft.with_value(("fill", "headspace_mm"), None).tables == {"fill": {}}
    # what was converted is shown as long as it is worth showing
    assert shown(Draft({"fill": {"headspace_mm": 12.0}}).seen("us").value(("fill", "headspace_in"))) == "0.4724409"
    fault = said_of(CaseError(["a.toml [fill]: headspace_in = -1 is below 0"]), "a.toml")
    assert (fault[0].where, fault[0].key) == ("[fill]", "headspace_mm")
