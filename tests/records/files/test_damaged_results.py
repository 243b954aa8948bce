"""Results files that are none, are of another format, were changed or cut short: damage is noticed."""

import json
import random

import h5py
import pytest
from saved_results import differences, few

from thermsim.errors import InputError
from thermsim.records.files.results import FORMAT, holds, load_result


def test_missing_file_folder_and_other_kinds_of_file_are_told_apart(tmp_path):
    with pytest.raises(InputError, match=r"none\.h5: no such file$"):
        load_result(tmp_path / "none.h5")
    with pytest.raises(InputError, match="is not a file$"):
        load_result(tmp_path)
    (tmp_path / "text.h5").write_text("not HDF5")
    with pytest.raises(InputError, match=r'is not a file; did you mean ".*text\.h5"\?$'):
        load_result(tmp_path)
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

    path = changed(saved("bare").path, tmp_path, rewritten)
    with pytest.raises(
        InputError,
        match=rf"format {other}, written by thermsim 9\.8; .* reads format {FORMAT}; run its case again with this",
    ):
        load_result(path)


def test_zeros_among_its_texts_are_damage_and_no_endless_reading(saved, tmp_path):
    data, path = saved("bare").path.read_bytes(), tmp_path / "zeros.h5"
    begin, found = data.find(b"GCOL\x01"), 0
    while begin >= 0:
        path.write_bytes(data[: begin + 16] + bytes(16) + data[begin + 32 :])
        with pytest.raises(InputError, match=r"zeros\.h5: is damaged .*a list of texts in it has no end"):
            load_result(path)
        assert holds(path) == ""
        begin, found = data.find(b"GCOL\x01", begin + 1), found + 1
    assert found > 1


@pytest.mark.parametrize("name", ["temperature", "record", "time", "stage_0_medium"])
def test_missing_part_is_damage(saved, tmp_path, name):
    path = changed(saved("bare").path, tmp_path, lambda file: file.pop(name))
    with pytest.raises(InputError, match=rf"changed\.h5: is damaged or cut short; .*{name}"):
        load_result(path)


def test_number_changed_afterwards_is_noticed(saved, tmp_path):
    def warmer(file):
        file["temperature"][3, 2, 1] += 0.01

    path = changed(saved("bare").path, tmp_path, warmer)
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
        load_result(changed(saved("bare").path, tmp_path, rewrite))


def test_array_that_claims_to_be_huge_is_not_read(saved, tmp_path):
    def swell(file):
        del file["temperature"]
        file.create_dataset("temperature", shape=(10**5, 10**4, 10**4), dtype="f8", chunks=(1, 100, 100))

    with pytest.raises(InputError, match="claims to be larger than the file can hold"):
        load_result(changed(saved("bare").path, tmp_path, swell))


@pytest.mark.parametrize("part", [0.0, 0.001, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 0.9999])
def test_file_cut_short_is_refused(saved, tmp_path, part):
    data = saved("bare").path.read_bytes()
    (tmp_path / "cut.h5").write_bytes(data[: int(part * len(data))])
    with pytest.raises(InputError, match=r"^[^\n]*cut\.h5: [^\n]*cut short[^\n]*$"):
        load_result(tmp_path / "cut.h5")


@pytest.mark.parametrize("seed", few(*range(10), among=range(40)))
def test_garbled_file_is_refused_or_its_result_is_untouched(saved, tmp_path, seed):
    chance = random.Random(seed)
    data = bytearray(saved("bare").path.read_bytes())
    for _ in range(chance.choice([1, 3, 30])):
        data[chance.randrange(len(data))] = chance.randrange(256)
    (tmp_path / "garbled.h5").write_bytes(data)
    try:
        found = load_result(tmp_path / "garbled.h5")
    except InputError as refusal:
        assert "\n" not in str(refusal)
        assert "garbled.h5" in str(refusal)
    else:
        assert differences(saved("bare").result, found) == []
