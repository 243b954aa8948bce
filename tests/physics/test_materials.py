import subprocess
import sys

import pytest
from numpy.testing import assert_allclose

from thermsim import find_material, library
from thermsim.errors import InputError


def test_every_material_has_a_source_with_its_temperature():
    for name, material in library().items():
        assert material.source.count("(at ") >= 1, name
        assert len(material.source) > 30, name


def test_every_material_is_physically_possible():
    for material in library().values():
        assert 0.02 < material.conductivity < 430  # still air to pure copper
        assert 0.5 < material.density < 9000
        assert 300 < material.specific_heat < 4300


def test_solids_conduct_heat_between_the_bounds_of_their_kind():
    # diffusivities [m2/s]: plastics about 1e-7, metals 4e-6 and more; from memory
    plastics = "polypropylene", "PET", "HDPE", "LDPE", "PTFE", "PEEK", "polyamide", "epoxy", "acetal", "polycarbonate"
    for name in (*plastics, "polystyrene", "PVC", "EPDM", "neoprene", "natural rubber", "paper"):
        assert 0.7e-7 < find_material(name).diffusivity < 3e-7, name
    metals = "tinplate", "aluminium", "stainless steel", "AISI 304", "AISI 316", "copper", "constantan", "brass"
    for name in (*metals, "bronze", "titanium"):
        assert find_material(name).diffusivity > 3e-6, name


@pytest.mark.parametrize(
    ("name", "kelvin"),
    [("air, dry, 25 degC", 298.15), ("air, dry, 100 degC", 373.15), ("air, dry, 121 degC", 394.25)],
)
def test_airs_density_is_the_ideal_gas_at_one_atmosphere(name, kelvin):
    density = 101325 * 0.02896 / (8.314462618 * kelvin)
    # the library carries three digits after the point
    assert_allclose(find_material(name).density, density, rtol=0, atol=6e-4)


@pytest.mark.parametrize(
    ("other", "name"),
    [("carbon steel", "tinplate"), ("glass", "soda-lime glass"), ("PP", "polypropylene"), ("nylon", "polyamide")],
)
def test_a_material_is_found_by_its_other_spelling(other, name):
    assert find_material(other) is find_material(name)
    assert find_material(other).name == name


def test_an_unknown_material_offers_the_nearest():
    with pytest.raises(
        InputError, match=r'material "aluminuim" is unknown; did you mean "aluminum" or "aluminium"\?'
    ):
        find_material("aluminuim")
    with pytest.raises(
        InputError, match='material "steel" is unknown; did you mean "carbon steel" or "stainless steel"'
    ):
        find_material("steel")
    for name, offered in (("316L", "AISI 316"), ("SS304", "AISI 304"), ("stainless", "stainless steel")):
        with pytest.raises(InputError, match=f'material "{name}" is unknown; did you mean "{offered}"'):
            find_material(name)
    lists = (
        r'material "zzz" is unknown\. "thermsim materials" lists .* One of your own takes \[materials\."zzz"\] with'
    )
    with pytest.raises(InputError, match=lists):
        find_material("zzz")


def test_the_library_cannot_be_changed():
    with pytest.raises(TypeError, match="does not support item assignment"):
        library()["glue"] = find_material("epoxy")


def test_importing_the_case_room_loads_nothing_heavy():
    code = (
        "import sys, thermsim.case; print([m for m in ('scipy', 'numba', 'matplotlib', 'h5py') if m in sys.modules])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
