"""The file of a study: read by another program (xarray through h5netcdf), by this one, and as CSV."""

from __future__ import annotations

import csv
import io

import h5py
import numpy as np
import pytest
from numpy.testing import assert_allclose
from study_scenes import (  # noqa: F401
    BARE,
    SMALL_SCAN,
    STEM,
    Here,
    differing_sets,
    few_resamples,
    series,
    smooth,
    study_case,
)

import thermsim
from thermsim.assess.study.sensitivity import sobol_indices
from thermsim.errors import InputError
from thermsim.records.study.file import save_csv, study_csv
from thermsim.records.study.running import run_study

SPREAD = """
[study]
kind = "spread"
samples = 8
recommend_depth = true
vary = [{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 },
        { key = "materials.paste.conductivity_W_mK", distribution = "normal", mean = 0.5, deviation = 0.02 }]
"""


@pytest.fixture(scope="module")
def scan():
    return run_study(study_case(SMALL_SCAN), executor=Here(), compute=series)


@pytest.fixture(scope="module")
def spread():
    return run_study(study_case(SPREAD, BARE + STEM), executor=Here(), compute=smooth)


@pytest.mark.parametrize("kind", ["scan", pytest.param("spread", marks=pytest.mark.long)])
def test_it_opens_in_xarray_with_dimensions_coordinates_and_units(kind, request, tmp_path):
    xarray = pytest.importorskip("xarray")
    result = request.getfixturevalue(kind)
    thermsim.save_study(result, tmp_path / "study.h5")
    with xarray.open_dataset(tmp_path / "study.h5", engine="h5netcdf") as data:
        assert data["least_lethality"].dims == ("run",)
        assert data["least_lethality"].attrs["units"] == "s"
        assert data["slowest_end_of_heating"].attrs["units"] == "degC"
        assert data["product_initial_C"].attrs["units"] == "degC"
        assert "product_initial_C" in data["least_lethality"].coords
        assert data.attrs["study"] == kind
        for name in data.variables:
            assert data[name].attrs["units"], name
            assert data[name].attrs["long_name"], name
        assert_allclose(data["product_initial_C"], result.plan.values[:, 0], rtol=0)
        for name, values in result.figures.items():
            np.testing.assert_array_equal(data[name], values)
        warm = data.where(data["product_initial_C"] > 25.0, drop=True)
        assert warm.sizes["run"] == (result.plan.values[:, 0] > 25.0).sum()
        if kind == "scan":
            assert [str(reason) for reason in data["failure"].values][5] == "ValueError: made to fail"
        else:
            for name in ("mismatch", "over_reading", "heating_over_reading", "cooling_over_reading"):
                assert data[f"{name}_at_depth"].dims == ("run", "depth")
            assert data["depth"].attrs["units"] == "m"
            assert data["first_order"].dims == ("figure", "quantity")
            found = sobol_indices(result, result.figures["least_z"])
            named = data["total_order"].isel(figure=[str(one) for one in data["figure"].values].index("least_z"))
            assert_allclose(named, found.total, rtol=1e-12)


@pytest.mark.parametrize("kind", ["scan", "spread"])
def test_it_is_read_back_whole(kind, request, tmp_path):
    result = request.getfixturevalue(kind)
    thermsim.save_study(result, tmp_path / "study.h5")
    again = thermsim.load_study(tmp_path / "study.h5")
    assert again.failures == result.failures
    assert again.case.text == result.case.text
    assert again.case.study == result.case.study
    np.testing.assert_array_equal(again.plan.values, result.plan.values)
    assert again.along.keys() == result.along.keys()
    for name, values in result.along.items():
        np.testing.assert_array_equal(again.along[name], values)
    for name, values in result.figures.items():
        np.testing.assert_array_equal(again.figures[name], values)
    # and what is written of it is the same file
    thermsim.save_study(again, tmp_path / "again.h5")
    assert differing_sets(tmp_path / "study.h5", tmp_path / "again.h5") == []


@pytest.mark.parametrize(
    ("contents", "said"),
    [(b"", "damaged, cut short, or not in HDF5"), (b"a letter", "not in HDF5"), (None, "no such file")],
)
def test_what_is_no_study_is_refused_in_one_line(contents, said, tmp_path):
    if contents is not None:
        (tmp_path / "study.h5").write_bytes(contents)
    with pytest.raises(InputError, match=said) as refused:
        thermsim.load_study(tmp_path / "study.h5")
    assert "\n" not in str(refused.value)


def test_a_cut_file_and_one_of_another_kind_are_refused(scan, tmp_path):
    thermsim.save_study(scan, tmp_path / "study.h5")
    whole = (tmp_path / "study.h5").read_bytes()
    (tmp_path / "cut.h5").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(InputError, match="damaged, cut short"):
        thermsim.load_study(tmp_path / "cut.h5")
    with h5py.File(tmp_path / "other.h5", "w") as file:
        file["a"] = 1
    with pytest.raises(InputError, match="not that of a study"):
        thermsim.load_study(tmp_path / "other.h5")


def test_a_file_of_the_format_before_mismatch_is_refused(scan, tmp_path):
    thermsim.save_study(scan, tmp_path / "study.h5")
    with h5py.File(tmp_path / "study.h5", "r+") as file:
        file.attrs["format"] = 1
    with pytest.raises(InputError, match="format 1; this program reads 2, whose runs hold the mismatch") as refused:
        thermsim.load_study(tmp_path / "study.h5")
    assert "\n" not in str(refused.value)
    assert "run the study again" in str(refused.value)


def test_csv_has_a_line_for_every_run_in_the_units_of_the_screen(scan, tmp_path):
    save_csv(scan, tmp_path / "study.csv")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "study.csv").read_text("utf-8"))))
    assert len(rows) == 12
    assert [float(row["product.initial_C"]) for row in rows[::4]] == [20.0, 30.0, 40.0]
    assert rows[5]["failure"] == "ValueError: made to fail"
    assert rows[5]["slowest_end_of_heating_C"] == ""
    assert [float(row["slowest_z_mm"]) for row in rows if not row["failure"]] == [55.0] * 8
    given = [float(row["least_lethality_min"]) for row in rows if not row["failure"]]
    # eight digits are written
    assert_allclose(given, scan.figures["least_lethality"][scan.good] / 60, rtol=1e-7)


def test_csv_of_a_spread_has_its_sample_and_its_depths(spread):
    rows = list(csv.DictReader(io.StringIO(study_csv(spread))))
    assert [row["matrix"] for row in rows[:4]] == ["0", "1", "2", "3"]
    for name in ("mismatch", "heating_over_reading"):
        column = f"{name}_at_{1e3 * spread.plan.depths[10]:.2f}_mm_percent"
        assert_allclose([float(row[column]) for row in rows], 100 * spread.along[name][:, 10], rtol=1e-6)


def test_a_file_that_cannot_be_written_is_said_in_one_line(scan, tmp_path):
    with pytest.raises(InputError, match="there is no folder"):
        thermsim.save_study(scan, tmp_path / "nowhere" / "study.h5")
