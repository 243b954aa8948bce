"""README says what is so: its commands, its case, its answer, its Python lines."""

from __future__ import annotations

import re
import subprocess
import sys

from places import ROOT

README = (ROOT / "README.md").read_text("utf-8")


def test_python_lines_run_as_they_stand(tmp_path):
    code = re.search(r"```python\n(.*?)```", README, re.DOTALL).group(1)
    code = code.replace('"cases/', f'"{ROOT}/cases/')
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "106.0 mm, F = 5.85 min" in done.stdout


def without_numerics(lines):
    """All but the entry on numerics, which ends with the seconds it took and may go on in a second line."""
    kept, skipping = [], False
    for line in lines:
        skipping = line.startswith("Numerics") or (skipping and line.startswith(" "))
        if not skipping:
            kept.append(line)
    return kept


def test_answer_shown_is_the_one_the_program_gives():
    shown = re.search(r"```text\n(.*?)```", README, re.DOTALL).group(1).splitlines()
    done = subprocess.run(
        [sys.executable, "-m", "thermsim", "solve", "cases/jar.toml", "--quiet"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert without_numerics(shown) == without_numerics(done.stdout.splitlines())


def test_every_command_is_listed():
    done = subprocess.run([sys.executable, "-m", "thermsim", "--help"], capture_output=True, text=True, check=True)
    listed = done.stdout.partition("COMMAND\n")[2].partition("\n\n")[0]
    commands = re.findall(r"^    (\w+)(?: |$)", listed, re.MULTILINE)
    assert len(commands) == 11
    assert [
        name for name in commands if f"`thermsim {name} " not in README and f"`thermsim {name}`" not in README
    ] == []


def test_pictures_are_there():
    for name in re.findall(r"!\[.*?\]\((.*?)\)", README):
        assert (ROOT / name).is_file(), name
