"""A brick's drawing on a bench sheet: its walls, its product and its probe where they are, dimensions that are true.

Rung: hand-worked. Nothing is solved: a drawing needs the case and the depth alone.
"""

from types import SimpleNamespace

import pytest
from job_cases import OUT, PROBE, SHAPE, TEXT, TIN, replaced
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle
from numpy.testing import assert_allclose

from thermsim import case_from_text
from thermsim.figures import style
from thermsim.figures.bench.brick import draw_brick, draw_edge
from thermsim.figures.bench.setting import Bench

LONG, BROAD, HIGH, GAP = 180.0, 130.0, 40.0, 5.0
PAPER = (93.0, 94.0)
#: One multiplication apart.
EXACT = {"rtol": 1e-9, "atol": 1e-9}


def drawn(draw, depth, entry='"lid"'):
    """The drawing of a brick with a probe at a depth [mm], and its axes."""
    shape = f"brick_mm = [{LONG}, {BROAD}, {HIGH}]"
    case = case_from_text(replaced(TEXT, (SHAPE, shape), ('entry = "lid"', f"entry = {entry}")))
    probe = case.probe.at_depth(depth / 1000.0, case.container)
    bench = Bench(None, None, probe, depth / 1000.0, None, (), None, (0.0, 1.0))
    ax = Figure(figsize=(PAPER[0] / 25.4, PAPER[1] / 25.4)).add_axes((0, 0, 1, 1))
    return draw(SimpleNamespace(case=case, brick=None, probe=None), bench, ax=ax, paper=PAPER), ax


def boxes(ax, colour):
    """Left, bottom, width and height [mm] of all that is filled with a colour."""
    found = [patch for patch in ax.patches if isinstance(patch, Rectangle)]
    return [
        (*patch.get_xy(), patch.get_width(), patch.get_height())
        for patch in found
        if to_hex(patch.get_facecolor()) == to_hex(colour)
    ]


def test_both_sections_have_walls_round_the_room_and_product_up_to_the_headspace():
    drawing, ax = drawn(draw_brick, 22.0)
    walls, rooms, fills = (boxes(ax, colour) for colour in (style.WALL, "white", style.PRODUCT))
    assert len(walls) == len(rooms) == len(fills) == 2
    for side, wall, room, fill in zip((LONG, BROAD), walls, rooms, fills, strict=True):
        below = wall[1]
        assert_allclose(wall, (-side / 2 - TIN, below, side + 2 * TIN, HIGH + 2 * TIN), **EXACT)
        assert_allclose(room, (-side / 2, below + TIN, side, HIGH), **EXACT)
        assert_allclose(fill, (-side / 2, below + TIN, side, HIGH - GAP), **EXACT)
    # the second section lies below the first, and the probe ends at its depth from the lid's outer face in both
    assert walls[0][1] == 0.0 and walls[1][1] < -HIGH
    assert_allclose(drawing.probe[-1].get_y(), HIGH + 2 * TIN - 22.0, **EXACT)
    tips = [text.get_position() for text in drawing.labels if text.get_text() == "tip"]
    assert_allclose([y for _, y in tips], [HIGH + 2 * TIN - 22.0], **EXACT)
    scale = drawing.scale
    across = ax.get_xlim()[1] - ax.get_xlim()[0]
    assert_allclose(PAPER[0] / across, scale, **EXACT)
    said = " ".join(text.get_text() for text in drawing.dimensions)
    for side, name in ((LONG, "length"), (BROAD, "width")):
        assert f"edge to hole {side / 2 + TIN:.1f} {name} outside {side + 2 * TIN:.1f}" in said
    assert "22.0" in said and f"{PROBE - 22.0:.1f}" in said


@pytest.mark.parametrize(("edge", "wide"), [("short", BROAD), ("long", LONG)])
def test_the_edge_is_drawn_from_outside_with_its_hole_at_the_probes_height(edge, wide):
    """A short edge is as long as the brick is broad; the hole is drilled 9 mm wide."""
    drawing, ax = drawn(draw_edge, PROBE - OUT, f'"side"\nedge = "{edge}"\nz_mm = 12.0')
    left, below, width, height = boxes(ax, style.WALL)[-1]
    assert_allclose([width, height], [wide + 2 * TIN, HIGH + 2 * TIN], **EXACT)
    middle = sum(ax.get_xlim()) / 2
    assert_allclose(left, middle - width / 2, **EXACT)
    (hole,) = [patch for patch in ax.patches if isinstance(patch, Circle)]
    assert_allclose([*hole.center, hole.radius], [middle, below + 12.0, 4.5], **EXACT)
    said = " ".join(text.get_text() for text in drawing.dimensions)
    assert f"end to hole {wide / 2 + TIN:.1f} outside {wide + 2 * TIN:.1f}" in said
    title = drawing.labels[-1]
    assert title.get_text() == f"the {edge} edge from outside" and title.get_position()[1] > below + height
