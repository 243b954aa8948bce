"""From a case in inches and degF to its sheet: every length recomputed by hand from what the case file says."""

import dataclasses
import re

import pytest
from matplotlib.text import Text
from places import CASES
from probed import advised_by_few
from small_jars import ROUGH

from thermsim import read_case
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.figures.bench.wall import plot_wall_sheet
from thermsim.figures.container.section import plot_section
from thermsim.figures.files import _as_written
from thermsim.records.words.answer import answer
from thermsim.systems import shown_in

#: As the case file says, in inches; of its stock the probe of 3 in is the shortest that may stick out by 0.5 in.
SEAMED, ALLOWED, SUNK, SIDE, PANEL = 2.6875, 0.125, 0.125, 0.008, 0.009
PROBE, FITTING, OUTSIDE = 3.0, 0.5, 0.4
NUMBER = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?")
#: Numbers that are the same in both systems, with what is beside them: parts, times, factors, scales, heads.
SAME = re.compile(
    r"(?:\bx |× (?=\d\.\d{3}(?: until| in cooling|: ))|jh = |scale 1 : |program )[\d.]+"
    r"|[+-]?[\d.]+(?= ?(?:%|min\b|± [\d.]+\s%))|\b\d+\b(?!\.)|\b\d+\.\d\d\b"
)


@pytest.fixture(scope="module")
def found():
    return advised_by_few(read_case(CASES / "can_inches.toml").replace(accuracy=ROUGH))


def words(found, plot=plot_bench_sheet, system="us", **more):
    with shown_in(system):
        figure = plot(found, program="program 1.2", **more)
    texts = [*figure.texts, *(text for ax in figure.axes for text in ax.texts)]
    return re.sub(r"\s+", " ", " ".join(text.get_text() for text in texts))


def left_metric(result, told, same=SAME):
    """The numbers that are the same in both systems though nothing says that they should be, with what is round them.

    ``told`` writes the result in a system; what matches ``same`` may be the same, if it is written alike.
    """
    metric, us = (re.sub('"[^"]*"', "", told(result, system=system)).replace("−", "-") for system in ("metric", "us"))
    both = [[*NUMBER.finditer(text)] for text in (metric, us)]
    assert len(both[0]) == len(both[1])
    allowed = {k for found in same.finditer(us) for k in range(*found.span())} if same else set()
    return [
        us[max(two.start() - 25, 0) : two.end() + 12]
        for one, two in zip(*both, strict=True)
        if float(one[0]) == float(two[0]) != 0.0 and (one[0] != two[0] or two.start() not in allowed)
    ]


def sheet(result, *, system):
    return words(result, system=system, digest="abc")


def form(result, *, system):
    return words(result, plot_form, system, digest="abc")


def wall(result, *, system):
    def plot(one, program):
        return plot_wall_sheet([one], ["jar"], title="jars", program=program)

    return words(result, plot, system)


def section(result, *, system):
    with shown_in(system), _as_written(plot_section(result)) as figure:
        return " ".join(text.get_text() for text in figure.findobj(Text))


def screen(result, *, system):
    with shown_in(system):
        return " ".join(" ".join(answer(result, full=True)).split())


@pytest.mark.parametrize("scene", ["advised", "logged", "tapered_advised", "shouldered"])
def test_no_number_is_left_in_millimetres(scene, request):
    result = request.getfixturevalue(scene)
    found = {told.__name__: left_metric(result, told) for told in (sheet, form, wall)}
    # the drawing has nothing but lengths and films, and a table on the screen has parts without a sign
    found["section"] = left_metric(result, section, same=None)
    found["screen"] = left_metric(result, screen, same=re.compile(".*"))
    assert found == dict.fromkeys(found, [])


@pytest.mark.parametrize(("system", "length", "name"), [("metric", 20.0, "20 mm"), ("us", 25.4, "1.000 in")])
def test_the_bar_for_scale_is_round(found, system, length, name):
    with shown_in(system):
        figure = plot_bench_sheet(found, program="p", digest="d")
    lines = [line.get_xdata() for ax in figure.axes for line in ax.lines if line.get_linewidth() == 2.2]
    assert [end - start for start, end in lines] == [pytest.approx(length)]
    assert name in [text.get_text().strip() for ax in figure.axes for text in ax.texts]


@pytest.mark.parametrize(("grams", "weight"), [(241.0, "8.50 oz"), (907.0, "31.99 oz"), (952.5, "2.100 lb")])
def test_a_fill_weight_is_told_as_scales_show_it(found, grams, weight):
    product = found.case.product
    material = dataclasses.replace(product.material, density=1e-3 * grams / found.case.product_volume)
    made = dataclasses.replace(
        found, case=found.case.replace(product=dataclasses.replace(product, material=material))
    )
    assert f"fill weight {weight}" in form(made, system="us")


def test_the_sheet_is_in_inches_and_its_lengths_add_up(found):
    text = sheet(found, system="us")
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
        f"probe length {PROBE:g} in (at hand)",
        f"stick-out {out:.3f} in, outer face of the base's panel to the probe's outer end",
        f"from the seam {abs(out - SUNK):.3f} in beyond its edge",
        f"beyond the fitting {out - OUTSIDE:.3f} in of it, by calipers",
        f"body's edge to axis {body:.3f}, seam's {SEAMED / 2:.3f}",
        f"outer diameter {SEAMED - ALLOWED + 2 * SIDE:.3f}",
        "F0 at 250 °F, z = 18 °F",
    ):
        assert expected in text, expected
    assert not re.search(r"\d (mm|°C|K)\b", text)


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


def test_what_the_case_says_in_its_own_units_is_told_so(found):
    """65.6 degC would be 150.1 degF."""
    case = found.case
    warm = dataclasses.replace(case.product, initial=(150.0 - 32.0) / 1.8)
    made = dataclasses.replace(found, case=case.replace(product=warm))
    assert "product starts at 150.0 °F" in sheet(made, system="us")
    assert "product starts at 65.6 °C" in sheet(made, system="metric")


def test_a_small_lethality_keeps_three_digits_beside_what_it_is_held_against(found):
    own = found.advice.own
    few = [
        dataclasses.replace(one, truth=8.7, lethality=9.54, reading_uncertainty=0.001) for one in own.recommendations
    ]
    rungs = tuple(dataclasses.replace(rung, lethality=9.54, heating_lethality=4.02) for rung in own.ladder)
    candidate = dataclasses.replace(own, recommendations=tuple(few), ladder=rungs)
    advice = dataclasses.replace(found.advice, candidates=(candidate,), chosen=0, settings=())
    bare = found.case.replace(stock=None)
    text = sheet(dataclasses.replace(found, advice=advice, case=bare), system="metric")
    assert "F0 in all 0.159 ± 0.001 min it should be 0.145 ± " in text
