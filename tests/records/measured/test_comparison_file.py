"""A comparison's file holds all of it, texts of the case's files too, and nothing is taken from one that was changed.

Rung: the same thing by another way round. Nothing is computed.
"""

import dataclasses

import h5py
import pytest
from measured_runs import made_comparison

from thermsim.errors import InputError
from thermsim.records.measured.file import load_comparison, save_comparison

FILES = {"retort.csv": "time,°C\n0,40\n", "../other 2.csv": "1\n"}


@pytest.fixture
def saved(tmp_path):
    found = made_comparison()
    found = dataclasses.replace(
        found, case=found.case.replace(text="title = 'ü'\n", attachments=FILES, title="x" * 300)
    )
    save_comparison(found, tmp_path / "one.h5")
    return found, tmp_path / "one.h5"


def test_what_is_read_back_is_what_was_saved(saved):
    found, path = saved
    again = load_comparison(path)
    assert again == found and again.case.attachments == FILES and again.case.text == found.case.text
    assert again != made_comparison()


def test_texts_of_files_are_kept_as_they_are_under_their_names(saved):
    with h5py.File(saved[1]) as file:
        kept = {file[name].attrs["file_name"]: file[name][()].decode() for name in file if "attachment" in name}
        assert kept == FILES and file["case_text"][()].decode() == "title = 'ü'\n"
        assert file.attrs["title"] == "x" * 200 + "..."


def test_a_text_that_was_changed_is_refused(saved):
    with h5py.File(saved[1], "r+") as file:
        del file["attachment_1"]
        file["attachment_1"] = "2\n"
    with pytest.raises(InputError):
        load_comparison(saved[1])
