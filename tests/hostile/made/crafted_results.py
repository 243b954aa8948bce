"""Results files cut, flipped, foreign and crafted; each is shown, and some are reported on.

``python crafted_results.py SOUND FOLDER FIRST END`` alters the sound file once for each seed and prints, as JSON,
what became of them: by "done", "refused" and every other outcome the seeds.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import shutil
import sys
from collections import defaultdict
from pathlib import Path

import h5py
import numpy as np

from thermsim.cli import main
from thermsim.records.files.results import digest_of

FOREIGN = (
    b"",
    b"\0" * 5000,
    b"\x89HDF\r\n\x1a\n",
    b"\x89PNG\r\n\x1a\n" + b"x" * 99,
    b"PK\x03\x04",
    b"title = 1\n" * 50,
)
LEAVES = (
    None,
    True,
    -1,
    0,
    10**400,
    1e308,
    "nan",
    "inf",
    "",
    "x" * 9999,
    [],
    {},
    [[]],
    {"stored": "record"},
    "os.system",
)
LEAVES += (
    {"stored": "../../etc/passwd"},
    {"stored": "time"},
    {"__class__": "subprocess.Popen"},
    "$\\bad{",
    "<script>",
)


def damaged(chooser: random.Random, data: bytes) -> bytes:
    """A file cut short, with bytes flipped or overwritten, or something else altogether."""
    how = chooser.choice(("cut", "flip", "flip", "block", "foreign", "random"))
    place = chooser.randrange(len(data))
    if how == "cut":
        return data[:place]
    if how == "foreign":
        return chooser.choice(FOREIGN)
    if how == "random":
        return data[: chooser.choice((8, 48, 512))] + chooser.randbytes(4000)
    if how == "block":
        size = chooser.choice((8, 100, 5000))
        return data[:place] + chooser.choice((b"\0", b"\xff", b"\x01")) * size + data[place + size :]
    altered = bytearray(data)
    # most of what steers the reading stands near the beginning
    end = chooser.choice((100, 2000, 20_000, len(data)))
    for _ in range(chooser.choice((1, 1, 4, 64))):
        altered[chooser.randrange(min(end, len(data)))] ^= 1 << chooser.randrange(8)
    return bytes(altered)


def places(node: object, trail: tuple = ()) -> list[tuple]:
    inside = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return (
        [trail, *(place for key, value in inside for place in places(value, (*trail, key)))]
        if trail or inside
        else [trail]
    )


def craft(chooser: random.Random, path: Path) -> None:
    """Alter a file by its own means, its checksum made right again."""
    with h5py.File(path, "r+") as file:
        names = [
            name for name in file if isinstance(file.get(name, getlink=True), h5py.HardLink) and name != "record"
        ]
        names = [name for name in names if isinstance(file[name], h5py.Dataset)]
        record = json.loads(file["record"][()])
        how = chooser.choice(("leaf", "leaf", "leaf", "array", "array", "link", "kind", "deep", "attribute"))
        name = chooser.choice(names)
        if how == "leaf":
            for _ in range(chooser.choice((1, 1, 3))):
                *owner, key = chooser.choice([place for place in places(record) if place])
                node = record
                for step in owner:
                    node = node[step]
                if chooser.random() < 0.2:
                    del node[key]
                else:
                    node[key] = chooser.choice(LEAVES)
        elif how == "array" and isinstance(file[name][()], np.ndarray) and file[name].dtype.kind in "fi":
            values = file[name][()]
            shape = chooser.choice(
                (values.shape[:-1], (*values.shape, 1), (0,), tuple(2 * n for n in values.shape), ())
            )
            fresh = chooser.choice(
                (np.full(shape, np.nan), np.full(shape, 1e308), np.full(shape, -1.0), values[::-1], values * 0)
            )
            _replace(file, name, data=fresh)
        elif how == "link":
            del file[name]
            soft = [h5py.SoftLink(f"/{place}") for place in (name, "time", "nothing")]
            file[name] = chooser.choice(
                (h5py.ExternalLink("/etc/passwd", "/x"), h5py.ExternalLink("x.h5", "time"), *soft)
            )
        elif how == "kind":
            _other_kind(chooser, file, name)
        elif how == "attribute":
            which = chooser.choice(("program", "format", "holds", "version", "sha256", "title"))
            file.attrs[which] = chooser.choice(
                (1, "x" * 9999, np.arange(9), "study", "comparison", "result", b"\xff")
            )
        text = json.dumps(record)
        if how == "deep":
            text = chooser.choice(
                ("[" * 100_000, '{"case":' * 5000, "9" * 100_000, "\\" * 99, "nul", '{"a":1e999999}')
            )
        _replace(file, "record", data=text, dtype=h5py.string_dtype())
        with contextlib.suppress(Exception):
            if how not in ("attribute", "deep"):
                sealed(file)


def sealed(file: h5py.File) -> None:
    """Make the checksum of a file that of what it holds."""
    text = file["record"][()].decode()
    record = json.loads(text)
    parts = [_at(record, place) for place in places(record)]
    stored = {part["stored"] for part in parts if isinstance(part, dict) and isinstance(part.get("stored"), str)}
    file.attrs["sha256"] = digest_of(text, {name: _kept(file[name]) for name in stored})


def _at(node: object, trail: tuple) -> object:
    for step in trail:
        node = node[step]
    return node


def _kept(data: h5py.Dataset) -> object:
    if data.nbytes > 10**8:
        raise MemoryError(f"{data.name} is only said to be so large")
    value = data[()]
    if isinstance(value, bytes):
        return value.decode()
    return value.astype(bool) if data.attrs.get("dtype") == "bool" else value


def _replace(file: h5py.File, name: str, **made: object) -> None:
    attributes = dict(file[name].attrs) if name in file else {}
    del file[name]
    data = file.create_dataset(name, **made)
    for key in ("dtype", "units", "long_name"):
        if key in attributes:
            data.attrs[key] = attributes[key]


def _other_kind(chooser: random.Random, file: h5py.File, name: str) -> None:
    how = chooser.choice(
        ("group", "huge", "tiny chunks", "external", "virtual", "compound", "reference", "many texts")
    )
    del file[name]
    if how == "group":
        file.create_group(name)
    elif how == "huge":
        file.create_dataset(name, shape=(10**6, 10**6), dtype="f8", chunks=(1, 1000), compression="gzip")
    elif how == "tiny chunks":
        file.create_dataset(name, shape=(10**9,), dtype="f8", chunks=(1,))
    elif how == "external":
        file.create_dataset(name, shape=(100,), dtype="u1", external=[("/etc/passwd", 0, 100)])
    elif how == "virtual":
        layout = h5py.VirtualLayout((4,), dtype="f8")
        layout[:] = h5py.VirtualSource("/etc/passwd", "x", shape=(4,))
        file.create_virtual_dataset(name, layout)
    elif how == "compound":
        file.create_dataset(name, data=np.zeros(3, dtype=[("a", "f8"), ("b", "i4")]))
    elif how == "reference":
        file.create_dataset(name, data=np.array([file.ref] * 3, dtype=h5py.ref_dtype))
    else:
        file.create_dataset(name, data=["long " * 9999] * 50, dtype=h5py.string_dtype())


def outcome(arguments: list[str]) -> str:
    """ "done" or "refused", or what else came of a command."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        try:
            code = main(arguments)
        except BaseException as failure:
            import traceback

            where = traceback.extract_tb(failure.__traceback__)[-1]
            return f"{type(failure).__name__} in {Path(where.filename).name}:{where.lineno}: {str(failure)[:80]}"
    printable = all(character.isprintable() or character == "\n" for character in said.getvalue())
    return ("done" if code == 0 else "refused") + ("" if printable else ", not printable")


def run(sound: Path, folder: Path, first: int, end: int) -> dict[str, list[int]]:
    """What became of the altered files."""
    found: dict[str, list[int]] = defaultdict(list)
    data, room = sound.read_bytes(), folder / "room"
    room.mkdir()
    for seed in range(first, end):
        chooser = random.Random(seed)
        path = room / "result.h5"
        if seed % 2:
            path.write_bytes(damaged(chooser, data))
        else:
            shutil.copy(sound, path)
            craft(chooser, path)
        before = sorted(os.listdir(folder))
        told = outcome(["show", str(path)])
        if told == "done" and seed % 50 == 0:
            told = outcome(["report", str(path), "--out", str(room / "out"), "--quiet"])
        if sorted(os.listdir(folder)) != before:
            told += ", wrote outside"
        found[told].append(seed)
    return found


if __name__ == "__main__":
    print(json.dumps(run(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))))
