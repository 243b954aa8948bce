"""Files are there whole or not at all."""

import errno
import os
import signal
import subprocess
import sys

import pytest

from thermsim.errors import InputError
from thermsim.records.files.atomic import check_writable, whole_file, write_text


def test_text_is_written_as_it_is(tmp_path):
    path = tmp_path / "note.txt"
    write_text(path, "a\r\nb\n\u00b0C\n")
    assert path.read_bytes() == b"a\r\nb\n\xc2\xb0C\n"
    assert [entry.name for entry in tmp_path.iterdir()] == ["note.txt"]


def test_temporary_name_is_in_the_same_folder_and_keeps_the_ending(tmp_path):
    with whole_file(tmp_path / "figure.png") as part:
        assert part.parent == tmp_path
        assert part.suffix == ".png"
        assert part.name != "figure.png"
        part.write_bytes(b"x")
    assert (tmp_path / "figure.png").read_bytes() == b"x"


@pytest.mark.parametrize("failure", [RuntimeError, KeyboardInterrupt, SystemExit])
def test_failure_in_the_middle_leaves_the_old_file_and_nothing_else(tmp_path, failure):
    path = tmp_path / "old.txt"
    path.write_text("old")
    with pytest.raises(failure), whole_file(path) as part:
        part.write_text("half of the n")
        raise failure
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["old.txt"]


def test_killed_process_leaves_the_old_file(tmp_path):
    path = tmp_path / "old.txt"
    path.write_text("old")
    program = (
        "import os, signal, sys\n"
        "from pathlib import Path\n"
        "from thermsim.records.files.atomic import whole_file\n"
        "with whole_file(Path(sys.argv[1])) as part:\n"
        "    part.write_text('half of the n')\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    ended = subprocess.run([sys.executable, "-c", program, str(path)], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert path.read_text() == "old"


def test_full_disk_is_one_clear_line(tmp_path):
    path = tmp_path / "new.txt"
    with pytest.raises(InputError, match=r"new\.txt: cannot be written: no space left on device$"), whole_file(path):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    assert list(tmp_path.iterdir()) == []


def test_missing_folder_is_named(tmp_path):
    with pytest.raises(InputError, match=r"there is no folder .*nowhere; make it first"):
        write_text(tmp_path / "nowhere" / "a.txt", "x")


def test_file_in_place_of_the_folder_is_refused(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="there is no folder"):
        write_text(tmp_path / "file" / "a.txt", "x")


def test_folder_in_place_of_the_file_is_refused(tmp_path):
    with pytest.raises(InputError, match="is a folder; give the name of a file"):
        check_writable(tmp_path)


def test_device_or_pipe_is_not_replaced(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="not an ordinary file and is not replaced"):
        write_text(tmp_path / "pipe", "x")


@pytest.mark.parametrize("protected", ["folder", "folder/old.txt"])
def test_write_protected_place_is_refused(tmp_path, monkeypatch, protected):
    # the superuser may write anywhere, so that permissions alone do not show in every test run
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "old.txt").write_text("old")
    monkeypatch.setattr(os, "access", lambda path, mode: path != tmp_path / protected)
    with pytest.raises(InputError, match=r"not writable|write-protected"):
        write_text(folder / "old.txt", "x")
    assert (folder / "old.txt").read_text() == "old"


def test_too_long_name_is_one_clear_line(tmp_path):
    with pytest.raises(InputError, match="cannot be written: file name too long"):
        write_text(tmp_path / ("a" * 300), "x")


def test_link_goes_on_pointing_to_the_file(tmp_path):
    (tmp_path / "there").mkdir()
    real, link = tmp_path / "there" / "real.txt", tmp_path / "link.txt"
    real.write_text("old")
    link.symlink_to(real)
    write_text(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"
