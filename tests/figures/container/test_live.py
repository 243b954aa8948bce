"""The section for a screen: values at pixels, colours, outlines; of straight and of other containers.

Rung: hand-worked.
"""

import io

import numpy as np
import pytest
from matplotlib.image import imread
from small_case import SMALL, changed

from thermsim import case_from_text
from thermsim.figures.container import live, pixels
from thermsim.quantities import mm
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family

TAPERED = changed(("inner_diameter_mm = 66.0", "inner_diameter_mm = [58.0, 66.0]"))


def _drawn(text):
    case = case_from_text(text)
    grid = grid_family(body_of(case), refinement=0.6)[1]
    return case, grid, live.canvas_of(case, 400, 300)


@pytest.mark.parametrize("text", [SMALL, TAPERED], ids=["straight", "tapered"])
def test_a_field_that_is_linear_is_read_off_as_it_is(text):
    """Between nodes a field is linear, so that one that is so everywhere must be found exactly at every pixel."""
    case, grid, canvas = _drawn(text)
    field = 2.0 * mm(grid.r) - 3.0 * mm(grid.z)
    x, y = canvas.at(0.31 * mm(case.container.outer_radius), 0.6 * mm(case.container.outer_height))
    r, z = (abs(int(x) - round(canvas.axis)) + 0.5) / canvas.scale, canvas.place(0.0, int(y) + 0.5)[1]
    assert pixels.value_at(grid, field, canvas, int(x), int(y)) == pytest.approx(2.0 * r - 3.0 * z, abs=1e-9)
    assert np.isnan(pixels.value_at(grid, field, canvas, 2.0, 2.0))
    # the axis is a line of symmetry
    mirrored = 2 * round(canvas.axis) - int(x)
    assert pixels.value_at(grid, field, canvas, mirrored, int(y)) == pixels.value_at(
        grid, field, canvas, int(x), int(y)
    )


@pytest.mark.parametrize("text", [SMALL, TAPERED], ids=["straight", "tapered"])
def test_colours_are_those_of_the_bands_and_what_is_unknown_is_white(text):
    case, grid, canvas = _drawn(text)
    level = 0.5 * mm(case.container.outer_height)
    field = np.where(mm(grid.z) < level, 10.0, 30.0)
    field[mm(grid.z) > 0.9 * mm(case.container.outer_height)] = np.nan
    scale = pixels.Scale((0.0, 20.0, 40.0), (0.0, 40.0), "x", "viridis")
    picture = imread(io.BytesIO(pixels.field_png(grid, field, scale, canvas)))
    assert picture.shape[:2] == (300, 400)
    cold, hot = scale.shades() / 255.0
    axis, top = round(canvas.axis), mm(case.container.outer_height)
    low, high = (round(canvas.at(0.0, part * top)[1]) for part in (0.2, 0.8))
    for x in (axis - 3, axis + 2):
        assert picture[low, x, :3] == pytest.approx(cold, abs=1e-6)
        assert picture[high, x, :3] == pytest.approx(hot, abs=1e-6)
    assert (picture[round(canvas.at(0.0, 0.97 * top)[1]), axis, :3] == 1.0).all()
    assert (picture[0, 0, :3] == 1.0).all()
    assert (imread(io.BytesIO(pixels.blank_png(canvas)))[..., :3] == 1.0).all()


@pytest.mark.parametrize("sensing", [6.0, 0.0])
@pytest.mark.parametrize("entry", ["lid", "base", "side"])
def test_a_probe_is_drawn_with_the_length_that_it_senses(entry, sensing):
    """A stem 4 mm thick whose tip is 25 mm from the outside of the wall that it enters."""
    probe = f"""
[probe]
entry = "{entry}"
mount = "through"
segments = [{{ diameter_mm = 4.0, length_mm = 90.0, material = "stainless steel" }}]
sensing_mm = {sensing}
insertion_mm = 25.0
"""
    case = case_from_text(SMALL.partition("[probe]")[0] + probe + ("z_mm = 31.0\n" if entry == "side" else ""))
    canvas = live.canvas_of(case, 400, 300)
    top, radius = mm(case.container.outer_height), mm(case.container.outer_radius)
    if entry == "side":
        tip = radius - 25.0
        places = [(tip, 31.0), (tip + sensing, 31.0)] if sensing else [(tip, 29.0), (tip, 33.0)]
    else:
        tip, back = (top - 25.0, sensing) if entry == "lid" else (25.0, -sensing)
        places = sorted([(0.0, tip), (0.0, tip + back)]) if sensing else [(-2.0, tip), (2.0, tip)]
    points = " ".join("{:.2f},{:.2f}".format(*canvas.at(*place)) for place in places)
    found = live.outlines_svg(case, canvas, filled=False)
    assert found.count(f'<polyline points="{points}"') == 2
