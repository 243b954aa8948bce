"""From a case in inches and degF to its sheet: every length recomputed by hand from what the case file says."""

import re

import pytest
from places import CASES
from probed import advised_by_few
from small_jars import ROUGH

from thermsim.case import read_case
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.records.words.answer import answer
from thermsim.systems import shown_in

#: As the case file says, in inches; of its stock the probe of 3 in is the shortest that may stick out by 0.5 in.
SEAMED, ALLOWED, SUNK, SIDE, PANEL = 2.6875, 0.125, 0.125, 0.008, 0.009
PROBE, FITTING, OUTSIDE = 3.0, 0.5, 0.4


@pytest.fixture(scope="module")
def found():
    return advised_by_few(read_case(CASES / "can_inches.toml").replace(accuracy=ROUGH))


def words(found):
    with shown_in("us"):
        figure = plot_bench_sheet(found, program="program 1.2", digest="abc123")
    texts = [*figure.texts, *(text for ax in figure.axes for text in ax.texts)]
    return re.sub(r"\s+", " ", " ".join(text.get_text() for text in texts))


def test_the_sheet_is_in_inches_and_its_lengths_add_up(found):
    text = words(found)
    own = found.advice.own.recommended("least lethality")
    body = (SEAMED - ALLOWED) / 2 + SIDE
    depth, out = own.depth / 0.0254, PROBE - own.depth / 0.0254
    low, high = (end / 0.0254 for end in own.window)
    for expected in (
        "all lengths in inches",
        "through the base",
        f"on the axis, {body:.3f} in from the body's edge, {SEAMED / 2:.3f} in from the seam's",
        f"fitting ⌀ {FITTING:.3f}",
        "outer face of the base's panel",
        f"insertion depth {depth:.3f} in",
        f"from the seam {depth + SUNK:.3f} in; seam {SUNK:.3f} in",
        f"+{high - depth:.3f} / −{depth - low:.3f} in",
        f"{low:.3f} to {high:.3f} in",
        f"probe length {PROBE:.3f} in (at hand)",
        f"stick-out {out:.3f} in, outer face of the base's panel to the probe's outer end",
        f"from the seam {abs(out - SUNK):.3f} in beyond its edge",
        f"body's edge to axis {body:.3f}, seam's {SEAMED / 2:.3f}",
        f"outer diameter {SEAMED - ALLOWED + 2 * SIDE:.3f}",
        "F0 at 250.00 °F, z = 18 °F",
    ):
        assert expected in text, expected
    assert not re.search(r"\d (mm|°C|K)\b", text)
    # beyond the fitting, which is told to a tenth of a millimetre
    beyond = float(re.search(r"([\d.]+) in of it, by calipers", text)[1])
    assert beyond == pytest.approx(out - OUTSIDE, abs=0.0025)


def test_the_answer_names_faces_and_seams_in_inches(found):
    with shown_in("us"):
        text = " ".join(" ".join(answer(found, full=True)).split())
    depth = found.advice.own.recommended("least lethality").depth / 0.0254
    assert f"Insert {depth:.3f} in" in text and "from the outer face of the base" in text
    assert f"the seam's edge stands {SUNK:.3f} in beyond the base's panel: {depth + SUNK:.3f} in from there" in text
    body, seam = (SEAMED - ALLOWED) / 2 + SIDE, SEAMED / 2
    assert f"edge to axis {body:.3f} in of the body, {seam:.3f} in of the seam" in text
    assert "3.000 in high over both" in text


def test_the_case_holds_what_the_file_says(found):
    case, inch = found.case, 0.0254
    inner = SEAMED - ALLOWED, 3.0 - 2 * SUNK - 2 * PANEL
    assert 2 * case.container.profile.widest == pytest.approx(inner[0] * inch, rel=1e-12)
    assert case.container.inner_height == pytest.approx(inner[1] * inch, rel=1e-12)
    # 7.75 oz of 65.5 lb/ft3
    assert case.product_volume == pytest.approx(7.75 / 16 / 65.5 * (12 * inch) ** 3, rel=1e-12)
    assert (case.lethality.z, case.lethality.symbol) == (10.0, "F0")
