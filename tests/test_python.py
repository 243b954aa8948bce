"""What people who write Python meet: names, examples, scripts, and values that behave as values do."""

from __future__ import annotations

import dataclasses
import doctest
import pydoc
import runpy
import sys

import numpy as np
import pytest
from matplotlib import pyplot
from places import CASES

import thermsim
from thermsim.assess.measured.comparison import compare
from thermsim.assess.measured.result import Corrected

#: What is raised or found, not made by hand.
FOUND = {"Comparison", "Curve", "HeatPenetration", "Result", "StudyResult"}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder beside the ready cases, in which figures are closed in the end."""
    (tmp_path / "cases").symlink_to(CASES)
    monkeypatch.chdir(tmp_path)
    yield tmp_path
    pyplot.close("all")


def examples():
    """The examples of the package and of its public names, those of their methods included."""
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = {}
    for name in ("thermsim", *thermsim.__all__):
        thing = thermsim if name == "thermsim" else getattr(thermsim, name)
        home = sys.modules[getattr(thing, "__module__", "thermsim")]
        for test in [] if thing is thermsim else finder.find(thing, name, module=home, globs={}):
            if test.examples:
                found[test.name] = test
    parsed = doctest.DocTestParser().get_doctest(thermsim.__doc__, {}, "thermsim", thermsim.__file__, 0)
    return [parsed, *found.values()]


EXAMPLES = examples()


@pytest.mark.parametrize("example", EXAMPLES, ids=[test.name for test in EXAMPLES])
def test_examples_in_docstrings_hold(example, folder):
    told = []
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    assert runner.run(example, out=told.append).failed == 0, "".join(told)


def test_every_public_name_has_an_example():
    named = {test.name.partition(".")[0] for test in EXAMPLES}
    errors = {name for name in thermsim.__all__ if name.endswith("Error")}
    assert sorted({*thermsim.__all__} - named - errors - FOUND - {"dataframe_of", "dataset_of", "html_of"}) == []


ROUGH = ("1", "0.2", "0.005")
SCRIPTS = {
    "headspace_map.py": ("The place of least lethality lies between", ["headspace_map.png"]),
    "measured_array.py": ("F0 of the cold spot without the probe", []),
    "new_container.py": ("advice: insert", ["new_container.png"]),
    "notebook.py": ("target: 6.00 min", ["notebook_maps.png", "notebook_reading.png", "notebook_section.png"]),
    "own_medium.py": ("reaches the target at this place", ["own_medium.png", "own_medium_holds.png"]),
    "probe_diameters.py": ("", ["probe_diameters.png"]),
}


def run(name, monkeypatch):
    """A script as the command line runs it, with a rough accuracy."""
    monkeypatch.setattr(sys, "argv", [name, *ROUGH])
    return runpy.run_path(str(CASES / name), run_name="__main__")


def compared_quickly(case, run, plan):
    """A comparison without its fit, and an invented correction."""
    found = compare(case, run, dataclasses.replace(plan, fit=()))
    empty = np.zeros(2)
    made_up = Corrected(0.0, 0.06, 600.0, 500.0, 1.0, 590.0, 610.0, 115.0, empty, empty, 0.1, 0.2)
    containers = (dataclasses.replace(found.containers[0], corrected=made_up),)
    return dataclasses.replace(found, containers=containers)


@pytest.mark.parametrize("name", SCRIPTS)
def test_scripts_run_and_write_their_figures(name, folder, monkeypatch, capsys):
    if name == "measured_array.py":  # what takes long is left to the test below
        monkeypatch.setattr(thermsim, "compare", compared_quickly, raising=False)
    run(name, monkeypatch)
    said, pictures = SCRIPTS[name]
    assert said in capsys.readouterr().out
    assert sorted(path.name for path in folder.glob("*.png")) == pictures


@pytest.mark.long
def test_the_script_of_a_measured_array_holds_for_its_own_can(folder, monkeypatch, capsys):
    names = run("measured_array.py", monkeypatch)
    # what was put in by make_measured_run.py: the product is less conducting than the case says
    fitted = {one.name: one.value for one in names["found"].containers[0].fit.estimates}
    assert abs(fitted["diffusivity"] / 1.350e-7 - 1.0) < 0.01
    assert names["spot"].lethality < names["found"].containers[0].general.lethality


@pytest.mark.parametrize("name", sorted(set(SCRIPTS) - {"notebook.py"}))
def test_scripts_are_short(name):
    assert len((CASES / name).read_text("utf-8").splitlines()) <= 25


def test_help_reads_as_a_table_of_contents():
    told = pydoc.plain(pydoc.render_doc(thermsim))
    contents = told.partition("Examples")[0]
    assert [name for name in thermsim.__all__ if name not in contents and name not in FOUND | {"Curve"}] == []
    assert "A simulation is not a validation" in contents and "conduction alone" in contents
