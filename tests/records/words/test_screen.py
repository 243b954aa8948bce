"""What the short screen leaves out and what never. Rung: hand-worked."""

from types import SimpleNamespace

import pytest

from thermsim.notice import Notice
from thermsim.records.words import answer
from thermsim.records.words.parts import Section, details, facts, flow_first, input_first, noticed, paragraphs, table
from thermsim.records.words.screen import grid, labelled, lines_of, screen_of

ROOM = 12


def sections(dangers, warnings, rows):
    found = [Notice("d", "danger", "probe", f"danger {k}, at length", brief=f"danger {k}") for k in range(dangers)]
    found += [Notice("w", "warning", "probe", f"warning {k}") for k in range(warnings)]
    return [
        Section("", (facts([("Answer", "here")]), table(("a", "b"), [("row", f"{k}") for k in range(rows)]))),
        Section("", (paragraphs(["small print"], small=True),)),
        *noticed("", [*found, Notice("n", "note", "input", "a note")]),
        *details([("Detail", "aside")]),
    ]


def test_the_full_screen_has_everything():
    text = "\n".join(screen_of(sections(2, 9, 9), full=True, room=ROOM))
    assert text.count("at length") == 2 and text.count("Warning") == 9 and text.count("row") == 9
    assert "small print" in text and "a note" in text and "aside" in text


def test_rows_go_first_then_warnings_and_what_is_left_out_is_counted():
    text = "\n".join(screen_of(sections(1, 3, 9), full=False, room=ROOM))
    assert text.count("row ") == 4 and "danger 0" in text and "at length" not in text
    assert not any(word in text for word in ("small print", "a note", "aside"))
    kept = text.count("Warning")
    assert kept < 3
    assert f"{3 - kept} warning{'' if 3 - kept == 1 else 's'}, 1 note, 5 table rows" in text


def test_what_fits_is_kept():
    lines = screen_of(sections(0, 1, 5), full=False, room=20)
    assert len(lines) < 20 and sum(line.startswith("row") for line in lines) == 5
    assert "More            1 note, further figures and conventions: add --full" in lines


def test_dangers_are_never_dropped():
    lines = screen_of(sections(20, 2, 5), full=False, room=ROOM)
    assert sum(line.startswith("DANGER") for line in lines) == 20


def test_pressing_warnings_are_never_dropped():
    pressing = [Notice("p", "warning", "input", f"pressing {k}", pressing=True) for k in range(15)]
    lines = screen_of([*sections(0, 9, 9), *noticed("", pressing)], full=False, room=ROOM)
    assert sum("pressing" in line for line in lines) == 15
    assert not any("warning" in line for line in lines[:-1])
    assert "9 warnings, 1 note, 5 table rows" in lines[-1]


def test_a_doubtful_input_is_said_before_the_verdict_and_a_flowing_product_before_that():
    flows = Notice("product-convects", "danger", "convection", "it flows")
    doubt = Notice("implausible-value", "warning", "input", "check it", pressing=True)
    other = Notice("headspace-moves", "warning", "headspace", "it moves", pressing=True)
    section, left = input_first([other, doubt, flows])
    assert [one.title for one in section] == ["Check the input"] and left == [other, flows]
    assert input_first([other])[0] == []
    may = Notice("product-may-convect", "danger", "convection", "it may flow")
    titles = [flow_first([one])[0][0].title for one in (flows, may)]
    assert titles == ["The product convects", "The product may convect"]


@pytest.mark.parametrize("flows", [True, False])
def test_where_the_product_flows_nothing_is_said_of_a_depth_by_conduction(flows, monkeypatch):
    monkeypatch.setattr(answer, "recommended", lambda *_: facts([("Recommended", "a depth")]))
    unsafe = Notice("unsafe", "danger", "probe", "it reads high")
    pieces = Notice("pieces", "warning", "cold spot", "a tip in a piece")
    case = SimpleNamespace(product=SimpleNamespace(convects=flows))
    result = SimpleNamespace(notices=(unsafe, pieces), advice=object(), case=case)
    said = " ".join(lines_of([*answer.verdict_sections(result), *answer.notes_of(result)]))
    assert ("reads high" in said) == (not flows) and "in a piece" in said


@pytest.mark.parametrize("unit", ["mm", "in", "degC", "degF", "min", "%", "K"])
def test_a_figure_stays_on_the_line_of_its_unit(unit):
    for words in range(8, 18):
        lines = labelled(
            "Label", "word " * words + f"3.488 +- 0.004 {unit} and more words to fill the line up to its end"
        )
        assert f"3.488 +- 0.004 {unit}" in " ".join(lines) and any(f"0.004 {unit}" in line for line in lines)


def test_a_table_may_have_a_column_with_nothing_in_it():
    """Marks of a family whose cases are all good."""
    assert grid([("case", "depth, mm", ""), ("one", "52.4", ""), ("two", "67.5", "")]) == [
        "case  depth, mm", "one        52.4", "two        67.5",
    ]  # fmt: skip
    folded = grid([("case", "depth, mm", ""), ("one", "52.4", ""), ("two", "67.5", "")], width=15)
    assert folded == ["case  depth,", "          mm", "one     52.4", "two     67.5"]
