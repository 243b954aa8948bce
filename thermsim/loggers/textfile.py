"""Text files from the disk: their size looked at before they are read, and every failure one clear line."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from thermsim.errors import InputError
from thermsim.text import nearest, plain


def read_bytes(path: str | Path, *, limit: int, what: str) -> bytes:
    """Contents of a regular file of at most ``limit`` bytes, which should be ``what``, as in "a case file".

    Raises ``InputError`` if it is not there, is no regular file, is too large, or cannot be read.
    """
    shown = plain(os.fspath(path), 200)
    path = Path(path)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise InputError(f"{shown}: is a folder, not {what}")
        if not stat.S_ISREG(status.st_mode):
            raise InputError(f"{shown}: is not an ordinary file; {what} is wanted")
        if status.st_size > limit:
            raise InputError(
                f"{shown}: has {status.st_size / 1e6:.1f} MB, too large for {what}; "
                f"at most {limit / 1e6:g} MB are read"
            )
        with path.open("rb") as file:
            return file.read(limit)
    except FileNotFoundError:  # of a name without its ending a case file is meant first
        beside = sorted(_files_beside(path), key=lambda one: (one.suffix != ".toml", one.name))
        alike = {one.stem: one.name for one in beside if one.suffix == path.suffix}
        close = [one.name for one in beside if one.stem == path.name]
        close = close or [alike[stem] for stem in nearest(path.stem, alike)]
        close = close or ([] if alike else nearest(path.name, [one.name for one in beside]))
        raise InputError(f"{shown}: no such file" + (f'; did you mean "{close[0]}"?' if close else "")) from None
    except InputError:
        raise
    except (OSError, ValueError) as failure:
        reason = failure.strerror if isinstance(failure, OSError) and failure.strerror else str(failure)
        raise InputError(f"{shown}: cannot be read: {reason.lower()}") from None


def _files_beside(path: Path) -> list[Path]:
    try:
        return [entry for entry in path.parent.iterdir() if entry.is_file()]
    except OSError:
        return []


def utf8(data: bytes, name: str) -> str:
    """Text of UTF-8 bytes, with or without a byte-order mark.

    Raises ``InputError`` if they are not UTF-8, or hold NUL bytes as binary files do.
    """
    if b"\0" in data:
        raise InputError(f"{name}: is not a text file (it holds NUL bytes)")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        line = data.count(b"\n", 0, failure.start) + 1
        raise InputError(f"{name} line {line}: is not text in UTF-8; save the file in that encoding") from None
