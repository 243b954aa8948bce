"""The journal of a study: every finished run on the disk at once, so that a study that was killed goes on.

A text file of lines, each with its own checksum before it. The first says whose runs these are: the numbers of the
case and its study, digests of the files it names and of the sampled values, and the program's version. Each further
line is one run. A line that the end of the power cut short is not counted, and its run is made again.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import json
import math
import os
import zlib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from thermsim.assess.study.plan import Plan, StudyRun
from thermsim.case.case import Case
from thermsim.case.keys.syntax import parsed
from thermsim.errors import InputError
from thermsim.records.files.atomic import check_writable, whole_file
from thermsim.records.files.codec import STORED, Stored, encode
from thermsim.text import plain, printed
from thermsim.version import PROGRAM

#: Format 1 had over-readings at the depths alone.
FORMAT = 2
#: Differences that are told.
TOLD = 5
_LEFT_OUT = ("title",)


def identity(case: Case, plan: Plan) -> dict[str, Any]:
    """All that the figures of a study's runs depend on, by name: two studies with the same have the same runs."""
    found: dict[str, Any] = {"journal format": FORMAT, "program": PROGRAM}
    if plan.study.of_nouns:
        told = encode(dataclasses.replace(case, study=None, text="", file="", attachments={}), _numbers_of)
        numbers = ((path.removesuffix(f".{STORED}"), value) for path, value in _flat(told, ""))
        found |= {path: value for path, value in numbers if path not in _LEFT_OUT}
        found["varied"] = " ".join(f"{one.key} {one.distribution}".rstrip() for one in plan.study.vary)
        found |= {
            name: getattr(plan.study, name) for name in ("kind", "required_hold", "recommend_depth", "criterion")
        }
    else:
        found |= {path: value for path, value in _flat(parsed(case.text, case.file), "") if path not in _LEFT_OUT}
        found |= {f"file {name}": _digest(text.encode("utf-8")) for name, text in case.attachments.items()}
    found["sampled values"] = _digest(np.ascontiguousarray(plan.values).tobytes() + plan.depths.tobytes())
    return found


def _numbers_of(_trail: object, value: Stored) -> str | None:
    """An array by its first numbers and its digest; a text stays as it is."""
    if isinstance(value, str):
        return None
    return f"{printed(value.tolist())} ({_digest(np.ascontiguousarray(value).tobytes())})"


class Journal:
    """The journal of one study, open for writing; use it as a context.

    Parameters
    ----------
    path : Path
        The file. If it is not there it is begun.
    identity : mapping
        As of :func:`identity`.
    restart : bool, optional
        Begin it again, whatever it holds.

    Raises
    ------
    InputError
        If it belongs to another case or study (the message says what changed), is no journal, cannot be written, or
        another process is writing it.
    """

    def __init__(self, path: Path, identity: Mapping[str, Any], *, restart: bool = False) -> None:
        self.path, self._shown = path, plain(os.fspath(path), 200)
        check_writable(path)
        if path.exists() and restart:
            with path.open("rb") as old:
                _lock(old, self._shown)
                self._begin(identity)
        elif not path.exists():
            self._begin(identity)
        try:
            self._file: BinaryIO = path.open("r+b")
        except OSError as failure:
            raise InputError(f"{self._shown}: cannot be opened: {failure.strerror}") from None
        try:
            _lock(self._file, self._shown)
            self._check(identity)
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def runs(self) -> Iterator[StudyRun]:
        """The runs that it holds; what a cut left of a last line is taken off."""
        self._file.seek(0)
        self._file.readline()
        whole = self._file.tell()
        for line in self._file:
            if line.endswith(b"\n"):
                whole = self._file.tell()
                # a line that was damaged on the disk is passed over: its run is made again
                with contextlib.suppress(ValueError, KeyError, TypeError):
                    yield _run_of(_unsealed(line))
        self._file.truncate(whole)

    def add(self, runs: Iterable[StudyRun]) -> None:
        """Write finished runs; when this returns they are on the disk."""
        text = b"".join(_sealed(_tree(run)) for run in runs)
        try:
            self._file.seek(0, os.SEEK_END)
            self._file.write(text)
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as failure:
            raise InputError(f"{self._shown}: cannot be written: {failure.strerror}") from failure

    def _begin(self, identity: Mapping[str, Any]) -> None:
        with whole_file(self.path) as part:
            part.write_bytes(_sealed(dict(identity)))

    def _check(self, identity: Mapping[str, Any]) -> None:
        self._file.seek(0)
        try:
            known = _unsealed(self._file.readline())
        except ValueError:
            known = {}
        if "journal format" not in known:
            raise InputError(f"{self._shown}: is not the journal of a study, or its head is damaged")
        if known["journal format"] != FORMAT:
            raise InputError(
                f"{self._shown}: is a journal of format {_shown(known['journal format'])}; this program reads and "
                f"writes {FORMAT}, whose runs hold the mismatch at each depth. Give another folder, or discard these "
                "runs and begin again: --restart"
            )
        if dict(known) == dict(identity):
            return
        changes = list(_changes(known, identity))
        told = "; ".join(changes[:TOLD]) + (f"; and {len(changes) - TOLD} more" if len(changes) > TOLD else "")
        raise InputError(
            f"{self._shown}: holds the runs of another case, and these would be mixed: {told}. Give another folder, "
            "or discard them and begin again: --restart"
        )


def _changes(known: Mapping[str, Any], wanted: Mapping[str, Any]) -> Iterator[str]:
    """Differences, in the order of what is wanted."""
    for name in dict.fromkeys((*wanted, *known)):
        was, now = known.get(name), wanted.get(name)
        if was == now:
            continue
        if name == "sampled values" or name.startswith("file "):
            if name not in known or name not in wanted:
                yield f"{name} is {'new' if name in wanted else 'gone'}"
            elif name != "sampled values":
                yield f"{name} has other contents"
            elif all(known.get(key) == value for key, value in wanted.items() if key != name):
                yield "the sampled values differ (drawn by another version of scipy?)"
        elif name not in known:
            yield f"{name} = {_shown(now)} is new"
        elif name not in wanted:
            yield f"{name}, which was {_shown(was)}, is gone"
        else:
            yield f"{name} was {_shown(was)} and is {_shown(now)}"


def _shown(value: object) -> str:
    return printed(value)


def _flat(node: object, path: str) -> Iterator[tuple[str, Any]]:
    """Every leaf of the tables of a case file with its path."""
    if isinstance(node, dict) and node:
        for key, value in node.items():
            yield from _flat(value, f"{path}.{key}" if path else key)
    elif isinstance(node, list) and node:
        for place, value in enumerate(node, start=1):
            yield from _flat(value, f"{path}.{place}")
    else:
        # what JSON does not know, such as dates, as text
        yield path, node if isinstance(node, int | float | str) or node in ([], {}) else str(node)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _tree(run: StudyRun) -> dict[str, Any]:
    if run.failure:
        return {"run": run.index, "failure": run.failure}
    tree: dict[str, Any] = {"run": run.index, "figures": {name: _kept(value) for name, value in run.figures.items()}}
    if run.along:
        tree["along"] = {name: [_kept(value) for value in values] for name, values in run.along.items()}
    return tree


def _run_of(tree: Mapping[str, Any]) -> StudyRun:
    figures = {name: _number(value) for name, value in tree.get("figures", {}).items()}
    along = {name: tuple(map(_number, values)) for name, values in tree.get("along", {}).items()}
    return StudyRun(int(tree["run"]), figures, along, tree.get("failure", ""))


def _kept(value: float) -> float | None:
    """A number as JSON knows it; NaN is null."""
    return None if math.isnan(value) else float(value)


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _sealed(tree: Mapping[str, Any]) -> bytes:
    """One line of the journal: eight digits of checksum, the JSON text."""
    text = json.dumps(tree).encode("ascii")
    return b"%08x %s\n" % (zlib.crc32(text), text)


def _unsealed(line: bytes) -> dict[str, Any]:
    seal, _, text = line.rstrip(b"\n").partition(b" ")
    if int(seal, 16) != zlib.crc32(text):
        raise ValueError("the line is damaged")
    tree = json.loads(text)
    if not isinstance(tree, dict):
        raise ValueError("the line is none of a journal")
    return tree


def _lock(file: BinaryIO, shown: str) -> None:
    """Keep other processes from writing the same journal; the lock goes with the process."""
    try:
        import fcntl
    except ImportError:  # where there are no such locks nothing is locked
        return
    # a file system without locks says so in many ways: there nothing is locked either
    with contextlib.suppress(OSError):
        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise InputError(f"{shown}: another process is at work on this study; wait for it, or stop it") from None
