"""Commands that are killed at any moment from their start: files are whole or absent, and the work can be repeated.

Rung: hand-worked. What an undisturbed run leaves is what killed ones lead to in the end.
"""

from __future__ import annotations

import contextlib
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
import xml.etree.ElementTree as ElementTree
import zipfile
import zlib
from pathlib import Path

import pytest
from job_cases import TEXT, replaced
from places import CASES
from study_scenes import BARE, SMALL_SCAN, differing_sets

from thermsim.cli.terminal import folder_for
from thermsim.records.files.results import load_result
from thermsim.records.measured.file import load_comparison
from thermsim.records.study.file import load_study

CAN = replaced(TEXT, ("thin sauce", "gel/solid"))
ROUGH = "accuracy = { temperature_K = 10.0, lethality_percent = 50.0, place_mm = 20.0 }\n"
MEASURED = (CASES / "measured_can.toml").read_text("utf-8").replace("[container]", f"{ROUGH}[container]", 1)
RUN = [CASES / "measured_can_run.csv", "--medium", "Retort [°C]", "--probe", "Can 1 [°C]", "--no-design"]
#: By command: the case's text, what more is said, what reads its results.
COMMANDS = {
    "solve": (CAN[: CAN.index("[probe]")].replace("stock = ", "# "), ["--quiet"], load_result),
    "depth": (CAN, ["--figures", "none"], load_result),
    "study": (BARE + SMALL_SCAN, ["--csv", "--workers", "2", "--figures", "none"], load_study),
    "compare": (MEASURED, [*RUN, "--fit", "none", "--figures", "none"], load_comparison),
}
#: How a file of each kind ends that is whole.
ENDS = {".png": b"IEND\xaeB`\x82", ".html": b"</html>\n", ".pdf": b"%%EOF\n"}
#: All that is said of a killed command: nothing, or by Python's keeper of what several processes share.
LAST_WORDS = r"(.*resource_tracker: There appear to be \d+ leaked semaphore objects to clean up at shutdown\n.*\n)?"
#: On a busy machine a command says how far it is.
HOW_FAR = re.compile(r"thermsim: .*; \d+ % done\n")
HALF = re.compile(r"\.thermsim-[0-9a-f]{16}\.\w+")


def assert_whole(path, load, undisturbed):
    if path.suffix == ".h5":
        load(path)
    elif path.suffix == ".csv":
        assert path.read_bytes() == (undisturbed / path.name).read_bytes()
    elif path.suffix == ".xlsx":
        assert zipfile.ZipFile(path).testzip() is None
    elif path.suffix == ".xdmf":
        ElementTree.parse(path)
    elif path.suffix == ".journal":
        for line in path.read_bytes().split(b"\n")[:-1]:
            assert int(line[:8], 16) == zlib.crc32(line[9:])
    else:
        assert path.read_bytes().endswith(ENDS[path.suffix]), path.name


def assert_alike(out, undisturbed, load):
    for path in undisturbed.iterdir():
        assert_whole(out / path.name, load, undisturbed)
        if path.suffix == ".h5" and load is load_study:
            assert differing_sets(out / path.name, path) == []
        elif path.suffix == ".h5":
            assert load(out / path.name) == load(path)


@pytest.mark.whole
@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_killed_at_any_moment_leaves_whole_files_and_can_be_repeated(tmp_path, name):
    text, more, load = COMMANDS[name]
    case, undisturbed, out = tmp_path / "can.toml", tmp_path / "undisturbed", tmp_path / "out"
    case.write_text(text, "utf-8")
    command = [sys.executable, "-m", "thermsim", name, case, *more, "--out"]
    began = time.perf_counter()
    first = subprocess.run([*command, undisturbed], capture_output=True, text=True, check=True)
    lasts = time.perf_counter() - began
    names = {path.name for path in undisturbed.iterdir()}
    chance, attempts, killed, seen, left = random.Random(name), 0, 0, 0, 0
    while killed < 25:
        attempts += 1
        assert attempts < 100
        fresh, began = not out.exists(), time.perf_counter()
        run = subprocess.Popen(
            [*command, out], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True
        )
        with contextlib.suppress(subprocess.TimeoutExpired):
            run.wait(chance.random() * lasts)
            if fresh:  # another was slowed down by something else
                lasts = min(lasts, time.perf_counter() - began)
        run.kill()
        # when this ends the workers of a study, who hold the same pipe, are gone too
        assert re.fullmatch(LAST_WORDS, HOW_FAR.sub("", run.communicate(timeout=600)[1].decode()))
        assert run.returncode in (0, -signal.SIGKILL)
        killed += run.returncode != 0
        for path in out.iterdir() if out.exists() else ():
            if HALF.fullmatch(path.name):
                left += 1
                os.utime(path, (0.0, 0.0))
                continue
            assert path.name in names
            assert_whole(path, load, undisturbed)
            seen += 1
        if attempts % 5 == 0:
            again = subprocess.run([*command, out], capture_output=True, text=True, check=True)
            told, said = again.stdout.replace(str(out), str(undisturbed)), HOW_FAR.sub("", again.stderr)
            assert (told, said) == (first.stdout, "")
            assert {path.name for path in out.iterdir()} == names
            assert_alike(out, undisturbed, load)
            shutil.rmtree(out)
    print(f"{name}: {killed} of {attempts} killed within {lasts:.1f} s, {seen} whole files, {left} half-written")
    assert seen >= 15


def test_what_a_killed_run_left_half_written_goes_with_the_next_run_after_an_hour(tmp_path):
    now = time.time()
    kept = [
        ".thermsim-0123456789abcdef.h5",
        ".thermsim-notes.txt",
        "thermsim-0123456789abcdef.h5",
        ".0123456789abcdef.h5",
    ]
    old = [".thermsim-fedcba9876543210.h5", ".thermsim-00112233445566aa.png"]
    for name in (*kept, *old):
        (tmp_path / name).write_text("half")
        age = 60.0 if name == kept[0] else 3700.0  # the first may be another run's at work
        os.utime(tmp_path / name, (now - age, now - age))
    assert folder_for(str(tmp_path)) == Path(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == set(kept)
