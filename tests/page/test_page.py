"""The page without a browser: every field, faults at their own, the answer, what is downloaded, what is opened.

Rung: the same answer by another way (``thermsim solve`` of what is downloaded).
"""

import asyncio
import json
import tomllib

import pytest

pytest.importorskip("nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"')

from nicegui.testing import UserInteraction
from page_scenes import COARSE, visit

import thermsim
from thermsim.cli import main
from thermsim.errors import InputError
from thermsim.page import files
from thermsim.records.words.answer import bench_sections, verdict_sections
from thermsim.records.words.parts import Facts


def test_the_answer_stands_on_the_page_in_the_words_of_the_terminal():
    async def act(at):
        result = await at.solved()
        facts = [
            part
            for section in (*verdict_sections(result), *bench_sections(result))
            for part in section.parts
            if isinstance(part, Facts)
        ]
        for label, texts in facts[0].entries:
            await at.user.should_see(content=label)
            for text in texts:
                await at.user.should_see(content=text.split(" +- ")[0].replace("degC", "°C").split(" °C")[0])

    visit(act)


def test_a_change_gives_the_answer_that_solve_gives_of_the_downloaded_case(tmp_path, capsys):
    async def act(at):
        await at.solved()
        await at.type("[fill] headspace_mm", "20")
        await at.type("[[process.stage]] no. 2 minutes", "60")
        await at.solved()
        return at.bench.result, await at.downloaded("save-case")

    result, text = visit(act)
    (tmp_path / "case.toml").write_bytes(text)
    assert tomllib.loads(text.decode())["fill"] == {"headspace_mm": 20}
    assert main(["solve", str(tmp_path / "case.toml"), "--json", "--quiet"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["cold_spot"] == thermsim.summary(result)["cold_spot"]


def test_what_is_not_changed_is_downloaded_word_for_word():
    async def act(at):
        return await at.downloaded("save-case")

    assert visit(act, "# a remark\n" + COARSE).decode() == "# a remark\n" + COARSE


#: A field, what is typed into it, and what is said of that.
FAULTS = (
    ("[fill] headspace_mm", "200", "headspace_mm = 200"),
    ("[fill] headspace_mm", "12,5", "is not a number"),
    ("[container] inner_height_mm", "", "is missing"),
    ("[container] side thickness_mm", "900", "thickness_mm = 900"),
    ("[[process.stage]] no. 2 minutes", "-1", "minutes = -1"),
    ("[lethality] z_C", "abc", 'z_C = "abc" is not a number'),
    ('[materials."dense paste"] density_kg_m3', "0", "density_kg_m3 = 0"),
    ("[[points]] no. 1 r_mm", "500", "r_mm = 500"),
    ("[accuracy] place_mm", "0", "place_mm = 0"),
)


def test_faults_stand_at_their_own_fields_in_the_words_of_the_command_line(tmp_path, capsys):
    async def act(at):
        last, said = await at.solved(), []
        for mark, typed, words in FAULTS:
            await at.type(mark, typed)
            element = at.field(mark)
            assert words in element.error
            assert at.bench.result is last and not at.bench.fresh
            await at.user.should_see(content="This is the last good answer")
            assert "old" in at.field("answer").classes
            said.append((element.error, at.bench.draft.text))
            at.user.find(marker="undo").click()  # that the field was emptied first belongs to the same change
            await asyncio.sleep(0.05)
            assert not at.bench.faults and at.bench.fresh
        return said

    for error, text in visit(act):
        (tmp_path / "can.toml").write_text(text, "utf-8")
        assert main(["solve", str(tmp_path / "can.toml")]) == 2
        assert error in capsys.readouterr().err


@pytest.mark.long
def test_a_fault_of_a_table_as_a_whole_stands_above_its_fields():
    async def act(at):
        at.bench.edit(at.bench.draft.with_value(("fill",), {}))
        await at.user.should_see(content="exactly one of")
        at.bench.edit(at.bench.draft.with_value(("films",), {"side": 3}))
        await at.user.should_see(content="unknown table [films]")

    visit(act)


@pytest.mark.long
def test_texts_of_a_case_are_set_as_texts():
    name = "<img src=x onerror=alert(1)>"

    async def act(at):
        await at.solved()
        await at.user.should_see(content=name)
        at.user.find(marker="view").elements.pop().value = "materials"
        drawn = at.field("picture").drawing
        assert "<img" not in drawn and "&lt;img src=x" in drawn

    visit(act, COARSE.replace("dense paste", name))


def test_a_row_goes_by_its_own_button_and_a_loggers_file_has_one_place():
    async def act(at):
        (drop,) = at.user.find(marker="log").elements
        assert "Drop a logger's file" in drop.props["label"]
        assert at.field("[[points]] no. 1 r_mm").value == "0"
        tools = at.user.find(marker="tool").elements
        (remove,) = (tool for tool in tools if tool.props["aria-label"] == "Remove point 1")
        UserInteraction(at.user, {remove}, None).click()
        assert not at.bench.draft.rows("points") and not at.bench.faults

    visit(act)


@pytest.mark.long
def test_stages_are_added_moved_and_removed():
    async def act(at):
        names = lambda: [stage["name"] for stage in at.bench.draft.value(("process", "stage"))]  # noqa: E731
        at.user.find("Add a stage").click()
        assert names() == ["come-up", "hold", "cool", "cool"]
        trail = ("process", "stage")
        at.bench.edit(at.bench.draft.with_row_moved(trail, 1, 1))
        assert names() == ["come-up", "cool", "hold", "cool"]
        await at.user.should_see(marker="[[process.stage]] no. 4 minutes")
        at.bench.edit(at.bench.draft.with_value((*trail, 3), None))
        await at.user.should_not_see(marker="[[process.stage]] no. 4 minutes")

    visit(act)


@pytest.mark.long
def test_the_whole_page_goes_over_to_other_units_and_back():
    async def act(at):
        metric = await at.solved()
        height = metric.cold_spot.least_lethality.z
        await at.user.should_see(content=f"{1e3 * height:.1f} mm above the base")
        at.field("units").value = "us"
        assert at.field("[fill] headspace_mm").value == "0.4724409"
        assert at.field("[fill] headspace_mm").props["suffix"] == "in"
        assert at.bench.result is metric and at.bench.fresh
        await at.user.should_see(content=f"{height / 0.0254:.3f} in above the base")
        await at.user.should_not_see(content=f"{1e3 * height:.1f} mm")
        drawn = at.field("picture").drawing
        assert "z [in]" in drawn and "[°F]" in drawn and " mm" not in drawn
        axes = at.field("histories").options["yAxis"]
        assert axes[0]["name"] == "Temperature [°F]"
        at.field("fill-slider").value = 0.5
        await at.solved()
        assert at.bench.draft.value(("fill",)) == {"headspace_in": 0.5}
        assert at.bench.case.headspace_height == pytest.approx(0.0127, rel=1e-12)
        await at.type("[fill] headspace_mm", "-1")
        assert "headspace_in = -1" in at.field("[fill] headspace_mm").error
        await at.type("[fill] headspace_mm", "0.6")
        at.field("units").value = "metric"
        assert at.field("[fill] headspace_mm").value == "15.24"
        await at.solved()
        await at.user.should_see(content="mm above the base")

    visit(act)


@pytest.mark.long
def test_the_fill_is_given_otherwise_without_changing_it():
    async def act(at):
        before = await at.solved()
        (choice,) = at.user.find(marker="given-by:headspace_mm").elements
        assert set(choice.options) == {"headspace_mm", "height_mm", "fraction", "mass_g", "volume_ml"}
        choice.value = "mass_g"
        after = await at.solved()
        assert at.bench.draft.value(("fill",)).keys() == {"mass_g"}
        assert after.case.fill_height == pytest.approx(before.case.fill_height, rel=1e-5)  # six digits are shown

    visit(act)


@pytest.mark.long
def test_a_newer_change_overtakes_an_older_and_a_second_tab_shows_the_same():
    async def act(at):
        for headspace in ("10", "14", "18"):
            await at.type("[fill] headspace_mm", headspace)
        await at.solved()
        assert at.bench.result.case.headspace_height == pytest.approx(0.018, rel=1e-9)
        first = at.user.client
        await at.user.open("/")
        assert at.user.client is not first
        assert at.field("[fill] headspace_mm").value == "18"
        await at.user.should_see(content="Least lethality")
        await at.user.open("/?bench=2")
        assert at.field("[fill] headspace_mm").value == "12"

    visit(act)


@pytest.mark.long
def test_answers_are_kept_compared_and_downloaded():
    async def act(at):
        await at.solved()
        at.user.find(marker="tab-compare").click()
        await at.type("keep-name", "=today")
        at.user.find(marker="keep").click()
        await at.type("[fill] headspace_mm", "30")
        await at.solved()
        await at.user.should_see(content="as it stands now")
        series = [one["name"] for one in at.field("histories").options["series"]]
        assert "=today" in series and "F0, =today" in series
        return await at.downloaded("save-compared"), at.bench.kept[0].result

    text, result = visit(act)
    heads, row, now = text.decode().splitlines()
    assert heads.startswith("answer,least lethality [min]")
    # a spreadsheet takes what begins with = for a formula
    assert now.startswith("as it stands now,")
    assert row.split(",")[:2] == ["'=today", f"{result.cold_spot.least_lethality.lethality / 60:.2f}"]


@pytest.mark.long
def test_a_number_is_varied_about_its_present_value():
    async def act(at):
        at.user.find(marker="tab-scan").click()
        assert at.field("scan-path").options["fill.headspace_mm"] == "fill: headspace [mm]"
        at.field("scan-path").value = "fill.headspace_mm"
        at.user.find(marker="begin-scan").click()
        await at.until(lambda: at.bench.jobs["scan"].found is not None)
        await at.user.should_see(marker="scan")
        scan, result = at.bench.jobs["scan"].found, await at.solved()
        middle = scan.values.index(12.0)
        assert len(scan.values) == 7
        assert scan.lethality[middle] == result.cold_spot.least_lethality.lethality
        # between other ends, and for no number that does nothing without the probe
        at.field("scan-from").value, at.field("scan-to").value = 6.0, 9.0
        at.user.find(marker="begin-scan").click()
        await at.until(lambda: at.bench.jobs["scan"].found not in (None, scan))
        other = at.bench.jobs["scan"].found
        assert (other.values[0], other.values[-1], len(other.values)) == (6.0, 9.0, 7)
        assert other.lethality[-1] < scan.lethality[middle]  # the less room, the more product there is to heat
        assert not [path for path in at.field("scan-path").options if path.startswith(("probe", "stock", "accuracy"))]
        # in other units the ends are offered anew
        at.user.find(marker="units").elements.pop().set_value("us")
        at.field("scan-path").value = "fill.headspace_in"
        assert at.field("scan-from").value == pytest.approx(0.7 * 12.0 / 25.4, rel=1e-3)

    visit(act)


@pytest.mark.long
def test_when_the_hand_rests_the_answer_says_how_far_the_headspace_moves_the_cold_spot():
    async def act(at):
        result = await at.solved()
        assert not [notice for notice in result.notices if notice.code == "headspace-moves"]
        await at.until(lambda: at.bench.result is not result)
        await at.user.should_see(content="The headspace alone moves the place of least lethality")
        assert at.bench.fresh and at.bench.result.cold_spot == result.cold_spot

    visit(act)


@pytest.mark.long
def test_results_files_reports_and_case_files_go_out_and_come_back(tmp_path):
    async def act(at):
        result = await at.solved()
        kept, report = await at.downloaded("save-result"), await at.downloaded("save-report")
        assert b"Small" in report and report.startswith(b"<!DOCTYPE html>")
        await at.type("[fill] headspace_mm", "20")
        await at.solved()
        at.bench.open(*files.opened(kept, "result.h5"))
        assert at.bench.fresh and at.field("[fill] headspace_mm").value == "12"
        assert thermsim.summary(at.bench.result) == thermsim.summary(result)
        with pytest.raises(InputError, match="broken.h5"):
            files.opened(b"no results file", "broken.h5")
        with pytest.raises(InputError, match="line 1: is not valid TOML"):
            files.opened(b"format 1", "broken.toml")

    visit(act)


@pytest.mark.long
def test_a_number_that_is_moved_in_the_drawing_is_put_into_the_field_that_is_there():
    async def act(at):
        await at.solved()
        field = at.field("[fill] headspace_mm")
        at.field("fill-slider").value = 20.5
        assert at.field("[fill] headspace_mm") is field and field.value == "20.5"
        at.user.find(marker="undo").click()
        assert field.value == "12"
        at.bench.edit(at.bench.draft.with_value(("fill",), {"fraction": 0.5}))
        assert at.field("[fill] fraction").value == "0.5"

    visit(act)


@pytest.mark.long
def test_a_profile_is_a_small_table():
    async def act(at):
        await at.solved()
        at.field("given-by:inner_diameter_mm").value = "profile_mm"
        assert not at.bench.faults
        await at.user.should_not_see(marker="given-by:inner_height_mm")  # it has a height of its own
        assert at.field("profile_mm:3:2").value == "26"
        await at.type("profile_mm:3:2", "30")
        assert at.bench.draft.value(("container", "profile_mm"))[2] == [95, 30]
        await at.type("profile_mm:3:2", "")
        assert "profile_mm" in at.field("faults-of [container] profile_mm").text
        await at.type("profile_mm:3:2", "28")
        await at.user.should_see("Add a row")
        at.field("units").value = "us"
        await at.type("profile_mm:4:2", "1.1")
        result = await at.solved()
        assert at.bench.draft.value(("container", "profile_in"))[3][1] == 1.1
        assert "profile_mm" not in at.bench.draft.value(("container",))
        assert result.case.container.profile.narrowest == pytest.approx(1.1 * 0.0254, rel=1e-9)

    visit(act)


@pytest.mark.long
def test_a_trade_size_is_chosen_from_a_list_or_written():
    async def act(at):
        at.field("given-by:inner_diameter_mm").value = "size"
        assert "307x409" in at.field("[container] size").options
        at.field("[container] size").value = "211x300"
        # the height is the size's own
        assert at.bench.draft.value(("container",)).keys() == {"size", "side", "base", "lid"}
        assert not at.bench.faults
        at.field("given-by:inner_diameter_mm").value = "outer_diameter_mm"
        assert at.field("[container] outer_diameter_mm").value == f"{2 * (2 + 11 / 16) * 12.7 - 3 + 6:g}"

    visit(act)


@pytest.mark.long
def test_a_number_becomes_a_table_over_temperature():
    async def act(at):
        at.user.find(marker="table:conductivity_W_mK").click()
        trail = ("materials", "dense paste", "conductivity_W_mK")
        assert at.bench.draft.value(trail) == [[20.0, 0.55], [120.0, 0.55]]
        await at.type("conductivity_W_mK:2:2", "0.6")
        assert at.bench.draft.value(trail)[1] == [120.0, 0.6] and not at.bench.faults

    visit(act)


@pytest.mark.long
def test_a_loggers_file_becomes_the_process():
    log = "Time [min],Retort [C],Room [C]\n" + "".join(
        f"{minute},{min(40 + 10 * minute, 118) if minute < 60 else 30},20\n" for minute in range(0, 80)
    )

    async def act(at):
        at.bench.edit(files.with_log(at.bench.draft, "run.csv", log))
        await at.user.should_see(marker="[process] cooling_starts_min")
        await at.user.should_not_see(marker="[[process.stage]] no. 1 minutes")
        assert "cooling_starts_min" in at.field("[process] cooling_starts_min").error
        choice = at.field("[process] csv_temperature")
        assert [*choice.options] == ["Time [min]", "Retort [C]", "Room [C]"]
        choice.value = "Retort [C]"
        await at.type("[process] film_W_m2K", "450")
        await at.type("[process] cooling_starts_min", "59")
        await at.type("[process] cooling_film_W_m2K", "300")
        result = await at.solved()
        assert result.case.process.medium_range[1] == pytest.approx(118.0, abs=1e-9)
        assert await at.downloaded("save-log") == log.encode()
        at.user.find("Stages in place of the logger's file").click()
        await at.user.should_see(marker="[[process.stage]] no. 1 minutes")
        assert not at.bench.faults and not at.bench.draft.attachments

    visit(act)
