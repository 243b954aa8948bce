"""The keys that say what is packed in what: container, materials, product, fill and headspace."""

from __future__ import annotations

from collections.abc import Mapping

from thermsim.case.keys.key import Key, positive, temperature

_ONE_FILL = "exactly one of these five"
_ONE_SHAPE = "a diameter and a height, or exactly one of profile_mm, size, brick_mm"
_A_HEIGHT = "required with a diameter: one of the heights, or brimful_ml"

# Sizes of cans that are often met (from memory); any other may be written.
_SIZES = (
    *("202x204", "202x308", "211x300", "211x400", "300x407", "303x406", "307x113", "307x306"),
    *("307x409", "401x206", "401x411", "404x307", "404x700", "603x700"),
)


def _width(name: str, meaning: str) -> Key:
    return Key(name, meaning, _ONE_SHAPE, low=3, high=2000)


def _height(name: str, meaning: str) -> Key:
    return Key(name, meaning, _A_HEIGHT, low=3, high=2000)


PACK_TABLES: Mapping[str, tuple[Key, ...]] = {
    "": (
        Key("format", "version of the case format, 1"),
        Key("title", "what the case is about, one line"),
        Key("member", "name of the member of [[family]] that this case is", "the case itself"),
    ),
    "container": (
        _width(
            "inner_diameter_mm",
            "diameter between the insides of the side wall; [at the base, at the lid] for a taper",
        ),
        _height("inner_height_mm", "from the inside of the base (at its rim) to the inside of the lid"),
        _width(
            "outer_diameter_mm",
            "diameter of the body over its side wall, without seams; [at the base, at the lid] for a taper",
        ),
        _height("outer_height_mm", "outside of the base to outside of the lid, between the seams of a can"),
        _width("diameter_over_seams_mm", "diameter of a can over its seams"),
        _height("height_over_seams_mm", "height of a can from seam to seam, as it stands"),
        Key(
            "countersink_mm",
            "seam's top down to the outer face of the lid's panel, likewise at the base: one number, or [base, lid]",
            "no seams; with sizes over the seams: from countersink_allowance_mm",
            low=0,
            high=20,
        ),
        positive(
            "brimful_ml",
            "volume of the inside full to the lid: gives the diameter or height left out, or scales the diameters",
            "not known",
            high=1e7,
        ),
        Key(
            "profile_mm",
            "inside of the side wall, [[height, radius], ...]; heights above the inside of the base, from 0 upwards",
            _ONE_SHAPE,
            low=0,
            high=2000,
        ),
        positive("rounding_mm", "radius of the profile's corners between its ends", "sharp", high=1000),
        Key(
            "size",
            'trade size over the seams, "307x409": diameter x height, whole inches and two digits of sixteenths',
            _ONE_SHAPE,
            usual=_SIZES,
        ),
        Key(
            "seam_allowance_mm",
            "with sizes over the seams: diameter over the seam less inner diameter (common practice, no source)",
            3.0,
            low=0,
            high=20,
        ),
        Key(
            "countersink_allowance_mm",
            "with sizes over the seams: outer less inner height, both ends together (common practice, no source)",
            8.0,
            low=0,
            high=40,
        ),
        _width("brick_mm", "[length, width, thickness] of a brick or flat pouch; maps go by the cylinder round it"),
        positive(
            "base_rise_mm", "how far the base rises at the axis above its rim (a punt)", "level base", high=2000
        ),
        Key("base_rise_form", '"dome" (a cap of a sphere) or "cone"', '"dome"'),
        positive("base_rise_diameter_mm", "diameter of the rise", "the inner diameter at the base", high=2000),
        Key("side", "side wall, a table of material and thickness_mm", "no wall: product and medium meet"),
        Key("base", "base, likewise; reaches the outer diameter", "no wall: product and medium meet"),
        Key("lid", "lid, likewise; reaches the outer diameter", "no wall: what is below meets the medium"),
        temperature("initial_C", "temperature of the walls at the start", "product.initial_C"),
    ),
    "container.wall": (
        Key("material", "name of a material, of the case or of the library"),
        Key(
            "thickness_mm",
            "thickness; of a side also a list: one for each point of the profile, or [at the base, at the lid]",
            low=0.02,
            high=200,
        ),
        positive(
            "contact_m2K_W",
            "thermal resistance between wall and medium: a label, a sleeve; thickness over conductivity",
            "none",
            high=1,
        ),
        Key("label", 'name of the material of a label or a sleeve, such as "paper"; without contact_m2K_W', "none"),
        positive("label_mm", "thickness of the label or sleeve; with label only", "none", high=5),
    ),
    "materials": (
        positive(
            "conductivity_W_mK",
            "thermal conductivity; or [[temperature in degC, value], ...] (degF in Btu)",
            high=5000,
            tabled=True,
        ),
        positive("density_kg_m3", "density; or a table likewise", high=25000, tabled=True),
        Key("specific_heat_J_kgK", "specific heat; or a table likewise", low=10, high=20000, tabled=True),
        Key("source", "where the numbers come from", "the case file"),
    ),
    "product": (
        Key("material", "name of a material, of the case or of the library", "exactly one of material, composition"),
        Key(
            "composition",
            "mass fractions { water, protein, fat, carbohydrate, fibre, ash, ice }, together 1",
            "exactly one of material, composition",
        ),
        Key(
            "mixing_rule",
            'how the components share in conduction: "maxwell-eucken", "parallel", "series" or "geometric"',
            '"maxwell-eucken"',
        ),
        temperature("initial_C", "temperature of the product at the start, everywhere the same"),
        positive(
            "viscosity_Pa_s",
            "viscosity in slow shear, or [[temperature in degC, value], ...] (degF in cP): does the product convect?",
            "not looked at, unless thickness is given",
            high=1e7,
            tabled=True,
        ),
        Key(
            "thickness",
            'in place of viscosity: "water-like", "thin sauce", "thick sauce", "paste" or "gel/solid"',
            "not looked at, unless viscosity_Pa_s is given",
        ),
        Key("pieces", 'what pieces are in the product, in words: "carrot cubes"', "none"),
    ),
    "fill": (
        Key("headspace_mm", "product's surface to the inside of the lid", _ONE_FILL, low=0, high=2000),
        positive("height_mm", "depth of the product above the inside of the base, at its rim", _ONE_FILL, high=2000),
        positive("fraction", "part of the inner volume that is filled", _ONE_FILL, high=1),
        positive("mass_g", "mass of the product", _ONE_FILL, high=1e7),
        positive("volume_ml", "volume of the product", _ONE_FILL, high=1e7),
    ),
    "headspace": (
        Key(
            "model",
            '"fixed": conducts like the material named; "insulated": lets no heat through; "air": dry gas at rest '
            'and radiation; "humid": that and vapour',
        ),
        Key("material", "material whose conductivity is the headspace's effective one", "required for fixed"),
        Key(
            "emissivity_product",
            "of the product's surface; 0.9 to 0.95 is usual (from memory)",
            "required for air, humid",
            low=0.01,
            high=1,
        ),
        Key(
            "emissivity_lid",
            "of the lid's inside; lacquer, glass, plastic 0.8 to 0.95, bright metal 0.05 to 0.1 (from memory)",
            "required for air, humid",
            low=0.01,
            high=1,
        ),
        temperature(
            "sealed_at_C",
            "temperature of the gas, saturated, when the container was closed",
            "humid: this or pressure_kPa",
        ),
        Key(
            "pressure_kPa",
            "pressure of the gas: constant, or with sealed_at_C when it was closed",
            "101.325 with sealed_at_C",
            low=1,
            high=2000,
        ),
        Key("lid_wet", "true: the lid feeds vapour downwards as well (the other bound)", "false"),
    ),
}
