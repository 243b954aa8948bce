"""Results files as other programs see them: named axes, places, units, texts."""

import json

import h5py
import numpy as np
import pytest
import xarray
from saved_results import CASES, RETORT, SHARED, WITH_A_LOGGED_RETORT, few

from thermsim.records.files.results import FORMAT


@pytest.mark.parametrize("name", few("shaped", among=[*CASES, *SHARED]))
def test_xarray_opens_the_file_with_named_axes_and_units(saved, name):
    result = saved(name).result
    with xarray.open_dataset(saved(name).path, engine="h5netcdf") as file:
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
    with xarray.open_dataset(saved("jar").path, engine="h5netcdf") as file:
        file.load()
    np.testing.assert_array_equal(*xarray.broadcast(file.r, file.column))
    np.testing.assert_array_equal(*xarray.broadcast(file.z, file.level))
    # the middle of a rectangle is that of its sides but for rounding
    for place, line in ((file.r_cell, file.column_cell), (file.z_cell, file.level_cell)):
        np.testing.assert_allclose(*xarray.broadcast(place, line), rtol=1e-14)


@pytest.mark.long
def test_places_in_a_shaped_container_lie_on_its_walls(saved):
    case = saved("shaped").result.case
    with xarray.open_dataset(saved("shaped").path, engine="h5netcdf") as file:
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


def test_h5py_reads_units_texts_and_materials(saved):
    with h5py.File(saved("from a file").path) as file:
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
    spot = saved("from a file").result.cold_spot.least_lethality
    assert figures["cold_spot"]["least_lethality"]["z_mm"] == spot.z * 1e3


def test_curves_say_which_place_they_belong_to(saved):
    with h5py.File(saved("jar").path) as file:
        assert file["point_0_temperature"].attrs["place"] == "mid-height"
        assert file["point_0_temperature"].attrs["z_m"] == 0.040
        np.testing.assert_array_equal(file["point_0_temperature"], saved("jar").result.points[0].temperature)
        spot = saved("jar").result.cold_spot.slowest_heating
        assert file["slowest_heating_temperature"].attrs["z_m"] == spot.z


@pytest.mark.parametrize("name", few("advised", among=SHARED))
def test_container_with_its_probe_has_axes_of_its_own(saved, name):
    effect = saved(name).result.probe
    with xarray.open_dataset(saved(name).path, engine="h5netcdf") as file:
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
