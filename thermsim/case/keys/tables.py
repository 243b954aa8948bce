"""The keys of a case file: for each its unit, its meaning, its default and what is allowed.

The reader, the starting case and ``thermsim keys`` all go by what stands here.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping

from thermsim.case.keys.key import Key, film, positive, temperature
from thermsim.case.keys.pack_keys import PACK_TABLES
from thermsim.case.keys.study_keys import STUDY_TABLES
from thermsim.quantities import DIFFERENCE, TIME

# Most and fewest times at which temperatures are kept.
MOST_OUTPUTS, FEWEST_OUTPUTS = 2000, 60

TABLES: Mapping[str, tuple[Key, ...]] = {
    **PACK_TABLES,
    "process": (
        temperature("start_C", "medium's temperature at the start", "required, but not with csv"),
        Key("stage", "the stages in order, [[process.stage]]", "required, but not with csv", most=500),
        film(
            "film_W_m2K",
            "heat-transfer coefficient of every stage that names none (with csv: while heating)",
            "no value",
        ),
        Key(
            "medium",
            "name of the heating medium, for a usual heat-transfer coefficient and its range, in place of film_W_m2K",
            "film_W_m2K is given",
        ),
        Key("csv", "file of the logged medium temperature, its path seen from the case file", "none: stages"),
        Key("csv_time", "column of the time: its header, or its number from 1", "found by its header"),
        Key("csv_temperature", "column of the medium's temperature: its header or number", "the only one there is"),
        Key("csv_time_unit", '"s", "min", "h", "hh:mm:ss", "hh:mm" or "mm:ss"', "read from the header"),
        Key("csv_decimal", 'decimal sign in the csv, "." or ","', "found by looking"),
        positive("cooling_starts_min", "when cooling starts, after the first sample", "required with csv"),
        film(
            "cooling_film_W_m2K", "heat-transfer coefficient while cooling", "required with csv, if it holds cooling"
        ),
        Key(
            "cooling_medium",
            "with csv: the medium while cooling, in place of cooling_film_W_m2K",
            "cooling_film_W_m2K is given",
        ),
        positive("thin_K", "how closely the thinned log follows every sample", 0.02, high=5),
    ),
    "process.stage": (
        Key("name", '"come-up", "hold" or "cool"; the first "cool" ends the heating'),
        Key("minutes", "how long it lasts; 0 for a jump of the medium's temperature", low=0, high=1e5, given_as=TIME),
        temperature("to_C", "medium's temperature at its end, reached along a straight line", "as at its start"),
        film(
            "film_W_m2K",
            "heat-transfer coefficient, a number or { side, base, lid }; inf allowed",
            "process.film_W_m2K",
        ),
        Key("medium", "name of the medium, in place of film_W_m2K", "process.medium"),
    ),
    "film": (
        film("side", "heat-transfer coefficient at the side wall"),
        film("base", "heat-transfer coefficient at the base"),
        film("lid", "heat-transfer coefficient at the lid"),
        film(
            "probe", "heat-transfer coefficient at the probe's parts outside", "film_W_m2K of [probe], or the wall's"
        ),
    ),
    "lethality": (
        temperature("reference_C", "reference temperature"),
        # a rate stays a number wherever food can be: at most 260 decades
        Key("z_C", "rise in temperature that makes the lethal rate tenfold", low=1, high=200, given_as=DIFFERENCE),
        positive("target_min", "lethality that is wanted", "none"),
        positive("zone_percent", "cold zone: where lethality is less than this above the least", 10.0, high=1000),
        temperature(
            "reach_C", "list of temperatures whose first arrival at the cold spot is reported", "none", most=100
        ),
    ),
    "probe": (
        Key("entry", 'wall that it enters, hangs from or stands on: "lid", "base" or "side"'),
        Key("mount", '"through": passes that wall; "inside": hangs from it or stands on it within'),
        positive(
            "insertion_mm", "outer face of that wall to the tip; with through only", "to be recommended", high=4000
        ),
        Key(
            "z_mm",
            "height of its axis above the outside of the base, at its rim; with side only",
            "the cold spot's height, with side",
            low=0,
            high=4000,
        ),
        Key("edge", 'of a brick, with side only: through the middle of its "short" or its "long" edge', '"short"'),
        Key(
            "segments",
            "list of the cylinders it is made of: the outer end, or the foot, first; the tip last",
            most=50,
        ),
        Key("sensing_mm", "length at the tip over which the sensor averages; 0: the tip's face", low=0, high=2000),
        Key("fitting", "gland, boss or insert in that wall, a table", "none"),
        Key("gap", "layer between stem and product, a table", "none: stem and product touch"),
        film(
            "film_W_m2K",
            "heat-transfer coefficient at the parts outside, where a stage names none",
            "that of the wall",
        ),
        temperature("initial_C", "temperature of the probe at the start", "product.initial_C"),
        Key("name", "a name of its own", '"probe"; required in [[probes]]'),
    ),
    "probe.segments": (
        Key("diameter_mm", "outer diameter", low=0.2, high=2000),
        positive("length_mm", "length", high=4000),
        Key("material", "name of a material; that of the wall where it is a tube"),
        positive("wall_mm", "wall of a tube; with core only", "none: a solid rod", high=1000),
        Key("core", "name of the material that fills the tube; with wall_mm only", "none: a solid rod"),
        Key("spacer", "true: its length is made up of the spacers in [stock]; with inside only", "false"),
    ),
    "probe.fitting": (
        positive("diameter_mm", "outer diameter", high=2000),
        Key("inside_mm", "how far it reaches inwards from the wall's inner face", low=0, high=2000),
        Key("outside_mm", "how far it reaches outwards from the wall's outer face", low=0, high=2000),
        Key("material", "name of a material"),
        positive("hole_mm", "diameter of the hole to be drilled for it", "as the fitting's maker says", high=2000),
        Key("thread", "its thread or body as it is called, for the bench sheet", "not named"),
    ),
    "probe.gap": (
        positive("thickness_mm", "thickness of the layer", high=20),
        Key("material", "name of the material that fills it"),
    ),
    "stock": (
        positive(
            "probe_lengths_mm", "list of lengths of the probes at hand, outer end to tip", "none", high=4000, most=100
        ),
        Key(
            "stick_out_mm",
            "[least, most] that a probe may stick out of the wall's outer face",
            "none: the fitting cannot be set",
            low=0,
            high=4000,
        ),
        positive(
            "spacers_mm",
            "list of heights of the spacers at hand, each any number of times",
            "none",
            high=2000,
            most=20,
        ),
        Key("most_spacers", "how many spacers may be stacked", 3.0, low=1, high=6),
    ),
    "points": (
        Key("name", "a name of its own"),
        Key("r_mm", "distance from the axis", low=0, high=2000),
        Key("z_mm", "height above the outside of the base, at its rim", low=0, high=4000),
    ),
    "accuracy": (
        Key("temperature_K", "numerical uncertainty allowed in temperatures", 0.05, 0.0005, 10),
        Key("lethality_percent", "numerical uncertainty allowed in lethalities", 1.0, 0.005, 50),
        Key("place_mm", "numerical uncertainty allowed in places", 0.5, 0.005, 50),
    ),
    "output": (
        positive("every_min", "step of the times at which temperatures are kept", "a round one, about 1/240 of it"),
    ),
    "family": (Key("name", "a name of its own; beside it the tables that differ: container = { ... }, fill, ..."),),
    **STUDY_TABLES,
}

# How many tables of a kind there may be at the top.
MOST_TABLES = {"points": 200, "probes": 20}

# How tables are written that do not stand under their name in brackets.
_WRITTEN = {
    "": "at the top",
    "container.wall": "side, base, lid in [container]",
    "materials": '[materials."name"]',
    "film": "heat-transfer (film) coefficients as { side, base, lid }",
    "probe": "[probe] and each of [[probes]]",
    **{f"probe.{part}": f"{part} in [probe]" for part in ("segments", "fitting", "gap")},
    **{several: f"[[{several}]]" for several in ("process.stage", "points", "family", "study.vary")},
}
# How each table is written, in the order in which they are explained.
HEADINGS: Mapping[str, str] = {name: _WRITTEN.get(name, f"[{name}]") for name in TABLES}

# The contents of each table, in a few words.
CONTENTS: Mapping[str, str] = {
    "": "version of the format and title",
    "container": "shape of the inside, walls",
    "container.wall": "material and thickness of a wall",
    "materials": "a material of your own, beside the built-in library",
    "product": "the product and its temperature at the start",
    "fill": "how much product is in the container",
    "headspace": "what is above the product, and how it carries heat",
    "process": "the heating medium: stages, or a logger's file",
    "process.stage": "one stage of the process",
    "film": "a heat-transfer (film) coefficient for each surface",
    "lethality": "reference temperature, z value, target",
    "probe": f"the probe or logger, and where it goes; at most {MOST_TABLES['probes']} further ones",
    "probe.segments": "one cylinder of a probe",
    "probe.fitting": "gland, boss or insert in the wall",
    "probe.gap": "layer between stem and product",
    "stock": "probes and spacers at hand",
    "points": f"a further place to follow; at most {MOST_TABLES['points']}",
    "accuracy": "numerical uncertainty that is allowed",
    "output": "how often temperatures are kept",
    "family": "a container, fill, ... of a family, for one table of settings",
    "study": "what is varied, and how",
    "study.vary": "one quantity that is varied",
}

REQUIRED_TABLES = ("container", "product", "fill", "process", "lethality")
OPTIONAL_TABLES = (
    "materials", "headspace", "probe", "probes", "stock", "points", "accuracy", "output", "study", "family",
)  # fmt: skip

# The tables of which a member of a family may say what differs.
FAMILY_TABLES = ("container", "product", "fill", "headspace", "process", "probe")

# What a table that is left out would have to hold, where that is more than its required keys.
NEEDED: Mapping[str, str] = {
    "container": "a diameter and a height (inner_diameter_mm, inner_height_mm), or one of profile_mm, size, brick_mm",
    "product": "material or composition, initial_C",
    "fill": "one of " + ", ".join(key.name for key in TABLES["fill"]),
    "process": "start_C and [[process.stage]], or csv",
}

# The keys of the ways in which a container's shape is given.
DIAMETER_KEYS = ("inner_diameter_mm", "outer_diameter_mm", "diameter_over_seams_mm")
HEIGHT_KEYS = ("inner_height_mm", "outer_height_mm", "height_over_seams_mm")
WHOLE_SHAPES = ("profile_mm", "size", "brick_mm")
SHAPE_KEYS = (*DIAMETER_KEYS, *HEIGHT_KEYS, *WHOLE_SHAPES)

# What people may try that is written otherwise here: table -> key -> the keys that it is, and how to say it.
_BRICK = (SHAPE_KEYS, "a brick, a carton or a flat pouch is written brick_mm = [length, width, thickness]")
_WIDE = (("inner_diameter_mm",), "write inner_diameter_mm, outer_diameter_mm or diameter_over_seams_mm")
_UNITS = ("mm", "in")
_RADIUS = (_WIDE[0], "write a diameter, twice the radius: inner_diameter_mm or outer_diameter_mm")
_ROUND = (_WIDE[0], "write outer_diameter_mm: what is measured round the body over 3.1416")
_WEIGHED = {f"{name}_{unit}": f"mass_{unit}" for name in ("weight", "fill_weight") for unit in ("g", "lb", "oz")}
_HIGH = (("inner_height_mm",), "write inner_height_mm, outer_height_mm or height_over_seams_mm")
_RISE = (("base_rise_mm",), "a base that rises towards the axis is written base_rise_mm")
# From round to flat the circumference stays: where a part s of the thickness is left, the section is 2 s - s^2 of the
# round one, and so the mean of it two thirds (computed).
_CRIMP = (
    ("inner_height_mm",),
    "a crimp is not round: count two thirds of the length over which the tube flattens into its height, which holds "
    "as much product",
)
_AT_REST: tuple[tuple[str, ...], str] = (
    (),
    "the model is of a container that stands upright and at rest: one that lies, is shaken or rotates heats "
    "otherwise and is not handled",
)
_MOVED = dict.fromkeys(
    (
        "orientation", "position", "lying", "horizontal", "tilt_deg", "agitation", "agitated", "rotation", "rotating",
        "rotary", "rotation_rpm", "rpm", "shaking", "reel_rpm",
    ),
    _AT_REST,
)  # fmt: skip
OTHERWISE: Mapping[str, Mapping[str, tuple[tuple[str, ...], str]]] = {
    **dict.fromkeys(("", "product", "headspace", "process"), _MOVED),
    "container": {
        **_MOVED,
        **dict.fromkeys(("length_mm", "width_mm", "shape", "brick", "box", "box_mm", "pouch", "pouch_mm"), _BRICK),
        **dict.fromkeys((f"diameter_{unit}" for unit in _UNITS), _WIDE),
        **dict.fromkeys((f"{side}radius_{unit}" for side in ("", "inner_", "outer_") for unit in _UNITS), _RADIUS),
        **dict.fromkeys((f"{name}_{unit}" for name in ("circumference", "girth") for unit in _UNITS), _ROUND),
        **dict.fromkeys(("height_mm", "height_in"), _HIGH),
        **dict.fromkeys((f"crimp{end}" for end in ("", "_mm", "_in", "_length_mm", "_length_in")), _CRIMP),
        **dict.fromkeys(("punt_mm", "dome_mm", "punt_in", "dome_in"), _RISE),
    },
    "process.stage": {
        **_MOVED,
        **dict.fromkeys(("seconds", "hours", "duration", "time_min"), (("minutes",), "write minutes")),
        **{f"{name}_{unit}": (("to_C",), f"write to_{unit}") for name in ("temperature", "end") for unit in "CF"},
    },
    "lethality": dict.fromkeys(("F0", "F", "P", "target", "F0_min", "F_min"), (("target_min",), "write target_min")),
    "fill": {**_MOVED, **{name: ((key,), f"write {key}") for name, key in _WEIGHED.items()}},
}
BASE_RISES = ("dome", "cone")
HEADSPACE_MODELS = ("fixed", "insulated", "air", "humid")
ENTRIES = ("lid", "base", "side")
#: Of a brick, by the length of its sides.
EDGES = ("short", "long")
MOUNTS = ("through", "inside")
STAGE_NAMES = ("come-up", "hold", "cool")
CSV_ONLY = (
    "csv_time", "csv_temperature", "csv_time_unit", "csv_decimal", "cooling_starts_min", "cooling_film_W_m2K",
    "cooling_medium", "thin_K",
)  # fmt: skip


def keys_of(table: str) -> dict[str, Key]:
    """Keys of a table by name."""
    return {key.name: key for key in TABLES[table]}


@functools.cache
def others_of(table: str) -> Mapping[str, tuple[Key, Key]]:
    """Keys of a table in the other system of units, by name: each with the key that stands in the table."""
    return {other.name: (other, key) for key in TABLES[table] for other in key.others}
