"""Results files: what is read back is what was saved."""

import dataclasses
import errno
import os

import h5py
import numpy as np
import pytest
from saved_results import CASES, SHARED, differences, few

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.file.reader import case_from_text
from thermsim.errors import InputError
from thermsim.records.files.results import load_result, save_result
from thermsim.solve.grid.body import coordinates_of


@pytest.mark.parametrize(
    "name",
    few("jar", "with text", "from a file", "probed", "advised", "shaped", among=[*CASES, *SHARED], mark="long"),
)
def test_result_read_back_is_equal_in_every_field(saved, name):
    result = saved(name).result
    assert differences(result, load_result(saved(name).path)) == []


def test_comparison_of_results_sees_a_change_of_one_bit(saved):
    result = saved("jar").result
    moved = result.temperature.copy()
    moved[5, 3, 3] = np.nextafter(moved[5, 3, 3], np.inf)
    assert differences(result, dataclasses.replace(result, temperature=moved)) == ["result.temperature"]
    spot = dataclasses.replace(result.energy, heat_in=np.nextafter(result.energy.heat_in, np.inf))
    assert differences(result, dataclasses.replace(result, energy=spot)) == ["result.energy.heat_in"]


def test_case_read_back_can_be_solved_again(saved):
    again = simulate(load_result(saved("from a file").path).case)
    first = saved("from a file").result
    # the same arithmetic on the same numbers
    np.testing.assert_array_equal(again.lethality, first.lethality)


def test_case_read_back_is_the_one_that_its_text_describes(saved):
    case = load_result(saved("from a file").path).case
    assert differences(case_from_text(case.text, attachments=case.attachments), case, "case") == []


def test_result_saved_twice_is_the_same_again(saved, tmp_path):
    save_result(load_result(saved("jar").path), tmp_path / "again.h5")
    assert differences(load_result(tmp_path / "again.h5"), saved("jar").result) == []


def test_coordinates_of_a_container_come_back_as_they_were(saved):
    found = load_result(saved("shaped").path)
    for grid, probe in ((found.grid, None), (found.probe.grid, found.case.probe)):
        assert grid.coordinates == coordinates_of(found.case.replace(probe=probe))
        assert grid.coordinates.container == found.case.container


def test_failed_save_leaves_the_old_file(saved, tmp_path, monkeypatch):
    def full_disk(data, name):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "old.h5"
    path.write_text("old")
    broken = dataclasses.replace(saved("bare").result, notices=(object(),))
    with pytest.raises(TypeError, match=r"notices\.0: a object cannot be stored"):
        save_result(broken, path)
    with monkeypatch.context() as patch:
        patch.setattr(h5py.Dataset, "make_scale", full_disk)
        with pytest.raises(InputError, match=r"old\.h5: cannot be written: no space left on device"):
            save_result(saved("bare").result, path)
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["old.h5"]


def test_saving_into_a_missing_folder_is_refused(saved, tmp_path):
    with pytest.raises(InputError, match="there is no folder"):
        save_result(saved("bare").result, tmp_path / "nowhere" / "a.h5")
