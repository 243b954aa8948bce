"""The built-in materials' numbers, one by one.

Rung: published value. Those of DIN EN 12524:2000 are compared with the table that the open-source package ht carries;
the others stand here once more, with what the library names as their source, so that a slip shows.
"""

import pytest

from thermsim.physics.materials import find_material, library

#: Conductivity [W/mK], density [kg/m3], specific heat [J/kgK] of what is in no table that a package carries.
#: "from memory" was recalled, not looked up.
ELSEWHERE = {
    "PET": (0.2, 1360, 1000),  # a plastics engineering text, Table 1.8, p. 31 (OCR of a scan)
    "AISI 304": (14.9, 7900, 477),  # a textbook's appendix at 27 degC, from memory
    "AISI 316": (14.0, 8240, 470),  # Mathematical Problems in Engineering (2015), article 494051, Table 1
    "PEEK": (0.25, 1300, 1700),  # a public table, the plastics text, and the middle of 1340 to 2200 (from memory)
    "constantan": (22, 8920, 384),  # from memory
    "titanium": (21.9, 4500, 522),  # a textbook's appendix at 27 degC, from memory
    "borosilicate glass": (1.4, 2225, 835),  # a textbook's appendix at 27 degC, from memory
    "paper": (0.18, 930, 1340),  # a textbook's appendix at 27 degC, from memory
}
#: Names in the table of DIN EN 12524:2000.
DIN = {
    "tinplate": "Metals, steel",
    "aluminium": "Metals, aluminium alloys",
    "soda-lime glass": "Glass, soda lime",
    "polypropylene": "Plastics, polypropylene",
    "HDPE": "Plastics, polyethylene / polythene, high density",
    "LDPE": "Plastics, polyethylene / polythene, low density",
    "stainless steel": "Metals, stainless steel",
    "PTFE": "Plastics, polytetrafluoroethylene (PTFE)",
    "polyamide": "Plastics, polyamide (nylon)",
    "epoxy": "Plastics, epoxy resin",
    "silicone rubber": "Sealant, silicone, pure",
    "copper": "Metals, copper",
    "brass": "Metals, brass",
    "bronze": "Metals, bronze",
    "acetal": "Plastics, polyacetate",
    "polycarbonate": "Plastics, polycarbonates",
    "polystyrene": "Plastics, polystyrene",
    "PVC": "Plastics, Polyvinylchloride (PVC)",
    "EPDM": "Rubber, ethylene propylene diene monomer (EPDM)",
    "neoprene": "Rubber, neoprene (polychloroprene)",
    "natural rubber": "Rubber, natural",
}


@pytest.mark.parametrize("name", DIN)
def test_numbers_of_the_european_table_are_those_that_a_package_carries(name):
    insulation = pytest.importorskip("ht.insulation")
    material = find_material(name)
    density, conductivity, specific_heat = insulation.building_materials[DIN[name]]
    assert (material.conductivity, material.density, material.specific_heat) == (conductivity, density, specific_heat)
    assert "DIN EN 12524:2000 table as carried by the open-source package ht" in material.source


@pytest.mark.parametrize("name", ELSEWHERE)
def test_numbers_of_other_sources_are_those_written_beside_their_source(name):
    material = find_material(name)
    assert (material.conductivity, material.density, material.specific_heat) == ELSEWHERE[name]


@pytest.mark.long
@pytest.mark.parametrize(
    ("name", "kelvin", "pressure"),
    [
        ("air, dry, 25 degC", 298.15, 101325.0),
        ("air, dry, 100 degC", 373.15, 101325.0),
        ("air, dry, 121 degC", 394.25, 101325.0),
        ("water", 333.15, 0.5e6),
    ],
)
def test_gases_and_water_are_those_of_a_package_of_properties(name, kelvin, pressure):
    properties = pytest.importorskip("CoolProp.CoolProp")
    material, fluid = find_material(name), "Water" if name == "water" else "Air"
    found = [properties.PropsSI(one, "T", kelvin, "P", pressure, fluid) for one in ("L", "D", "C")]
    # water's are from another package, air's density of the ideal gas; digits are as many as are written
    given = (material.conductivity, material.density, material.specific_heat)
    assert given == pytest.approx(found, rel=3e-3)


def test_every_material_is_held_against_something():
    held = {*DIN, *ELSEWHERE, "air, dry, 25 degC", "air, dry, 100 degC", "air, dry, 121 degC", "water"}
    assert {material.name for material in library().values()} == held
