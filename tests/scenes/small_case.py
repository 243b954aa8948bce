"""The small case that the tests of the reader vary."""

import pytest

from thermsim import case_from_text
from thermsim.errors import CaseError

SMALL = """\
format = 1
title = "Small"

[container]
inner_diameter_mm = 66.0
inner_height_mm = 113.0
side = { material = "soda-lime glass", thickness_mm = 3.0 }
base = { material = "soda-lime glass", thickness_mm = 5.0 }
lid = { material = "tinplate", thickness_mm = 0.25 }

[materials."dense paste"]
conductivity_W_mK = 0.55
density_kg_m3 = 1050
specific_heat_J_kgK = 3700

[product]
material = "dense paste"
initial_C = 40.0

[fill]
headspace_mm = 12.0

[headspace]
model = "insulated"

[process]
start_C = 40.0

[[process.stage]]
name = "come-up"
minutes = 12
to_C = 118
film_W_m2K = 450

[[process.stage]]
name = "hold"
minutes = 75
film_W_m2K = { side = 450, base = 60, lid = inf }

[[process.stage]]
name = "cool"
minutes = 20
to_C = 30
film_W_m2K = 300

[lethality]
reference_C = 121.1
z_C = 10.0

[[points]]
name = "mid-height"
r_mm = 0.0
z_mm = 59.0
"""

SHAPE = """\
inner_diameter_mm = 66.0
inner_height_mm = 113.0
"""

WITH_RECORD = """\
[process]
csv = "retort.csv"
film_W_m2K = 500
cooling_starts_min = 20
cooling_film_W_m2K = 300

"""

STEM = """
[probe]
entry = "lid"
mount = "through"
insertion_mm = 54.0
segments = [{ diameter_mm = 3.0, length_mm = 94.0, material = "stainless steel" }]
sensing_mm = 2.0
fitting = { diameter_mm = 12.0, inside_mm = 4.0, outside_mm = 10.0, material = "PEEK" }

[stock]
probe_lengths_mm = [60, 94]
stick_out_mm = [15, 45]
"""

LOGGER = """
[probe]
name = "logger"
entry = "base"
mount = "inside"
segments = [
    { diameter_mm = 8.0, length_mm = 20.0, material = "PEEK", spacer = true },
    { diameter_mm = 16.0, length_mm = 22.0, material = "stainless steel" },
    { diameter_mm = 3.0, length_mm = 10.0, material = "stainless steel" },
]
sensing_mm = 2.0

[stock]
spacers_mm = [5, 10, 20]
most_spacers = 2
"""

SECOND = """
[[probes]]
name = "second"
entry = "lid"
mount = "through"
segments = [{ diameter_mm = 1.5, length_mm = 94.0, material = "PEEK", wall_mm = 0.5, core = "copper" }]
sensing_mm = 0
"""
#: What cools the can in still air instead of in water.
COOL = ('name = "cool"\nminutes = 20\nto_C = 30\nfilm_W_m2K = 300', 'name = "cool"\nminutes = 0\nto_C = 25\n\n'
        '[[process.stage]]\nname = "cool"\nminutes = 60\nmedium = "still air"')  # fmt: skip


def changed(*changes, text=SMALL):
    """The text with pieces of it exchanged, each of which must be there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def shaped(shape, *changes, text=SMALL):
    """The small case with another shape of its container."""
    return changed((SHAPE, f"{shape}\n"), *changes, text=text)


def recorded(*changes):
    """The case with a record in place of its stages."""
    start, end = SMALL.index("[process]"), SMALL.index("[lethality]")
    return changed(*changes, text=SMALL[:start] + WITH_RECORD + SMALL[end:])


def faults_of(text, **options):
    """The faults for which a case is refused."""
    with pytest.raises(CaseError) as refused:
        case_from_text(text, name="jar.toml", **options)
    return list(refused.value.faults)
