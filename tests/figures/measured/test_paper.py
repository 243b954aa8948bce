"""Rung: hand-worked. Parts of an answer on pages of paper: nothing runs over a margin, nothing is lost."""

import re

import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.lines import Line2D

from thermsim.figures.measured.paper import GAP, MARGIN, SMALL, TEXT, Paper, column_widths, wrapped
from thermsim.figures.paper import HEIGHT, WIDTH, width_of
from thermsim.notice import Notice
from thermsim.records.words.parts import Section, facts, noticed, paragraphs, table

ROOM = WIDTH - 2 * MARGIN
TALE = "The logger of the sixth can, which was said to be as deep as the others, reads another place. " * 8


def test_lines_are_no_wider_than_the_room_and_hold_every_word():
    lines = wrapped(TALE, TEXT, ROOM)
    assert len(lines) > 3
    assert max(width_of(line, TEXT) for line in lines) <= ROOM
    assert " ".join(lines).split() == TALE.split()


def test_a_word_that_is_too_long_is_broken_and_kept():
    word = "x" * 130
    lines = wrapped(f"a {word} b", SMALL, 50.0)
    assert max(width_of(line, SMALL) for line in lines) <= 50.0
    assert "".join(lines).count("x") == 130


def test_columns_share_the_room():
    rows = [("can", "found"), ("Can 1", TALE), ("Can 2", "no")]
    widths = column_widths(rows, ROOM)
    assert sum(widths) + GAP <= ROOM + 1e-9
    assert widths[0] < 20.0 < widths[1]


def test_a_long_table_goes_on_over_pages_within_their_margins(tmp_path):
    rows = [(f"Can {k}", "within", TALE[:90]) for k in range(110)]
    sections = [
        Section("Containers", (table(("can", "stands", "found"), rows),)),
        *noticed("Danger", [Notice("a", "danger", "fit", "IT IS WRONG $x^2$.")], "danger"),
        Section(
            "Words",
            (facts([("Short", TALE), ("A label that is very long indeed", TALE)]), paragraphs([TALE], small=True)),
        ),
    ]
    path = tmp_path / "long.pdf"
    placed, pages = [], []

    class Watched(Paper):
        def new_page(self):
            pages.append(super().new_page())
            return pages[-1]

        def _put(self, x, y, text, size, **how):
            placed.append((self.number, x, y, text, size))
            super()._put(x, y, text, size, **how)

    with PdfPages(path) as pdf:
        paper = Watched(pdf, "foot")
        paper.title("A title", ["below"])
        paper.sections(sections)
        paper.close()
    assert len(re.findall(rb"/Type /Page ", path.read_bytes())) == paper.number > 2
    body = [(y, text) for _, _, y, text, _ in placed if y < HEIGHT - MARGIN / 2]
    assert all(MARGIN <= y <= HEIGHT - MARGIN for y, _ in body)
    assert sum(text.startswith("Can ") for _, text in body) == 110
    rules = [line.get_xdata() for page in pages for line in page.get_children() if isinstance(line, Line2D)]
    assert len(rules) > len(pages) - 2 and np.allclose(rules, [MARGIN / WIDTH, 1.0 - MARGIN / WIDTH])
    # a label stands before the first of its lines alone, in bold as the heads are
    begun = [part for part in placed if part[3] == "Short"]
    (page, x, y), *_ = [part[:3] for part in begun]
    beside = [part for part in placed if part[0] == page and part[1] > x and part[2] == y]
    assert len(begun) == 1 and x == MARGIN and len(beside) == 1 and TALE.startswith(beside[0][3])
    weights = {text.get_text(): text.get_weight() for page in pages for text in page.texts}
    assert (weights["Short"], weights["stands"], weights["within"], weights["Can 0"]) == (
        "bold",
        "bold",
        "normal",
        "normal",
    )
    # each page of the table has its heads
    assert len([text for _, text in body if text == "stands"]) == len(
        {n for n, *_, text, _ in placed if text == "within"}
    )
