"""The pointer over the section: what it reads off, and where surface and tip go that it takes along.

Rung: hand-worked. Places are turned into pixels and back by the picture's own scale.
"""

import re

import numpy as np
import pytest

pytest.importorskip("nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"')

from page_scenes import COARSE, PROBE, visit

from thermsim.figures.container import live
from thermsim.page.picture import HEIGHT, WIDTH

#: Height of the can [mm]: 5 of base, 113 inside, 0.25 of lid; filled to 106.
TOP, SURFACE = 118.25, 106.0
#: A line where what is held would go.
GHOST = 'stroke-dasharray="6 3"'


def picture(at):
    """The page's section, and a function that moves the pointer there to r, z [mm]."""
    section, canvas = at.field("picture"), live.canvas_of(at.bench.case, WIDTH, HEIGHT)

    def move(kind, r, z):
        x, y = canvas.at(r, z)
        at.user.find(marker="picture").trigger("pointer", {"kind": kind, "x": x, "y": y})
        return section._shown["read"]

    return section, move


def test_place_temperature_and_lethality_are_read_off_under_the_pointer():
    async def act(at):
        result = await at.solved()
        _, move = picture(at)
        at.user.find(marker="view").elements.pop().value = "heating"
        return (
            result,
            move("pointermove", -20.0, 50.0),
            move("pointermove", 100.0, 50.0),
            move("pointerleave", 0.0, 50.0),
        )

    result, read, *outside = visit(act)
    assert outside == ["", ""]
    found = re.fullmatch(r"r = ([\d.]+) mm, z = ([\d.]+) mm: ([\d.]+) °C when heating ends, F0 = ([\d.]+) min", read)
    r, z, temperature, lethality = (float(number) for number in found.groups())
    # to a pixel, a quarter of a millimetre
    assert r == pytest.approx(20.0, abs=0.3) and z == pytest.approx(50.0, abs=0.3)
    i, j = np.abs(result.grid.columns - 0.020).argmin(), np.abs(result.grid.levels - 0.050).argmin()
    near = slice(max(i - 1, 0), i + 2), slice(j - 1, j + 2)
    for value, field in ((temperature, result.end_of_heating), (lethality, result.lethality / 60)):
        assert field[near].min() - 0.01 <= value <= field[near].max() + 0.01


def test_the_surface_and_the_tip_go_with_the_pointer_and_the_case_follows():
    async def act(at):
        await at.solved()
        section, move = picture(at)
        moves = []
        for held, places in (
            ("fill", ((20.0, SURFACE), (20.0, 98.0))),
            ("tip", ((0.0, TOP - 60.0), (0.0, TOP - 44.9))),
        ):
            move("pointerdown", *places[0])
            moves.append((move("pointermove", *places[1]), section.drawing.count(GHOST)))
            move("pointerup", *places[1])
            moves.append(at.bench.draft.value(("fill",) if held == "fill" else ("probe", "insertion_mm")))
        return moves, section.drawing.count(GHOST)

    (fill, filled, tip, set_to), left = visit(act, COARSE + PROBE)
    # to the step of half a millimetre, from the inside of the lid and from the outside of it
    assert fill == ("headspace 20 mm", 1) and filled == {"headspace_mm": 20.0}
    assert tip == ("insertion 45 mm", 1) and set_to == 45.0
    assert left == 0
