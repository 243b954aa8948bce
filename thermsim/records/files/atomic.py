"""Files that are there whole or not at all: written under a temporary name beside the real one, then renamed."""

from __future__ import annotations

import contextlib
import os
import secrets
import time
from collections.abc import Iterator
from pathlib import Path

from thermsim.errors import InputError
from thermsim.text import plain

#: How the names of files begin that are not whole yet.
HALF = ".thermsim-"
#: What has not been written to for so long [s] is what a killed run left, not another run's at work.
LEFT = 3600.0


def check_writable(path: Path) -> None:
    """Make sure that a file can be written, before time is spent on what goes into it.

    Raises
    ------
    InputError
        If the folder is missing or read-only, or something that is no ordinary, writable file bears the name.
    """
    shown, folder = plain(os.fspath(path), 200), path.parent
    try:
        if path.is_dir():
            raise InputError(f"{shown}: is a folder; give the name of a file")
        if path.exists() and not path.is_file():
            raise InputError(f"{shown}: is not an ordinary file and is not replaced")
        if not folder.is_dir():
            raise InputError(f"{shown}: there is no folder {plain(os.fspath(folder), 200)}; make it first")
        if not os.access(folder, os.W_OK | os.X_OK):
            raise InputError(f"{shown}: the folder {plain(os.fspath(folder), 200)} is not writable")
        if path.exists() and not os.access(path, os.W_OK):
            raise InputError(f"{shown}: is write-protected and is not replaced")
    except OSError as failure:
        raise _not_written(path, failure) from None


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a name to write to; the file takes its real name when the ``with`` block ends well.

    Parameters
    ----------
    path : Path
        Where the file is wanted. A file that is there already stays as it is until it is replaced.

    Yields
    ------
    Path
        A name in the same folder, with the same ending, at which nothing is yet. It is removed if the block is left
        by an exception, an interrupt from the keyboard included.

    Raises
    ------
    InputError
        As :func:`check_writable`, or if writing fails (a full disk, say).
    """
    check_writable(path)
    # a link is followed: what it points to is replaced, not the link
    place = path.resolve()
    part = place.with_name(f"{HALF}{secrets.token_hex(8)}{place.suffix}")
    try:
        yield part
        with part.open("rb+") as written:
            os.fsync(written.fileno())
        part.replace(place)
    except OSError as failure:
        raise _not_written(path, failure) from failure
    finally:
        part.unlink(missing_ok=True)


def clear_leftovers(folder: Path) -> None:
    """Remove from a folder what killed runs left half-written."""
    for part in folder.glob(f"{HALF}{'[0-9a-f]' * 16}.*"):
        with contextlib.suppress(OSError):  # another run may do the same
            if time.time() - part.stat().st_mtime > LEFT:
                part.unlink()


def write_text(path: Path, text: str) -> None:
    """Write a text file in UTF-8, whole or not at all; line ends are kept as they are.

    Raises
    ------
    InputError
        As :func:`whole_file`.
    """
    with whole_file(path) as part:
        part.write_text(text, encoding="utf-8", newline="")


def _not_written(path: Path, failure: OSError) -> InputError:
    reason = (failure.strerror or str(failure) or type(failure).__name__).splitlines()[0].lower()
    return InputError(f"{plain(os.fspath(path), 200)}: cannot be written: {plain(reason, 200)}")
