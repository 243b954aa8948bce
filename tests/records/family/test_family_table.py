"""The table of a family: resumed from what a folder holds, as CSV, on the wall, flow said before any number."""

import csv
import dataclasses
import io
import re

import pytest

from thermsim.case.container import Seam
from thermsim.case.study import CRITERIA
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.wall import plot_wall_sheet
from thermsim.notice import Notice
from thermsim.physics.convection import find_thickness, flow_of
from thermsim.records.family.running import Wanted, recommend_all
from thermsim.records.family.table import family_answers, family_csv, family_html, family_lines, one_probe
from thermsim.records.files.results import save_result
from thermsim.systems import shown_in


def flowing(result):
    case = result.case
    flow = flow_of(
        case.product.material, find_thickness("water-like"), radius=0.03, depth=0.09, initial=40.0, medium=120.0
    )
    assert flow.verdict == "convection"
    from thermsim.physics.convection import flow_notices

    made = case.replace(product=dataclasses.replace(case.product, flow=flow), member="thin")
    return dataclasses.replace(result, case=made, notices=(*flow_notices(flow, depth=0.09), *result.notices))


def test_what_a_folder_holds_is_not_computed_again(advised, tmp_path, monkeypatch):
    import thermsim.records.family.running as running

    file = tmp_path / "result.h5"
    save_result(advised, file)
    monkeypatch.setattr(running, "own_processes", lambda *_: pytest.fail("nothing is to be computed"))
    margin = advised.advice.own.recommendations[0].margin
    side = any(one.probe.entry == "side" for one in advised.advice.candidates)
    wanted = Wanted(advised.advice.criterion, margin, advised.advice.sensor_accuracy, side)
    seen = []
    (found,) = recommend_all([advised.case], [file], wanted, progress=lambda *done: seen.append(done))
    assert seen == [(1, 1)]
    assert found.advice == advised.advice
    # another question is another answer
    other = next(one for one in CRITERIA if one != wanted.criterion)
    with pytest.raises(pytest.fail.Exception, match="nothing is to be computed"):
        recommend_all([advised.case], [file], dataclasses.replace(wanted, criterion=other))


def test_flow_comes_before_the_table_and_a_flowing_product_has_no_depth(advised):
    thin = flowing(advised)
    depth = f"{1e3 * advised.advice.own.recommended(advised.advice.criterion).depth:.1f}"
    text = "\n".join(family_lines([advised, thin]))
    assert text.index("DOES NOT HOLD") < text.index(depth)
    assert text.count(depth) == 1 and "it flows: see its own sheet" in text
    first, second = list(csv.DictReader(io.StringIO(family_csv([advised, thin]))))
    assert f"{float(first['depth_mm']):.1f}" == depth and first["product_convects"] == "False"
    assert (second["case"], second["product_convects"], second["depth_mm"]) == ("thin", "True", "")
    page = family_html([advised, thin], program="p", when="w", case_name="cans.toml")
    assert page.index("DOES NOT HOLD") < page.index(f">{depth}<")
    # on paper too each case has its verdict, but one whose product flows
    assert page.count("how deep the probe should go") == 1 and f"Insert {depth} mm" in page.replace("\u00a0", " ")


def test_of_each_case_the_screen_has_its_verdict_every_danger_and_the_target_and_counts_the_rest(advised):
    said = [
        Notice(code, severity, "probe", f"{code}, at length", {}, f"{code} it is.", pressing)
        for code, severity, pressing in (
            ("grave", "danger", False), ("urgent", "warning", True), ("mild", "warning", False),
            ("aside", "note", False),
        )
    ]  # fmt: skip
    lines = family_answers([dataclasses.replace(advised, notices=tuple(said))] * 2)
    text = " ".join(" ".join(lines).split())
    depth = f"{1e3 * advised.advice.own.recommended(advised.advice.criterion).depth:.1f}"
    for once in (f"Insert {depth} mm", "DANGER grave it is.", "Warning urgent it is.", "Target F0 = "):
        assert text.count(once) == 2, once
    assert "mild" not in text and "aside" not in text and "at length" not in text
    assert text.endswith("2 warnings, 2 notes of the 2 cases: add --full")


@pytest.mark.parametrize(("good", "flows", "said"), [
    ((True, True), False, "of every case, set as the table says"),
    ((True, False), False, "of every case, set as the table says; but NO DEPTH IS GOOD in 1 of 2"),
    ((False, False), False, "of every case, set as the table says; but NO DEPTH IS GOOD in any"),
    ((True,), True, "of every case that does not flow, set as the table says"),
    ((), True, "none: where a product flows there is no depth to set"),
])  # fmt: skip
def test_one_probe_for_all_is_no_good_news_where_no_depth_is_good_or_a_product_flows(advised, good, flows, said):
    def judged(as_good):
        own = advised.advice.own
        # good is within 5 %
        all_of = tuple(
            dataclasses.replace(one, mismatch=0.04 if as_good else 0.3, heating_over_reading=0.01)
            for one in own.recommendations
        )
        settings = tuple(dataclasses.replace(one, in_window=True) for one in advised.advice.settings)
        candidates = [*advised.advice.candidates]
        candidates[advised.advice.chosen] = dataclasses.replace(own, recommendations=all_of)
        advice = dataclasses.replace(advised.advice, candidates=tuple(candidates), settings=settings)
        return dataclasses.replace(advised, advice=advice)

    told = one_probe([*map(judged, good), *[flowing(advised)] * flows])
    assert told.endswith(said) and told.startswith("none" if not good else "50.0 mm long is in the window")


def test_the_wall_has_every_case_and_no_depth_of_a_flowing_one(advised):
    with shown_in("us"):
        figure = plot_wall_sheet([advised, flowing(advised)], ["thick", "40 mm"], title="cans.toml", program="p 1")
    text = re.sub(r"\s+", " ", " ".join(one.get_text() for one in figure.texts))
    assert text.index('"40 mm": DOES NOT HOLD') < text.index("case depth window")
    assert "no depth: the product flows" in text and "put up by, date" in text


def test_the_wall_says_out_of_the_window_of_a_case_whose_hardware_is(advised):
    """The same depth, in a window round it and beside one that ends a millimetre before it."""
    depth, own = bench_of(advised).depth, advised.advice.own

    def within(low, high):
        windows = tuple(dataclasses.replace(one, window=(low, high)) for one in own.recommendations)
        changed = dataclasses.replace(own, recommendations=windows)
        return dataclasses.replace(
            advised, advice=dataclasses.replace(advised.advice, candidates=(changed,), chosen=0)
        )

    for found, out in ((within(depth - 2e-3, depth + 2e-3), 0), (within(depth - 5e-3, depth - 1e-3), 1)):
        figure = plot_wall_sheet([found], ["can"], title="cans.toml", program="p 1")
        assert " ".join(one.get_text() for one in figure.texts).count("OUT OF THE WINDOW") == out


def test_the_wall_counts_from_the_seam_too_and_says_what_is_unsafe_or_not_at_hand(advised):
    """A seam of 4 mm that is assumed; a reading twice the cold spot's; a stock without hardware that fits."""

    def wall(result):
        figure = plot_wall_sheet([result], ["can"], title="cans.toml", program="p 1")
        return re.sub(r"\s+", " ", " ".join(one.get_text() for one in figure.texts))

    container = dataclasses.replace(advised.case.container, seam=Seam(None, lid=0.004, base=0.003, assumed=True))
    seamed = dataclasses.replace(advised, case=advised.case.replace(container=container))
    depth = 1e3 * bench_of(advised).depth
    assert f"depth from the seam's edge {depth + 4.0:.1f} mm; measure the seam" in wall(seamed)
    assert "seam" not in wall(advised) and "hole" not in wall(advised)
    spot = advised.spots[0]
    low = dataclasses.replace(spot, lethality=bench_of(advised).reading.lethality / 2.0)
    assert "+100.0 % in all" in wall(dataclasses.replace(advised, spots=(low, *advised.spots[1:])))
    bare = dataclasses.replace(advised, advice=dataclasses.replace(advised.advice, settings=()))
    assert "none at hand: get hardware" in wall(bare) and "OUT OF THE WINDOW" not in wall(bare)
