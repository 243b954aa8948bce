import re

from thermsim.case import case_from_text, find_material, key_table, starting_case
from thermsim.case.keys import CSV_ONLY, HEADINGS, TABLES, keys_of


def test_the_starting_case_is_valid_as_it_stands():
    case = case_from_text(starting_case())
    assert case.title == "New case"
    assert case.process.hold == 1


def test_the_starting_case_names_every_key():
    for table, keys in TABLES.items():
        for key in keys:
            assert re.search(rf"(?m)^\s*(# )?(\[\[process\.)?[^#]*\b{key.name}\b", starting_case()), (table, key.name)


def test_every_commented_line_of_the_starting_case_may_be_switched_on():
    fills = "height_mm|fraction|mass_g"
    text = re.sub(rf'(?m)^# (?!{fills}|csv|cooling|film|thin|material)(\[*[\w"]+(\]| =))', r"\1", starting_case())
    case = case_from_text(text)
    assert case.container.initial == 20.0
    assert case.lethality.reach == (100.0, 115.0)
    assert case.accuracy.place == 0.0005
    assert [probe.name for probe in case.probes] == ["1.5 mm stem"]
    assert case.stock.travel == (0.015, 0.045)


def test_the_probe_of_the_starting_case_may_be_switched_on_alone():
    text = starting_case()
    start, end = text.index("# [probe]"), text.index("# ---- Further probes")
    block = re.sub(r"(?m)^# (\[probe\]|\w+ = )", r"\1", text[start:end])
    case = case_from_text(text[:start] + block + text[end:])
    assert (case.probe.name, case.probe.insertion, case.probe.film) == ("3 mm stem", 0.054, 2000.0)
    assert case.probe.gap.material == find_material("water")
    assert case.stock is None
    assert {line.split(" = ")[0] for line in block.splitlines() if line[:1].isalpha()} == set(keys_of("probe"))


def test_the_key_table_has_a_row_for_every_key():
    rows = [line for line in key_table().splitlines() if line.startswith("| `")]
    assert len(rows) == sum(len(keys) for keys in TABLES.values())
    assert "| `thickness_mm` | mm | thickness of the wall | required |" in rows
    assert "| `thin_K` | K | how closely the thinned log follows every sample | 0.02 |" in rows
    assert all(line.count("|") == 5 for line in rows)


def test_every_table_of_keys_has_a_heading_and_no_key_twice():
    assert list(HEADINGS) == list(TABLES)
    for table, keys in TABLES.items():
        assert len(keys_of(table)) == len(keys)
    assert set(CSV_ONLY) < set(keys_of("process"))


def test_a_number_carries_its_unit_in_its_name():
    # film coefficients in { side, base, lid } stand under a key with the unit; `minutes` is its own unit
    spelt = {"mm": "_mm", "min": "_min", "g": "_g", "degC": "_C", "%": "_percent", "W/mK": "_W_mK", "W/m2K": "_W_m2K"}
    spelt |= {"kg/m3": "_kg_m3", "J/kgK": "_J_kgK"}
    for table, keys in TABLES.items():
        for key in keys:
            if key.unit and table != "film" and key.name != "minutes":
                endings = ("_K", "_C") if key.unit == "K" else (spelt[key.unit],)
                assert key.name.endswith(endings), (table, key.name)
