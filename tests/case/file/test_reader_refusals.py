import re
import tomllib
from pathlib import Path

import pytest
from small_case import SMALL, changed, faults_of

from thermsim import case_from_text, read_case
from thermsim.errors import CaseError

REFUSALS = [
    refusal
    for name in ("refused_cases.toml", "refused_products.toml")
    for refusal in tomllib.loads(Path(__file__).with_name(name).read_text("utf-8"))["refusal"]
]


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal["new"][-40:])
def test_one_fault_gives_one_clear_line(refusal):
    assert faults_of(changed((refusal["old"], refusal["new"]))) == [refusal["fault"]]


def test_every_fault_is_reported_at_once():
    text = changed(
        ("inner_diameter_mm = 66.0", "inner_diameter_mm = -66"),
        ('"tinplate"', '"tinplat"'),
        ("headspace_mm = 12.0", "mass_g = 1e9"),
        ("minutes = 12", 'minutes = "12"'),
        ("z_C = 10.0", ""),
    )
    found = faults_of(text)
    assert len(found) == 5
    assert [re.search(r"inner_diameter|tinplat|mass_g|minutes|z_C", fault).group() for fault in found] == [
        "inner_diameter",
        "tinplat",
        "mass_g",
        "minutes",
        "z_C",
    ]


def test_the_message_of_the_error_is_all_faults_line_by_line():
    with pytest.raises(CaseError, match=r"(?s)\Acase\.toml: .*\ncase\.toml: ") as refused:
        case_from_text("")
    assert str(refused.value).split("\n") == list(refused.value.faults)


def test_an_empty_file_is_told_every_table_it_needs():
    assert [fault.split(";")[0] for fault in faults_of("")] == [
        'jar.toml: key "format" is missing',
        'jar.toml: key "title" is missing: what the case is about, one line',
        "jar.toml: table [container] is missing",
        "jar.toml: table [product] is missing",
        "jar.toml: table [fill] is missing",
        "jar.toml: table [process] is missing",
        "jar.toml: table [lethality] is missing",
    ]


def test_a_process_that_begins_with_cooling_is_refused():
    text = changed(('name = "come-up"', 'name = "cool"'), ('name = "hold"', 'name = "cool"'))
    assert faults_of(text) == ["jar.toml [process]: the process begins with cooling; a come-up or a hold comes first"]


def test_a_process_without_stages_is_refused():
    start, end = SMALL.index("[[process.stage]]"), SMALL.index("[lethality]")
    assert faults_of(SMALL[:start] + SMALL[end:]) == [
        'jar.toml [process]: key "stage" is missing (or csv): the stages in order, [[process.stage]]'
    ]
    assert faults_of(SMALL[:start] + "stage = []\n" + SMALL[end:]) == [
        "jar.toml [process]: stage = [] holds no stage; at least one is needed"
    ]


@pytest.mark.parametrize(("old", "new", "hint"), [
    ("thickness_mm = 5.0 }", "thickness_mm = 5.0, }", "no comma before }"),
    ("thickness_mm = 5.0 }", "\nthickness_mm = 5.0 }", "{ ... } stands on one line"),
    ("inner_height_mm = 113.0", 'inner_height_mm = 113.0"', "write the number alone; the unit is in the key"),
    ('title = "Small"', 'title = "Small, 3 3/16" wide"', 'a " within a text is written \\"'),
    ("z_C = 10.0", "z_C = 10.0, target_min = 6", "each key stands on a line of its own"),
    ("z_C = 10.0", "z_C = 10.0\nreach_C = [100; 110]", "commas part the numbers of a list"),
    ("[process]", "[process]\nstage = [\n{ minutes = 5 }\n{ minutes = 9 }]", "a comma is missing at the end"),
])  # fmt: skip
def test_a_slip_of_the_hand_in_what_is_no_toml_is_named(old, new, hint):
    (fault,) = faults_of(changed((old, new)))
    assert "is not valid TOML" in fault and f"; {hint}" in fault


@pytest.mark.parametrize(("old", "new", "instead"), [
    ("headspace_mm = 12.0", "weight_g = 380", "write mass_g"),
    ("inner_diameter_mm = 66.0", "outer_radius_in = 1.4", "write a diameter, twice the radius"),
    ("inner_diameter_mm = 66.0", "girth_mm = 226", "what is measured round the body over 3.1416"),
    ("z_C = 10.0", "z_C = 10.0\nF0 = 6", "write target_min"),
    ("minutes = 75", "hours = 1.25", "write minutes"),
])  # fmt: skip
def test_what_is_measured_otherwise_is_told_how_it_is_given(old, new, instead):
    """It is not taken for a key that looks alike, nor missed besides."""
    (fault,) = faults_of(changed((old, new)))
    assert "unknown key" in fault and instead in fault


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (
            ("inner_diameter_mm = 66.0", "inner_diameter_mm = 66,0"),
            r"jar\.toml line 5: is not valid TOML: .*; decimals take a point: inner_diameter_mm = 66,0",
        ),
        (
            ('material = "dense paste"', "material = dense paste"),
            r"jar\.toml line 17: is not valid TOML: .*; texts are written in quotes, .*: material = dense paste",
        ),
        (
            ("z_C = 10.0", "z_C = 10.0\nreach_C = [100.0, 110.0 # ]"),
            r"jar\.toml line 49: .* a bracket \[ is opened here and never closed: reach_C = \[100\.0, 110\.0 # \]",
        ),
        (
            ("inner_height_mm = 113.0", "inner_height_mm = [[1, 2], [113.0"),
            r"jar\.toml line 6: .* a bracket \[ is opened here and never closed: inner_height_mm = .*",
        ),
        (("[fill]", "[fill"), r"jar\.toml line 20: is not valid TOML: .*: \[fill"),
        (("z_mm = 59.0", 'z_mm = "59'), r"jar\.toml.*: is not valid TOML: .*"),
        (("z_mm = 59.0", "z_mm = " + "[" * 5000), r"jar\.toml: is not valid TOML: brackets are nested too deeply"),
        (("z_mm = 59.0", "z_mm = " + "9" * 5000), r"jar\.toml: is not valid TOML: .*digits.*"),
        (
            ("inner_height_mm = 113.0", "inner_height_mm = 95 mm"),
            r"jar\.toml line 6: is not valid TOML: .*; write the number alone; the unit is in the key: inner_.*",
        ),
        (
            ("thickness_mm = 5.0", "thickness_mm = 5.0 mm"),
            r"jar\.toml line 8: is not valid TOML: .*; write the number alone; the unit is in the key: base = .*",
        ),
        (
            ("z_C = 10.0", "z_C = 10.0\nz_C = 9"),
            r"jar\.toml line 49: z_C is given twice; one of them must go: z_C = 9",
        ),
        (
            ("thickness_mm = 5.0", "thickness_mm = 5.0, thickness_mm = 4"),
            r"jar\.toml line 8: thickness_mm is given twice; one of them must go: base = .*",
        ),
        (
            ("[[points]]", "[fill]\nheadspace_mm = 3\n[[points]]"),
            r"jar\.toml line 50: \[fill\] is given twice; one of them must go: \[fill\]",
        ),
        (
            ("[[process.stage]]", "[process.stage]"),
            r"jar\.toml line 35: .*has single brackets: \[\[process\.stage\]\]",
        ),
    ],
)
def test_text_that_is_no_toml_is_one_line_with_its_place(change, fault):
    (found,) = faults_of(changed(change))
    assert re.fullmatch(fault, found)


@pytest.mark.parametrize(("line", "hint"), [
    ("minutes = 01:15", "a time is a number of minutes, such as 70.5"),
    ("inner_height_mm = 4 7/16", "fractions are written as decimals, such as 1.875"),
    ("density_kg_m3 = 1 050", "a number is written without blanks"),
    ('title = "Small', 'a text ends with ", too'),
    ("title = “Small”", 'texts take straight quotes, "..."'),
    ("initial_C = 40.0 // hot", "remarks begin with #"), ("initial_C = 40.0 ; hot", "remarks begin with #"),
    ('material = "dense paste" ; own', "remarks begin with #"),
])  # fmt: skip
def test_a_slip_of_the_pen_that_is_no_toml_is_named(line, hint):
    (found,) = faults_of(re.sub(rf"(?m)^{line.split(' = ')[0]} = .*$", line, SMALL, count=1))
    assert found.endswith(f"; {hint}: {line}")


@pytest.mark.parametrize(("old", "new", "fault"), [
    ("thickness_mm = 3.0", 'thickness_mm = "3,0 mm"', "3.0, without quotes; its unit is in the key"),
    # an hour is no minute, and an inch no millimetre
    ("minutes = 75", 'minutes = "1.25 h"', 'minutes = "1.25 h" is not a number; write the number in min, without q'),
    ("minutes = 75", 'minutes = "75 minutes"', "write 75, without quotes; its unit is in the key"),
    ("thickness_mm = 3.0", 'thickness_mm = "0.12 in"', "is not a number; write the number in mm, without quotes"),
    ("thickness_mm = 3.0", 'thickness_in = "0.12 in"', "write 0.12, without quotes; its unit is in the key"),
    ("initial_C = 40.0", 'initial_C = "40 °C"', "write 40, without quotes; its unit is in the key"),
    ("inner_height_mm = 113.0", 'inner_height_in = "4 7/16"', '_in = "4 7/16" is not a number; write 4.4375: deci'),
    ("initial_C = 40.0", "initial_C = [40.0]", "is not a number; write 40, without brackets"),
    ("headspace_mm = 12.0", "headspace_ml = 40", '"headspace_ml"; write headspace_mm or headspace_in, with the n'),
    ("z_C = 10.0", "z_C = 10.0\ntarget_s = 300", 'unknown key "target_s"; write target_min, with the number in that'),
    ('"dense paste"\ni', '"dense paste"\nviscosity_mPas = 900\ni', "write viscosity_Pa_s or viscosity_cP, with the"),
    ("z_C = 10.0", "z_K = 10.0", 'unknown key "z_K"; did you mean "z_C"?'),
    ("initial_C", "initial_degF", 'did you mean "initial_F"?'),
    ("initial_C", "initial_K", "write initial_C or initial_F, with"),
    ('"tinplate"', '"pewter"', 'One of your own takes [materials."pewter"] with its numbers'),
])  # fmt: skip
def test_a_number_that_is_none_or_under_a_key_of_another_unit_is_told_how_to_stand(old, new, fault):
    """A key that differs in its unit alone is not offered in place of what was written: the number would be wrong."""
    found = faults_of(changed((old, new)))
    assert any(fault in one for one in found), found


@pytest.mark.parametrize(("every", "allowed"), [("0.0535", True), ("0.0534", False), ("1.78", True), ("1.79", False)])
def test_the_limit_that_is_told_for_the_output_step_is_itself_allowed(every, allowed):
    text = changed(("[lethality]", f"[output]\nevery_min = {every}\n[lethality]"))
    if allowed:
        assert case_from_text(text).output_every == pytest.approx(60 * float(every), rel=1e-12)
    else:
        assert len(faults_of(text)) == 1


def test_a_limit_for_the_output_step_is_rounded_to_the_side_on_which_it_is_kept():
    # 112 min / 2000 = 0.056; 113 / 2000 = 0.0565; 113.1 / 2000 = 0.05655, told as 0.0566
    text = changed(("minutes = 75", "minutes = 81.1"), ("[lethality]", "[output]\nevery_min = 0.05654\n[lethality]"))
    assert faults_of(text) == [
        "jar.toml [output]: every_min = 0.05654 asks for more than 2000 times; in a process of 113.1 min it must be "
        "at least 0.0566 min"
    ]


def test_films_missing_in_all_stages_are_one_line():
    text = "\n".join(line for line in SMALL.splitlines() if not line.startswith("film_W_m2K"))
    (fault,) = faults_of(text)
    assert fault.startswith(
        'jar.toml [process]: key "film_W_m2K" is missing (or medium), here and in [[process.stage]] no. 1, 2 and 3: '
    )


@pytest.mark.parametrize("typed", ["jra.toml", "jar.tml", "jar"])
def test_a_misspelt_file_name_offers_the_one_that_is_there(tmp_path, typed):
    for name in ("jar.csv", "jar.toml"):
        (tmp_path / name).write_text(SMALL)
    with pytest.raises(CaseError, match=rf'{re.escape(typed)}: no such file; did you mean "jar\.toml"\?'):
        read_case(tmp_path / typed)
    with pytest.raises(CaseError, match=r"other\.toml: no such file$"):  # of which but the ending is alike
        read_case(tmp_path / "other.toml")


def test_a_folder_is_no_case_file(tmp_path):
    with pytest.raises(CaseError, match="is a folder, not a case file"):
        read_case(tmp_path)


def test_a_device_is_no_case_file():
    with pytest.raises(CaseError, match="/dev/zero: is not an ordinary file; a case file is wanted"):
        read_case("/dev/zero")


def test_an_impossible_path_is_one_line():
    with pytest.raises(CaseError, match="cannot be read: embedded null byte"):
        read_case("a\0b.toml")


def test_a_binary_file_is_no_case_file(tmp_path):
    path = tmp_path / "jar.toml"
    path.write_bytes(b"\x7fELF\0\0")
    with pytest.raises(CaseError, match=r"jar\.toml: is not a text file \(it holds NUL bytes\)"):
        read_case(path)


def test_another_encoding_is_refused_with_the_line(tmp_path):
    path = tmp_path / "jar.toml"
    path.write_bytes(SMALL.replace("Small", "Glas f\u00fcr Mus").encode("latin-1"))
    with pytest.raises(CaseError, match=r"jar\.toml line 2: is not text in UTF-8; save the file in that encoding"):
        read_case(path)


def test_a_file_of_more_than_a_megabyte_is_not_read(tmp_path):
    path = tmp_path / "jar.toml"
    path.write_text(SMALL + "#" * 1_000_000)
    with pytest.raises(CaseError, match=r"has 1\.0 MB, too large for a case file; at most 1 MB are read"):
        read_case(path)


def test_line_breaks_in_names_do_not_break_the_message():
    (fault,) = faults_of(changed(("title =", '"a\\nb\\u2028c" = 1\ntitle =')))
    assert fault.startswith('jar.toml: unknown key "a b c"; allowed here: ')
