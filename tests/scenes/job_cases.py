"""A can of sauce as a case's text, and its pages as words: what the jobs of a bench start from."""

import re

from probed import advised_by_few

from thermsim import case_from_text
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
