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
from small_case import SMALL

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


#: What takes seconds.
LONG = ("compare", "headspace_bracket", "plot_maps", "recommend", "save_comparison", "save_result")


@pytest.mark.parametrize(
    "example",
    [pytest.param(test, marks=pytest.mark.long) if test.name in LONG else test for test in EXAMPLES],
    ids=[test.name for test in EXAMPLES],
)
def test_examples_in_docstrings_hold(example, folder):
    told = []
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    assert runner.run(example, out=told.append).failed == 0, "".join(told)


def test_every_public_name_has_an_example():
    named = {test.name.partition(".")[0] for test in EXAMPLES} | {"GasGap"}  # in that of Headspace.of_gas
    errors = {name for name in thermsim.__all__ if name.endswith("Error")}
    assert sorted({*thermsim.__all__} - named - errors - FOUND - {"dataframe_of", "dataset_of", "html_of"}) == []


ROUGH = ("1", "0.2", "0.005")
SCRIPTS = {
    "headspace_map.py": ("The place of least lethality lies between", ["headspace_map.png"]),
    "measured_array.py": ("F0 of the cold spot without the probe", []),
    "new_container.py": ("advice: insert", ["new_container.png"]),
    "notebook.py": ("target: 6.00 min", ["notebook_maps.png", "notebook_reading.png"]),
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


@pytest.mark.long
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


TIME = np.arange(0.0, 5400.0, 15.0)
#: A medium that comes up in 10 min, holds at 121 degC to 75 min, and is cold from then on; what a probe reads in it.
RETORT = np.where(TIME < 4500.0, np.minimum(21.0 + TIME / 6.0, 121.0), 25.0)
HEATED = 121.0 - 1.5 * 80.0 * 10 ** (-np.maximum(TIME - 350.0, 300.0) / 1800.0)
READING = np.where(TIME < 4500.0, HEATED, 25.0 + (HEATED[299] - 25.0) * 10 ** (-(TIME - 4500.0) / 1500.0))


def test_factors_of_arrays_are_those_that_they_were_made_with():
    found = thermsim.heat_penetration(TIME, READING, RETORT, floor=0.2)
    assert abs(found.fh / 1800.0 - 1.0) < 1e-3 and abs(found.fc / 1500.0 - 1.0) < 1e-3
    # cooling is found where the medium leaves its hold; one that is said holds
    assert abs(found.cooling.zero - 4500.0) <= 15.0
    said = thermsim.heat_penetration(TIME, READING, RETORT, cooling_starts=4400.0)
    assert said.cooling.zero == 4400.0
    short = thermsim.heat_penetration(TIME[:20], READING[:20], 121.0)
    assert np.isnan(short.fh) and np.isnan(short.jc) and short.heating.remark


def test_arrays_that_are_no_curve_are_refused_by_the_name_of_the_argument():
    for call in (
        lambda values: thermsim.lethality(TIME, values, 121.1, 10.0),
        lambda values: thermsim.heat_penetration(TIME, values, RETORT),
    ):
        with pytest.raises(thermsim.InputError, match="time and temperature must be two lists of the same length"):
            call(READING[1:])
        with pytest.raises(thermsim.InputError, match="temperature must be finite; 1 of its numbers are not"):
            call(np.where(TIME == 60.0, np.nan, READING))
    with pytest.raises(thermsim.InputError, match="time must be finite and growing"):
        thermsim.lethality(TIME[::-1], READING, 121.1, 10.0)
    with pytest.raises(thermsim.CaseError, match="lethality.z = 0 K must be at least 1"):
        thermsim.lethality(TIME, READING, 121.1, 0.0)


def test_a_medium_from_arrays_is_thinned_as_that_of_a_file_is():
    csv = "\n".join(
        ["Time [s];Retort [C]", *(f"{at:.1f};{degrees:.4f}" for at, degrees in zip(TIME, RETORT, strict=True))]
    )
    table = 'csv = "run.csv"\nfilm_W_m2K = 450\ncooling_film_W_m2K = 300\ncooling_starts_min = 70\nthin_K = 0.1\n'
    start, end = SMALL.index("start_C"), SMALL.index("[lethality]")
    case = thermsim.case_from_text(SMALL[:start] + table + SMALL[end:], attachments={"run.csv": csv})
    process = thermsim.process_from_arrays(
        TIME, np.round(RETORT, 4), cooling_starts=4200.0, film=450.0, cooling_film=300.0, thin=0.1
    )
    assert process.stages == case.process.stages
    assert sum(stage.time.size for stage in process.stages) < 10


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"cooling_starts": 9000.0}, "cooling_starts = 9000 s must be at least 0.06 s, and not after the last time"),
        ({"cooling_film": None}, "cooling_film is missing, although 1185 s follow the start of cooling"),
        ({"thin": 0.0}, "thin = 0 K must be above 0 K"),
        ({"time": TIME - 60.0}, "time begins at -60 s; it must not begin before 0, the start of the process"),
        ({"film": -1.0}, "film.side = -1 W/m2K must be at least 0 W/m2K"),
    ],
)
def test_a_medium_that_is_no_process_is_refused(changes, refusal):
    given = {"time": TIME, "medium": RETORT, "cooling_starts": 4200.0, "film": 450.0, "cooling_film": 300.0}
    with pytest.raises(thermsim.InputError, match=refusal):
        thermsim.process_from_arrays(**{**given, **changes})


@pytest.mark.parametrize(
    ("stages", "refusal"),
    [
        ([("hold", 600.0), ("come-up", 60.0, 118.0)], None),
        ([("hold", -1.0)], r"stages\[0\].duration = -1 s \(-0.0166667 min\) must be at least 0"),
        ([("hold", 600.0), ("cool", 0.0)], "is a jump of the medium's temperature, but its temperature is missing"),
        (
            [("hold", 600.0), ("cool", 0.0, 30.0)],
            "the last stage lasts 0 minutes: a jump at the very end has",
        ),
        ([("hold", 0.01, 30.0)], "is too short; it must be 0, a jump, or at least 0.001 min"),
        ([("cool", 600.0)], "the process begins with cooling; a come-up or a hold comes first"),
        (
            [("hold", 60.0), ("cool", 60.0), ("hold", 60.0)],
            '"hold" comes after cooling has begun; from the first',
        ),
        ([("keep", 600.0)], 'stage.name = "keep" is unknown; allowed here: come-up, hold, cool'),
        ([("hold", 600.0, 1180.0)], "stage.medium = 1180 degC must be at least -60 and at most 200 degC"),
    ],
)
def test_stages_by_duration_are_refused_like_those_of_a_file(stages, refusal):
    if refusal is None:
        process = thermsim.Process.of(40.0, stages, film=thermsim.Film(450.0, 60.0, 900.0))
        assert [stage.medium.tolist() for stage in process.stages] == [[40.0, 40.0], [40.0, 118.0]]
        return
    with pytest.raises(thermsim.CaseError, match=refusal):
        thermsim.Process.of(40.0, stages, film=450.0)


def test_a_jump_is_no_stage_and_a_film_of_its_own_holds_for_its_stage():
    stages = [("hold", 600.0), ("cool", 0.0, 20.0), ("cool", 300.0, None, 80.0)]
    process = thermsim.Process.of(118.0, stages, film=450.0)
    assert [stage.medium.tolist() for stage in process.stages] == [[118.0, 118.0], [20.0, 20.0]]
    assert [stage.film.lid for stage in process.stages] == [450.0, 80.0]


def test_runs_from_arrays_keep_their_numbers_and_are_cleaned_like_files():
    gone = np.where(TIME == 600.0, np.nan, READING)
    run = thermsim.run_from_arrays(TIME, {"Can 1": gone, "Can 2": READING}, RETORT, depths={"Can 2": 0.03})
    first, second = run.courses
    assert first.time.size == TIME.size - 1 and second.insertion == 0.03 and first.insertion is None
    assert (second.temperature == READING).all() and (run.medium.temperature == RETORT).all()
    with pytest.raises(thermsim.InputError, match="time and readings must be lists of the same length"):
        thermsim.run_from_arrays(TIME[1:], {"Can 1": READING})
