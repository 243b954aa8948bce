"""Results files cut, flipped, foreign and crafted: shown or refused, in bounded time; what users wrote is only text.

Rung: hand-worked.
"""

import json
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import crafted_results
import h5py
import numpy as np
import pytest
from small_cans import small_can
from small_case import SMALL, STEM, changed

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Accuracy, Point
from thermsim.cli import main
from thermsim.errors import InputError
from thermsim.figures.files import inline_svg
from thermsim.figures.style import new_figure
from thermsim.records.files.guarded import Guarded
from thermsim.records.files.results import load_result, save_result

LOOSE = Accuracy(1.0, 0.2, 0.01)


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    path = tmp_path_factory.mktemp("sound") / "result.h5"
    save_result(simulate(small_can(accuracy=LOOSE, points=(Point("mid", 0.0, 0.03),))), path)
    return path


@pytest.mark.parametrize(
    "seeds", [(0, 4), *(pytest.param((k, k + 100), marks=pytest.mark.whole) for k in range(0, 1000, 100))]
)
def test_an_altered_results_file_is_shown_or_refused(sound, tmp_path, seeds):
    command = [sys.executable, crafted_results.__file__, str(sound), str(tmp_path), *map(str, seeds)]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=3600, check=True)
    found = json.loads(ended.stdout)
    assert set(found) <= {"done", "refused"}, found
    assert found["refused"]


@pytest.mark.parametrize("kind", ["huge", "tiny chunks", "external", "virtual", "compound", "reference", "group"])
def test_only_plain_arrays_in_the_file_itself_are_read(tmp_path, kind):
    class Chosen:
        def choice(self, kinds):
            return kind

    with h5py.File(tmp_path / "x.h5", "w") as file:
        file["time"] = np.arange(3.0)
        crafted_results._other_kind(Chosen(), file, "time")
        with pytest.raises(ValueError, match=r"\Atime "):
            Guarded(file, 1_000_000).value("time")


@pytest.mark.parametrize("link", [h5py.SoftLink("/other"), h5py.ExternalLink("other.h5", "/time")])
def test_links_are_not_followed(tmp_path, link):
    with h5py.File(tmp_path / "x.h5", "w") as file:
        file["other"], file["time"] = np.arange(3.0), link
        with pytest.raises(ValueError, match="time is no part of the file itself"):
            Guarded(file, 1_000_000).value("time")
        with pytest.raises(ValueError, match="no part of the file itself"):
            Guarded(file, 1_000_000).value("group/../other")


def test_all_that_is_read_must_come_out_of_the_file(tmp_path):
    with h5py.File(tmp_path / "x.h5", "w") as file:
        file["text"] = "long " * 1000
        for k in range(300):
            file[f"again{k}"] = file["text"]
        guarded = Guarded(file, 1000)
        with pytest.raises(ValueError, match="claims to be larger than the file can hold"):
            for k in range(300):
                guarded.value(f"again{k}")


def test_arrays_over_one_axis_have_one_length(sound, tmp_path):
    path = tmp_path / "short.h5"
    path.write_bytes(sound.read_bytes())
    with h5py.File(path, "r+") as file:
        values = file["track_r"][()][:-1]
        crafted_results._replace(file, "track_r", data=values)
        crafted_results.sealed(file)
    with pytest.raises(InputError, match="another number of time than the others"):
        load_result(path)


HOSTILE = "<script>alert(1)</script><b>&amp;$\\bad{x}$ \u202egnp.exe \x1b[31m --> ]]> {{7*7}} \x00"


class Elements(HTMLParser):
    """The elements of a page and the texts in them."""

    def __init__(self):
        super().__init__()
        self.seen, self.attributes, self.text = set(), set(), ""

    def handle_starttag(self, tag, attrs):
        self.seen.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data):
        self.text += data


def test_a_figures_texts_are_no_formulas_and_no_markup():
    figure = new_figure(40.0)
    figure.subplots().set_title(HOSTILE)
    root = ElementTree.fromstring(inline_svg(figure, "x"))
    assert HOSTILE[:42] in "".join(root.itertext())
    assert not {"\x1b", "\x00", "\u202e"} & {*"".join(root.itertext())}


@pytest.mark.long
def test_names_and_titles_are_text_wherever_they_go(tmp_path, capsys):
    def named(what):
        return json.dumps(f"{what} {HOSTILE}")

    case = changed(
        ('title = "Small"', f"title = {named('title')}"),
        ('materials."dense paste"', f"materials.{named('paste')}"),
        ('material = "dense paste"', f"material = {named('paste')}"),
        ("specific_heat_J_kgK = 3700", f"specific_heat_J_kgK = 3700\nsource = {named('source')}"),
        ('name = "mid-height"', f"name = {named('point')}"),
        ('entry = "lid"', f'name = {named("probe")}\nentry = "lid"'),
        ('material = "PEEK" }', f'material = "PEEK", thread = {named("thread")} }}'),
        text=SMALL + STEM,
    )
    path = tmp_path / "jar.toml"
    path.write_text(case + "\n[accuracy]\ntemperature_K = 1\nlethality_percent = 20\nplace_mm = 10\n")
    out = tmp_path / "out"
    assert main(["solve", str(path), "--out", str(out), "--figures", "svg", "--quiet"]) == 0
    told = capsys.readouterr().out
    assert all(sign.isprintable() or sign == "\n" for sign in told)
    for file in (*out.glob("*.svg"), *out.glob("*.xdmf")):
        root = ElementTree.fromstring(file.read_text("utf-8"))
        assert {node.tag.rpartition("}")[2] for node in root.iter()}.isdisjoint({"script", "b", "foreignObject"})
    page = Elements()
    page.feed((out / "report.html").read_text("utf-8"))
    assert page.seen.isdisjoint({"script", "b", "iframe", "object"})
    assert not any(name.startswith("on") for name in page.attributes)
    assert "<script>alert(1)</script>" in page.text
    assert "{{7*7}}" in page.text
    assert not {"\x1b", "\x00", "\u202e"} & {*page.text}
    assert sorted(Path(tmp_path).iterdir()) == [path, out]
