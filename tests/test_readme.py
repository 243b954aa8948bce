"""README says what is so: its commands, its case, its answer, its Python lines, its links."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib

import pytest
from places import CASES, ROOT

README = (ROOT / "README.md").read_text("utf-8")


def block(language: str) -> str:
    """The README's only code block in a language."""
    (code,) = re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)
    return code


def program(*words: str) -> str:
    """Standard output of the program, started at the root."""
    command = [sys.executable, "-m", "thermsim", *words]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout


@pytest.mark.long
def test_python_lines_run_as_they_stand(tmp_path):
    code = block("python").replace('"cases/', f'"{ROOT}/cases/')
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "106.0 mm, F = 5.85 min" in done.stdout


def test_the_case_shown_is_the_ready_jar_but_for_its_sources():
    jar = tomllib.loads((CASES / "jar.toml").read_text("utf-8"))
    for material in jar["materials"].values():
        del material["source"]
    assert tomllib.loads(block("toml")) == jar


@pytest.mark.long
def test_the_screens_shown_are_those_that_the_program_prints():
    solved, deep = re.findall(r"```text\n(.*?)```", README, re.DOTALL)
    assert solved == program("solve", "cases/jar.toml", "--quiet")
    assert program("depth", "cases/can_probe.toml", "--quiet").startswith(deep)


def test_every_command_is_listed():
    listed = program("--help").partition("COMMAND\n")[2].partition("\n\n")[0]
    commands = re.findall(r"^    (\w+)(?: |$)", listed, re.MULTILINE)
    assert len(commands) == 12
    assert [
        name for name in commands if f"| `thermsim {name} " not in README and f"| `thermsim {name}` |" not in README
    ] == []


def test_links_lead_somewhere():
    names = re.findall(r"\]\(([^)]*)\)", README)
    assert len(names) > 4
    assert [name for name in names if not (ROOT / name).is_file()] == []


def test_cautions_stand_before_anything_can_be_run():
    cautions = README.partition("## Cautions")[2].partition("\n## ")[0]
    for word in ("botul", "process authority", "local regulation", "licensed practice", "pressure", "steam", "sharp"):
        assert word in cautions, word
    assert "**Conduction only.**" in cautions and "before any number" in cautions
    assert README.index("## Cautions") < README.index("```")


def test_readme_is_read_in_one_sitting():
    assert len(README.splitlines()) <= 220
