"""A can of sauce as a case's text, its pages as words, and bricks of a paste: what the jobs of a bench start from."""

import dataclasses
import re

import numpy as np
from probed import advised_by_few

from thermsim import case_from_text
from thermsim.case.process import Film, Process, Stage
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.sheet import plot_bench_sheet

#: Millimetres, as the texts below say.
WIDE, HIGH, TIN, GAP, PROBE, OUT = 73.0, 105.0, 0.2, 5.0, 90.0, 10.0
TEXT = """format = 1
title = "A can of sauce"
materials.food = { conductivity_W_mK = 0.55, density_kg_m3 = 1040.0, specific_heat_J_kgK = 3600.0 }
product = { material = "food", thickness = "thin sauce", initial_C = 60.0 }
fill = { headspace_mm = 5.0 }
headspace = { model = "insulated" }
lethality = { reference_C = 121.1, z_C = 10.0, target_min = 60.0 }
accuracy = { temperature_K = 10.0, lethality_percent = 50.0, place_mm = 20.0 }
stock = { probe_lengths_mm = [90.0], stick_out_mm = [10.0, 85.0] }
[container]
inner_diameter_mm = 73.0
inner_height_mm = 105.0
side = { material = "tinplate", thickness_mm = 0.2 }
base = { material = "tinplate", thickness_mm = 0.2 }
lid = { material = "tinplate", thickness_mm = 0.2 }
[process]
start_C = 60.0
film_W_m2K = 1500.0
stage = [{ name = "hold", minutes = 40.0, to_C = 121.1 }, { name = "cool", minutes = 15.0, to_C = 30.0 }]
[probe]
entry = "lid"
mount = "through"
segments = [{ diameter_mm = 2.0, length_mm = 90.0, material = "stainless steel" }]
sensing_mm = 2.0
fitting = { diameter_mm = 10, inside_mm = 3, outside_mm = 8, material = "stainless steel", hole_mm = 9 }
"""
SHAPE = "inner_diameter_mm = 73.0\ninner_height_mm = 105.0"


def replaced(text, *changes):
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def words(figure):
    texts = (*figure.texts, *(text for ax in figure.axes for text in ax.texts))
    return re.sub(r"\s+", " ", " ".join(text.get_text() for text in texts))


def pages(text, *, rungs=(6, 2, 1), **more):
    result = advised_by_few(case_from_text(text, **more), rungs=rungs)
    figures = [plot(result, program="p", digest="d") for plot in (plot_bench_sheet, plot_form)]
    return result, [words(figure) for figure in figures]


#: A paste that does not flow, without a probe.
SOLID = replaced(TEXT[: TEXT.index("[probe]")], ("thin sauce", "gel/solid"), ("stock = ", "# "))
#: Temperatures of a brick's medium, and of the product at the start [degC].
HOT, COLD, START = 121.1, 30.0, 60.0


def brick(sides, *changes):
    return case_from_text(
        replaced(SOLID, (SHAPE, f"brick_mm = {list(sides)}"), ("headspace_mm = 5.0", "headspace_mm = 0.0"), *changes)
    )


def bare(sides, films, *, minutes=40.0, cooling=15.0):
    """A brick without walls, its faces alike, put into a hot medium at once, then into a cold one."""
    heating, cool = (Film(film, film, film) for film in films)
    stages = (
        Stage("hold", np.array([0.0, 60 * minutes]), np.array([HOT, HOT]), heating),
        Stage("cool", 60 * np.array([minutes, minutes + cooling]), np.array([COLD, COLD]), cool),
    )
    case = brick(sides)
    container = dataclasses.replace(case.container, side=None, base=None, lid=None)
    return case.replace(container=container, process=Process(stages))
