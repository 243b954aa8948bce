"""XDMF files beside results files: a general reader of meshes finds the grid and the fields that were computed.

Rung: another code. What is written is read back by meshio, a general library for mesh files, and held against the
result; the volume of what was read is held against the container's, whose formulas know no grid.
"""

import dataclasses
import errno
import math
import os
import shutil
from types import SimpleNamespace
from xml.etree import ElementTree

import meshio
import numpy as np
import pytest
from small_cans import PASTE

from thermsim.errors import InputError
from thermsim.records.files import atomic as whole
from thermsim.records.files.results import save_result
from thermsim.records.files.xdmf import save_xdmf

RESULTS = ("shaped", "standing", "probed")


@pytest.fixture(scope="module")
def saved(tmp_path_factory, request):
    """Results, their files, and what was written beside them."""
    found = {}
    for name in RESULTS:
        result = request.getfixturevalue(name)
        path = tmp_path_factory.mktemp(name) / "result.h5"
        save_result(result, path)
        found[name] = SimpleNamespace(result=result, path=path, written=save_xdmf(result, path))
    return found


@pytest.fixture(params=RESULTS)
def one(saved, request):
    return saved[request.param]


def series(path, steps):
    """Points, corners of the quadrilaterals, and time, fields and materials of some steps."""
    with meshio.xdmf.TimeSeriesReader(path) as file:
        points, (block,) = file.read_points_cells()
        assert block.type == "quad"
        return file.num_steps, points, block.data, [file.read_data(step) for step in steps]


def volumes(points, cells):
    """Volumes of revolution of quadrilaterals with straight sides; below 0 where they are numbered clockwise."""
    r, z = points[cells][..., 0], points[cells][..., 1]
    r_next, z_next = np.roll(r, -1, axis=1), np.roll(z, -1, axis=1)
    # the integral of r dr dz by Green's theorem, side by side
    return math.pi / 3 * ((z_next - z) * (r**2 + r * r_next + r_next**2)).sum(axis=1)


def test_points_and_quadrilaterals_are_those_of_the_grid(one):
    grid = one.result.grid
    _, points, cells, _ = series(one.written[0], [])
    np.testing.assert_array_equal(points[:, 0], grid.r.ravel())
    np.testing.assert_array_equal(points[:, 1], grid.z.ravel())
    assert len(cells) == (grid.material >= 0).sum()
    # counterclockwise, none of them empty
    assert volumes(points, cells).min() > 0.0


def test_fields_at_several_times_are_those_of_the_result(one):
    result = one.result
    last = result.time.size - 1
    steps = [0, 1, 40, last]
    number, points, cells, found = series(one.written[0], steps)
    assert number == result.time.size
    for step, (time, fields, by_cell) in zip(steps, found, strict=True):
        assert time == result.time[step]
        np.testing.assert_array_equal(fields["temperature_C"], result.temperature[step].ravel())
        np.testing.assert_array_equal(fields["end_of_heating_C"], result.end_of_heating.ravel())
        np.testing.assert_array_equal(fields["lethality_s"], result.lethality.ravel())
        np.testing.assert_array_equal(fields["heating_lethality_s"], result.heating_lethality.ravel())
        # meshio's own mesh takes them: one value a point, one number a quadrilateral
        mesh = meshio.Mesh(points, [("quad", cells)], point_data=fields, cell_data=by_cell)
        assert mesh.cell_data["material"][0].shape == (len(cells),)
    assert found[0][1]["temperature_C"][cells].max() < found[2][1]["temperature_C"][cells].max()


def test_every_quadrilateral_has_temperatures_and_those_of_the_product_have_lethality(one):
    _, _, cells, ((_, fields, by_cell),) = series(one.written[0], [50])
    assert np.isfinite(fields["temperature_C"][cells]).all()
    of_product = by_cell["material"][0] == one.result.grid.materials.index(PASTE)
    has_lethality = np.isfinite(fields["lethality_s"][cells]).all(axis=1)
    np.testing.assert_array_equal(has_lethality, of_product)


@pytest.mark.parametrize(
    ("name", "bound"),
    [
        # straight sides: exact but for rounding
        ("probed", 1e-12),
        # chords of roundings and of a dome, and the rim of a rise between two columns; measured 2e-5 and 3e-5
        ("shaped", 1e-4),
        ("standing", 1e-4),
    ],
)
def test_volume_of_the_products_quadrilaterals_is_the_products(saved, name, bound):
    result = saved[name].result
    _, points, cells, ((_, _, by_cell),) = series(saved[name].written[0], [0])
    product = by_cell["material"][0] == result.grid.materials.index(PASTE)
    assert volumes(points, cells[product]).sum() == pytest.approx(result.case.product_volume, rel=bound)


def test_container_with_its_probe_has_a_file_of_its_own(one):
    effect = one.result.probe
    mesh = meshio.read(one.written[1])
    np.testing.assert_array_equal(mesh.points[:, 0], effect.grid.r.ravel())
    np.testing.assert_array_equal(mesh.points[:, 1], effect.grid.z.ravel())
    np.testing.assert_array_equal(mesh.point_data["lethality_s"], effect.lethality.ravel())
    np.testing.assert_array_equal(mesh.point_data["end_of_heating_C"], effect.end_of_heating.ravel())
    (block,), (material,) = mesh.cells, mesh.cell_data["material"]
    np.testing.assert_array_equal(material, effect.grid.material[effect.grid.material >= 0])
    assert volumes(mesh.points, block.data).min() > 0.0
    # steel reaches to the tip and no farther: the segment of the tip is 3 mm wide on the axis
    steel = [number for number, one in enumerate(effect.grid.materials) if one.name == "steel & nickel"]
    z = mesh.points[block.data[np.isin(material, steel)]][..., 1]
    end = z.min() if effect.probe.entry == "lid" else z.max()
    assert end == pytest.approx(effect.reading.z, abs=1e-9)


def test_result_without_a_probe_has_one_file(saved, tmp_path):
    bare = dataclasses.replace(saved["probed"].result, probe=None)
    save_result(bare, tmp_path / "a.b.h5")
    assert save_xdmf(bare, tmp_path / "a.b.h5") == [tmp_path / "a.b.xdmf"]
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["a.b.h5", "a.b.xdmf"]
    assert series(tmp_path / "a.b.xdmf", [])[0] == bare.time.size


def test_times_are_written_without_loss(saved, tmp_path):
    shutil.copy(saved["probed"].path, tmp_path / "result.h5")
    late = dataclasses.replace(saved["probed"].result, time=saved["probed"].result.time + 1 / 3)
    written = save_xdmf(late, tmp_path / "result.h5")[0]
    _, _, _, found = series(written, [0, 11])
    assert [time for time, _, _ in found] == [late.time[0], late.time[11]]


def test_files_can_be_moved_together(saved, tmp_path):
    one = saved["shaped"]
    for path in (one.path, *one.written):
        shutil.copy(path, tmp_path / path.name)
    _, _, _, ((_, fields, _),) = series(tmp_path / "result.xdmf", [7])
    np.testing.assert_array_equal(fields["temperature_C"], one.result.temperature[7].ravel())
    assert [path.name for path in one.written] == ["result.xdmf", "result-probe.xdmf"]


def test_words_of_the_user_do_not_break_the_file(saved, tmp_path):
    named = dataclasses.replace(saved["shaped"].result, probe=None)
    named = dataclasses.replace(named, case=named.case.replace(title='<a> & "b" -- c ---> \ud800\n'))
    path = tmp_path / "a & <b>.h5"
    save_result(named, path)
    (written,) = save_xdmf(named, path)
    ElementTree.parse(written)
    _, _, _, ((_, fields, _),) = series(written, [3])
    np.testing.assert_array_equal(fields["temperature_C"], named.temperature[3].ravel())


@pytest.mark.parametrize("name", ["a:b.h5", " a.h5", "a\n.h5", "a\ud800.h5"])
def test_name_that_xdmf_cannot_refer_to_is_refused_in_one_line(saved, tmp_path, name):
    with pytest.raises(
        InputError, match=r"an XDMF file cannot refer to this name; use one without colons"
    ) as refusal:
        save_xdmf(saved["probed"].result, tmp_path / name)
    assert "\n" not in str(refusal.value)
    assert list(tmp_path.iterdir()) == []


def test_failed_write_leaves_the_old_file(saved, tmp_path, monkeypatch):
    def full_disk(number):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / "result.xdmf").write_text("old")
    with monkeypatch.context() as patch:
        patch.setattr(whole.os, "fsync", full_disk)
        with pytest.raises(InputError, match=r"result\.xdmf: cannot be written: no space left on device"):
            save_xdmf(saved["probed"].result, tmp_path / "result.h5")
    assert (tmp_path / "result.xdmf").read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["result.xdmf"]
