"""Results files: what is read back is what was saved; other programs can read them; damage is noticed."""

import dataclasses
import errno
import json
import math
import os
import random
from types import SimpleNamespace

import h5py
import numpy as np
import pytest
import xarray
from small_jars import ROUGH

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.file.reader import case_from_text
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.errors import InputError
from thermsim.physics.materials import Material
from thermsim.records.files.results import FORMAT, load_result, save_result
from thermsim.solve.grid.body import coordinates_of

PASTE = Material("paste", 0.55, 1050.0, 3700.0, "invented")
GLASS = Material("glass", 1.0, 2500.0, 750.0, "invented")

WITH_A_LOGGED_RETORT = """
format = 1
title = "Cup, as logged \u00b0"
[container]
inner_diameter_mm = 60.0
inner_height_mm = 40.0
[materials.paste]
conductivity_W_mK = 0.55
density_kg_m3 = 1050
specific_heat_J_kgK = 3700
[product]
material = "paste"
initial_C = 30.0
[fill]
headspace_mm = 0
[process]
csv = "retort.csv"
cooling_starts_min = 30
film_W_m2K = 400
cooling_film_W_m2K = 200
[lethality]
reference_C = 121.1
z_C = 10
"""
RETORT = "time [min];temperature [degC]\r\n0;30\r\n5;118.5\r\n30;118.4\r\n40;30\r\n"


def jar(**changes):
    """A jar with walls, an insulated headspace, two places to follow, and a target."""
    film = Film(450.0, 60.0, math.inf)
    stages = (
        Stage("come-up", [0.0, 600.0], [40.0, 118.0], film),
        Stage("hold", [600.0, 3600.0], [118.0, 118.0], film),
        Stage("cool", [3600.0, 4800.0], [30.0, 30.0], film),
    )
    case = Case(
        "Paste, jar",
        Container(straight(0.066, 0.080), Wall(GLASS, 0.003), Wall(GLASS, 0.005), None, initial=25.0),
        Product(PASTE, 40.0),
        0.070,
        Headspace("insulated"),
        Process(stages),
        Lethality(121.1, 10.0, 360.0, reach=(90.0, 200.0)),
        accuracy=ROUGH,
        points=(Point("mid-height", 0.0, 0.040), Point("glass\n2", 0.034, 0.050)),
        notes=("A note.",),
    )
    return case.replace(**changes)


def bare(**changes):
    """A bare cylinder without target, points or text, its surface at the medium's temperature."""
    film = Film.everywhere(math.inf)
    stages = (Stage("hold", [0, 1800], [121, 121], film), Stage("cool", [1800, 2400], [25, 25], film))
    case = Case(
        "bare",
        Container(straight(0.05, 0.04)),
        Product(PASTE, 30),
        0.04,
        Headspace("insulated"),
        Process(stages),
        Lethality(121.1, 10.0),
        accuracy=ROUGH,
    )
    return case.replace(**changes)


CASES = {
    "jar": jar,
    "bare": bare,
    "with text": lambda: bare(text="title = 1\r\n# \u00e4\n", attachments={"../a.b/c.csv": "1\n2\n", "empty": ""}),
    "with odd text": lambda: bare(text="nul \0 and \ud800\n", title="two\nlines\0", attachments={"\0": "\0\n"}),
    "from a file": lambda: case_from_text(WITH_A_LOGGED_RETORT, attachments={"retort.csv": RETORT}),
}


#: Results with a probe, which all tests of the records share.
SHARED = ("probed", "advised", "stacked", "uncooled", "shaped", "standing")


def few(*names, among):
    """All as parameters; those that are not named are left to the whole run."""
    return [name if name in names else pytest.param(name, marks=pytest.mark.whole) for name in among]


@pytest.fixture(scope="module")
def saved(tmp_path_factory, request):
    """Every case's result and the file it was saved to."""
    folder = tmp_path_factory.mktemp("results")
    results = {name: simulate(make()) for name, make in CASES.items()}
    results |= {name: request.getfixturevalue(name) for name in SHARED}
    found = {}
    for name, result in results.items():
        path = folder / f"{name}.h5"
        save_result(result, path)
        found[name] = SimpleNamespace(result=result, path=path)
    return found


def differences(a, b, where="result"):
    """Places at which two results differ; numbers must agree bit by bit."""
    if isinstance(a, np.ndarray):
        same = isinstance(b, np.ndarray) and a.dtype == b.dtype and a.shape == b.shape and a.tobytes() == b.tobytes()
        return [] if same else [where]
    if dataclasses.is_dataclass(a):
        if type(a) is not type(b):
            return [where]
        names = [field.name for field in dataclasses.fields(a)]
        return [d for n in names for d in differences(getattr(a, n), getattr(b, n), f"{where}.{n}")]
    if isinstance(a, tuple):
        if not isinstance(b, tuple) or len(a) != len(b):
            return [where]
        return [d for k, (p, q) in enumerate(zip(a, b, strict=True)) for d in differences(p, q, f"{where}.{k}")]
    if isinstance(a, dict):
        if not isinstance(b, dict) or list(a) != list(b):
            return [where]
        return [d for key in a for d in differences(a[key], b[key], f"{where}.{key}")]
    return [] if a == b and isinstance(a, str | None) == isinstance(b, str | None) else [where]


@pytest.mark.parametrize("name", [*CASES, *SHARED])
def test_result_read_back_is_equal_in_every_field(saved, name):
    result = saved[name].result
    assert differences(result, load_result(saved[name].path)) == []


def test_comparison_of_results_sees_a_change_of_one_bit(saved):
    result = saved["jar"].result
    moved = result.temperature.copy()
    moved[5, 3, 3] = np.nextafter(moved[5, 3, 3], np.inf)
    assert differences(result, dataclasses.replace(result, temperature=moved)) == ["result.temperature"]
    spot = dataclasses.replace(result.energy, heat_in=np.nextafter(result.energy.heat_in, np.inf))
    assert differences(result, dataclasses.replace(result, energy=spot)) == ["result.energy.heat_in"]


def test_case_read_back_can_be_solved_again(saved):
    again = simulate(load_result(saved["from a file"].path).case)
    first = saved["from a file"].result
    # the same arithmetic on the same numbers
    np.testing.assert_array_equal(again.lethality, first.lethality)


def test_case_read_back_is_the_one_that_its_text_describes(saved):
    case = load_result(saved["from a file"].path).case
    assert differences(case_from_text(case.text, attachments=case.attachments), case, "case") == []


def test_result_saved_twice_is_the_same_again(saved, tmp_path):
    save_result(load_result(saved["jar"].path), tmp_path / "again.h5")
    assert differences(load_result(tmp_path / "again.h5"), saved["jar"].result) == []


@pytest.mark.parametrize("name", few("jar", "with odd text", "advised", "shaped", among=[*CASES, *SHARED]))
def test_xarray_opens_the_file_with_named_axes_and_units(saved, name):
    result = saved[name].result
    with xarray.open_dataset(saved[name].path, engine="h5netcdf") as file:
        file.load()
    assert file.temperature.dims == ("time", "column", "level")
    assert file.lethality.dims == file.r.dims == file.z.dims == ("column", "level")
    assert file.material.dims == file["product"].dims == ("column_cell", "level_cell")
    # places go along with the fields
    assert {"r", "z", "time"} <= set(file.temperature.coords)
    assert {"r", "z"} <= set(file.heating_lethality.coords)
    assert {"r_cell", "z_cell"} <= set(file.material.coords)
    assert file["product"].dtype == bool
    np.testing.assert_array_equal(file.temperature.r, result.grid.r)
    np.testing.assert_array_equal(file.temperature.z, result.grid.z)
    np.testing.assert_array_equal(file.time, result.time)
    np.testing.assert_array_equal(file.temperature, result.temperature)
    np.testing.assert_array_equal(file["product"], result.grid.product)
    assert all(variable.attrs["units"] and variable.attrs["long_name"] for variable in file.variables.values())
    nearest = file.temperature.sel(time=1200.0, column=0.0, method="nearest")
    np.testing.assert_array_equal(nearest, result.temperature[np.abs(result.time - 1200.0).argmin(), 0])


def test_columns_and_levels_of_a_straight_container_are_its_r_and_z(saved):
    with xarray.open_dataset(saved["jar"].path, engine="h5netcdf") as file:
        file.load()
    np.testing.assert_array_equal(*xarray.broadcast(file.r, file.column))
    np.testing.assert_array_equal(*xarray.broadcast(file.z, file.level))
    # the middle of a rectangle is that of its sides but for rounding
    for place, line in ((file.r_cell, file.column_cell), (file.z_cell, file.level_cell)):
        np.testing.assert_allclose(*xarray.broadcast(place, line), rtol=1e-14)


def test_places_in_a_shaped_container_lie_on_its_walls(saved):
    case = saved["shaped"].result.case
    with xarray.open_dataset(saved["shaped"].path, engine="h5netcdf") as file:
        file.load()
    inside = file.r.sel(column=0.026, method="nearest")
    height = inside.z.values - case.container.floor
    # the taper, from radius 20 mm at the base to 26 mm at 20 mm, where its rounding does not reach
    taper = (height >= 0.0) & (height <= 0.017)
    np.testing.assert_allclose(inside[taper], 0.020 + 0.3 * height[taper], rtol=1e-12)
    assert taper.sum() > 5
    # the base's inside stands 6 mm above its rim on the axis, 0.3 mm of wall below it
    axis = file.z.sel(column=0.0)
    np.testing.assert_allclose(axis.sel(level=0.0003, method="nearest"), 0.0063, rtol=1e-12)


def test_coordinates_of_a_container_come_back_as_they_were(saved):
    found = load_result(saved["shaped"].path)
    for grid, probe in ((found.grid, None), (found.probe.grid, found.case.probe)):
        assert grid.coordinates == coordinates_of(found.case.replace(probe=probe))
        assert grid.coordinates.container == found.case.container


def test_h5py_reads_units_texts_and_materials(saved):
    with h5py.File(saved["from a file"].path) as file:
        assert file.attrs["program"] == "thermsim"
        assert file.attrs["format"] == FORMAT
        assert file.attrs["created"].endswith("+00:00")
        assert file.attrs["title"] == "Cup, as logged \u00b0"
        assert [file[name].attrs["units"] for name in ("r", "time", "temperature", "lethality")] == [
            "m",
            "s",
            "degC",
            "s",
        ]
        assert file["case_text"].asstr()[()] == WITH_A_LOGGED_RETORT
        assert file["attachment_0"].attrs["file_name"] == "retort.csv"
        assert file["attachment_0"].asstr()[()] == RETORT
        assert list(file["material_name"].asstr()[()]) == ["paste"]
        assert list(file["material_conductivity"]) == [0.55]
        assert file["temperature"].compression == "gzip"
        figures = json.loads(file["summary"][()])
    spot = saved["from a file"].result.cold_spot.least_lethality
    assert figures["cold_spot"]["least_lethality"]["z_mm"] == spot.z * 1e3


def test_curves_say_which_place_they_belong_to(saved):
    with h5py.File(saved["jar"].path) as file:
        assert file["point_0_temperature"].attrs["place"] == "mid-height"
        assert file["point_0_temperature"].attrs["z_m"] == 0.040
        np.testing.assert_array_equal(file["point_0_temperature"], saved["jar"].result.points[0].temperature)
        spot = saved["jar"].result.cold_spot.slowest_heating
        assert file["slowest_heating_temperature"].attrs["z_m"] == spot.z


@pytest.mark.parametrize("name", few("advised", "standing", among=SHARED))
def test_container_with_its_probe_has_axes_of_its_own(saved, name):
    effect = saved[name].result.probe
    with xarray.open_dataset(saved[name].path, engine="h5netcdf") as file:
        file.load()
    assert file.probe_lethality.dims == file.probe_end_of_heating.dims == ("probe_column", "probe_level")
    assert file.probe_material.dims == file.probe_probe.dims == ("probe_column_cell", "probe_level_cell")
    assert {"probe_r", "probe_z"} <= set(file.probe_lethality.coords)
    assert {"probe_r_cell", "probe_z_cell"} <= set(file.probe_probe.coords)
    assert file.probe_reading_temperature.dims == file.without_probe_temperature.dims == ("time",)
    assert [file[name].attrs["units"] for name in ("probe_r", "probe_lethality", "probe_reading_temperature")] == [
        "m",
        "s",
        "degC",
    ]
    np.testing.assert_array_equal(file.probe_r, effect.grid.r)
    np.testing.assert_array_equal(file.probe_lethality, effect.lethality)
    np.testing.assert_array_equal(file.probe_reading_temperature, effect.reading.temperature)
    assert file.probe_reading_temperature.attrs["z_m"] == effect.reading.z
    # the tip, just behind its face, on the axis: steel
    behind = effect.reading.z + (1e-4 if effect.probe.entry == "lid" else -1e-4)
    heights = file.probe_z_cell.isel(probe_column_cell=0)
    level = float(heights.probe_level_cell[np.abs(heights.values - behind).argmin()])
    tip = {"probe_column_cell": 0.0, "probe_level_cell": level}
    assert file.probe_probe.sel(tip, method="nearest")
    number = file.probe_material.sel(tip, method="nearest")
    assert file.probe_material_name.sel(probe_material_number=number) == "steel & nickel"


def test_missing_file_folder_and_other_kinds_of_file_are_told_apart(tmp_path):
    with pytest.raises(InputError, match=r"none\.h5: no such file$"):
        load_result(tmp_path / "none.h5")
    with pytest.raises(InputError, match="is not a file$"):
        load_result(tmp_path)
    (tmp_path / "text.h5").write_text("not HDF5")
    with pytest.raises(InputError, match=r"text\.h5: is not a results file"):
        load_result(tmp_path / "text.h5")
    h5py.File(tmp_path / "other.h5", "w").close()
    with pytest.raises(InputError, match=r"other\.h5: is an HDF5 file, but not a results file of thermsim"):
        load_result(tmp_path / "other.h5")


def changed(path, tmp_path, change):
    """A copy of a results file with something changed in it."""
    copy = tmp_path / "changed.h5"
    copy.write_bytes(path.read_bytes())
    with h5py.File(copy, "r+") as file:
        change(file)
    return copy


@pytest.mark.parametrize("other", [FORMAT - 1, FORMAT + 1])
def test_other_format_is_refused_and_the_version_named(saved, tmp_path, other):
    def rewritten(file):
        file.attrs["format"] = other
        file.attrs["version"] = "9.8"

    path = changed(saved["bare"].path, tmp_path, rewritten)
    with pytest.raises(
        InputError,
        match=rf"format {other}, written by thermsim 9\.8; .* reads format {FORMAT}; run its case again with this",
    ):
        load_result(path)


@pytest.mark.parametrize("name", ["temperature", "record", "time", "stage_0_medium"])
def test_missing_part_is_damage(saved, tmp_path, name):
    path = changed(saved["bare"].path, tmp_path, lambda file: file.pop(name))
    with pytest.raises(InputError, match=rf"changed\.h5: is damaged or cut short; .*{name}"):
        load_result(path)


def test_number_changed_afterwards_is_noticed(saved, tmp_path):
    def warmer(file):
        file["temperature"][3, 2, 1] += 0.01

    path = changed(saved["bare"].path, tmp_path, warmer)
    with pytest.raises(InputError, match="its contents are not those that were written"):
        load_result(path)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda record: record["energy"].pop("stored"), "part energy.stored is missing"),
        (lambda record: record["energy"].update(stored="much"), "part energy.stored must be float, not 'much'"),
        (lambda record: record["energy"].update(stored=True), "part energy.stored must be float, not True"),
        (lambda record: record["energy"].update(colour=1), "part energy.colour is not known"),
        (lambda record: record.update(spots=record["spots"][:1]), "part spots must be tuple"),
        (lambda record: record.update(energy=[1]), "part energy must be EnergyBalance"),
        (
            lambda record: record.update(temperature={"stored": "summary"}),
            "temperature must be an array of float64",
        ),
        (
            lambda record: record["case"]["headspace"].update(model="leaky"),
            "model must be one of fixed, insulated, air, humid, not 'leaky'",
        ),
        (lambda record: record.update(probe=1), "part probe must be ProbeEffect, not 1"),
    ],
)
def test_record_that_does_not_fit_is_refused_by_the_name_of_the_part(saved, tmp_path, change, reason):
    def rewrite(file):
        record = json.loads(file["record"][()])
        change(record)
        file["record"][()] = json.dumps(record)

    with pytest.raises(InputError, match=reason):
        load_result(changed(saved["bare"].path, tmp_path, rewrite))


def test_array_that_claims_to_be_huge_is_not_read(saved, tmp_path):
    def swell(file):
        del file["temperature"]
        file.create_dataset("temperature", shape=(10**5, 10**4, 10**4), dtype="f8", chunks=(1, 100, 100))

    with pytest.raises(InputError, match="claims to be larger than the file can hold"):
        load_result(changed(saved["bare"].path, tmp_path, swell))


@pytest.mark.parametrize("part", [0.0, 0.001, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 0.9999])
def test_file_cut_short_is_refused(saved, tmp_path, part):
    data = saved["bare"].path.read_bytes()
    (tmp_path / "cut.h5").write_bytes(data[: int(part * len(data))])
    with pytest.raises(InputError, match=r"^[^\n]*cut\.h5: [^\n]*cut short[^\n]*$"):
        load_result(tmp_path / "cut.h5")


@pytest.mark.parametrize("seed", few(*range(10), among=range(40)))
def test_garbled_file_is_refused_or_its_result_is_untouched(saved, tmp_path, seed):
    chance = random.Random(seed)
    data = bytearray(saved["bare"].path.read_bytes())
    for _ in range(chance.choice([1, 3, 30])):
        data[chance.randrange(len(data))] = chance.randrange(256)
    (tmp_path / "garbled.h5").write_bytes(data)
    try:
        found = load_result(tmp_path / "garbled.h5")
    except InputError as refusal:
        assert "\n" not in str(refusal)
        assert "garbled.h5" in str(refusal)
    else:
        assert differences(saved["bare"].result, found) == []


def test_failed_save_leaves_the_old_file(saved, tmp_path, monkeypatch):
    def full_disk(data, name):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "old.h5"
    path.write_text("old")
    broken = dataclasses.replace(saved["bare"].result, notices=(object(),))
    with pytest.raises(TypeError, match=r"notices\.0: a object cannot be stored"):
        save_result(broken, path)
    with monkeypatch.context() as patch:
        patch.setattr(h5py.Dataset, "make_scale", full_disk)
        with pytest.raises(InputError, match=r"old\.h5: cannot be written: no space left on device"):
            save_result(saved["bare"].result, path)
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["old.h5"]


def test_saving_into_a_missing_folder_is_refused(saved, tmp_path):
    with pytest.raises(InputError, match="there is no folder"):
        save_result(saved["bare"].result, tmp_path / "nowhere" / "a.h5")
