"""The report's parts about a probe."""

import dataclasses
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from small_cans import LOGGER, PLASTIC, STEPPED

from thermsim.case.probe import Gap, Stock
from thermsim.figures.files import figures_of
from thermsim.records.report.page import SHEETS, report_html
from thermsim.systems import shown_in


def page_of(result, figures):
    return report_html(result, figures, program="thermsim 0.1.0", when="now", case_name="can.toml")


def tree_of(page):
    return ElementTree.fromstring(page.removeprefix("<!DOCTYPE html>\n"))


def words(element):
    return " ".join(" ".join(element.itertext()).replace("\u00a0", " ").split())


def section(tree, title):
    return next(words(one) for one in tree.findall(".//section") if words(one).startswith(title))


@pytest.fixture(scope="module")
def figures(advised):
    """An empty drawing for each figure: the page holds them as they are."""
    return {kind.title: '<svg xmlns="http://www.w3.org/2000/svg"></svg>' for kind in figures_of(advised)}


@pytest.fixture(scope="module")
def page(advised, figures):
    return page_of(advised, figures)


@pytest.fixture(scope="module")
def tree(page):
    return tree_of(page)


def test_recommendation_then_loud_warnings_come_before_the_cold_spot(advised, tree):
    first, second, cautions, third = (words(one) for one in tree.findall(".//section")[:4])
    depth = 1e3 * advised.advice.own.recommended("least lethality").depth
    assert first.startswith(f"How deep the probe should go Recommended Insert {depth:.1f} mm (window ")
    assert second.startswith("Danger UNSAFE SIDE: ")
    assert "NO DEPTH IS GOOD" in second
    assert cautions.startswith("Before you act on it")
    assert third.startswith("How to set it ")
    assert "Section of the container. " in third
    assert section(tree, "The cold spot").startswith("The cold spot Least lethality F0(")
    others = section(tree, "Warnings and notes")
    assert "UNSAFE" not in others
    assert all(warning in second + others for warning in advised.warnings)
    assert all(words(tree).count(warning) == 1 for warning in advised.warnings)


def test_recommendation_is_told_with_uncertainty_and_verdict(advised, tree):
    first = words(tree.find(".//section"))
    one = advised.advice.own.recommended("least lethality")
    found = re.search(r"reads F0 = ([\d.]+) ± ([\d.]+) min, should read [\d.]+ ± [\d.]+ min: [+-][\d.]+ ± ", first)
    assert abs(float(found[1]) - one.lethality / 60) <= float(found[2])
    assert f"mismatch {100 * one.mismatch:.1f} ± " in first
    heating, cooling = 100 * one.heating_over_reading, 100 * one.cooling_over_reading
    assert "NOT GOOD: mismatch" in first
    assert f"; reads {heating:+.1f} % until heating ends, {cooling:+.1f} % in cooling" in first
    setting = section(tree, "How to set it")
    assert "50 mm probe, " in setting
    assert "Confirm measure at " in setting
    assert "+-" not in first


def test_tables_hold_candidates_ladder_settings_and_stems(advised, tree):
    text, advice = section(tree, "The recommendation in full"), advised.advice
    for rung in advice.own.ladder:
        # small lethalities with more decimals
        gathered = [
            f"{one / 60:.{2 if one >= 6.0 else 4}f}"
            for one in (rung.lethality, rung.without_lethality, rung.heating_lethality, rung.without_heating)
        ]
        over = rung.lethality / advised.spots[0].lethality - 1
        mismatch = np.interp(rung.depth, advice.own.profile.depth, advice.own.profile.mismatch)
        row = [f"{1e3 * rung.depth:.1f}", f"{70.4 - 1e3 * rung.depth:.1f}", *gathered]
        row += [f"{rung.end_of_heating:.2f}", f"{rung.without_end:.2f}"]
        row += [f"{100 * mismatch:.1f} %", f"{100 * over:+.1f} %"]
        assert " ".join(row) in text
    for setting in advice.settings:
        place = f"{1e3 * setting.stick_out:.1f} {1e3 * setting.depth:.1f} {1e3 * setting.misfit:+.1f}"
        worth = setting.worth
        read = f"{worth.lethality / 60:.2f} {100 * worth.mismatch:.1f} % {100 * worth.heating_over_reading:+.1f} %"
        assert f"{place} {'yes' if setting.in_window else 'NO'} {read}" in text
    table = section(tree, "Probes and entries compared")
    assert table.count("(own)") == 1
    assert len(re.findall(r"3 mm steel (?:\(own\) )?(?:lid|base) \d", table)) == 2
    assert "probe of 50 " in text
    for stem in advice.stems:
        what = f"{1e3 * stem.diameter:g} {stem.conductivity:g}"
        assert f"{what} {100 * stem.heating_bias:+.1f} % {stem.temperature:+.2f} K" in text
    for depth in advice.confirmation:
        assert f"{1e3 * depth:.1f}" in section(tree, "How to set it")


def test_no_table_of_the_page_is_left_in_millimetres(advised):
    advice = advised.advice
    stacked = dataclasses.replace(advice.settings[0], length=None, stick_out=None, spacers=(0.0254, 0.0127))
    made = dataclasses.replace(advised, advice=dataclasses.replace(advice, settings=(*advice.settings, stacked)))
    with shown_in("us"):
        tables = " ".join(words(one) for one in tree_of(page_of(made, {})).findall(".//table"))
    assert "take [in]" in tables
    assert "probe of 1.969 " in tables  # 50 mm
    assert "spacers 1.000 + 0.500 " in tables
    assert not re.search(r"[\d\[] ?(mm|°C|K|W/m²?K)\b", re.sub(r'"[^"]*"|3 mm steel', "", tables))


def test_bias_is_given_in_heating_in_cooling_and_in_all(probed):
    text = section(tree_of(page_of(probed, {})), "The probe's reading")
    bias = probed.probe.at_place
    row = re.search(
        r"same place without the probe ([+-][\d.]+) ± [\d.]+ % ([+-][\d.]+) ± [\d.]+ % ([+-][\d.]+) ±", text
    )
    for shown, value in zip(
        row.groups(), (bias.heating_lethality, bias.cooling_lethality, bias.lethality), strict=True
    ):
        # shown to a tenth of a percent
        assert abs(float(shown) - 100 * value) <= 0.051
    assert re.search(r"reading [\d.]+ ± [\d.]+ min [\d.]+ ± [\d.]+ same place without the probe [\d.]+ ± ", text)
    assert "from the undisturbed" in text


def test_process_without_cooling_has_no_columns_for_it(uncooled):
    text = section(tree_of(page_of(uncooled, {})), "The probe's reading")
    assert "cooling" not in text
    assert "no straight part" in text


def test_result_with_a_probe_alone_begins_with_the_answer_and_tells_the_reading(probed):
    tree = tree_of(page_of(probed, {}))
    first, second = (words(one) for one in tree.findall(".//section")[:2])
    assert first.startswith("The answer Least lethality F0(")
    tip = '"stepped "stem"" through the lid, tip at z = 34.4 mm, 36.0 mm from the outer face of the lid'
    assert tip in section(tree, "The cold spots")
    assert second.startswith("Danger UNSAFE SIDE")
    assert "How deep" not in words(tree)


def test_probe_without_an_insertion_is_said_to_be_left_out(probed):
    tree = tree_of(page_of(dataclasses.replace(probed, probe=None), {}))
    assert "is left out: its insertion is not given" in section(tree, "The cold spots")


def test_bench_sheet_is_last_on_a_page_of_its_own(page, tree):
    for last, name in zip(tree.findall(".//section")[-2:], SHEETS, strict=True):
        assert last.attrib["class"] == "sheet"
        assert words(last.find(".//figcaption")).startswith(f"{name}. ")
        assert page.count(f"<strong>{name}.") == 1
    assert re.search(r"\.sheet \{[^}]*page-break-before: always", page)


def test_page_without_a_bench_sheet_has_no_empty_page(probed):
    assert 'class="sheet"' not in page_of(probed, {}).replace("'", '"')


def test_figures_of_a_probe_have_captions(figures, tree):
    captions = [words(caption) for caption in tree.findall(".//figcaption")]
    assert len(captions) == len(figures)
    assert all(len(caption) > 120 for caption in captions)
    for title in ("How deep the probe should go", "Temperature round the tip", "Other stems at this depth"):
        assert any(caption.startswith(f"{title}. ") for caption in captions)


def test_segments_fitting_and_films_are_echoed(probed):
    text = section(tree_of(page_of(probed, {})), "What went in")
    assert 'Probe: stepped "stem" Mounting through the lid Tip 36 mm from the outer face of the lid' in text
    assert "1 6 40 plastic 1 mm, steel & nickel 2 3 40 steel & nickel solid" in text
    assert "Fitting 12 mm wide, 3 mm inside, 10 mm outside, steel & nickel" in text
    assert "Film of the parts outside 40 W/m²K" in text
    assert "Start 30 °C" in text
    assert 'steel & nickel 17 7900 460 3.634 stepped "stem" invented' in text
    # the stages' own film of the probe, where one has it
    assert "hold 0 40 121.1 900 900 900 as the wall" in text
    assert "cool 40 60 25 500 500 500 60" in text


def test_recommended_depth_is_not_shown_as_given(advised, stacked):
    text = section(tree_of(page_of(advised, {})), "What went in")
    assert "from the outer face of the lid, as recommended here" in text
    assert "Probes 50, 80 mm long They may stick out 10 to 30 mm of the wall" in text
    text = section(tree_of(page_of(stacked, {})), "What went in")
    assert "1, made up of spacers 8 " in text
    assert "Spacers 5, 10 mm high, at most 2 on each other" in text


def test_gap_and_further_probes_are_echoed(probed):
    gapped = dataclasses.replace(STEPPED, gap=Gap(0.0002, PLASTIC), film=None, initial=None)
    case = probed.case.replace(probe=gapped, probes=(LOGGER,), stock=Stock())
    text = section(tree_of(page_of(dataclasses.replace(probed, case=case), {})), "What went in")
    assert "Gap round the stem 0.2 mm, plastic" in text
    assert "Film of the parts outside as the process says" in text
    assert "Start 40 °C, as the product (default)" in text
    assert "To compare: logger Mounting stands on the base, inside" in text
