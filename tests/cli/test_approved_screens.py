"""Screens and JSON of the ready cases beside the approved texts: what is said is seen to change.

Rung: hand-worked, by reading. Cases are solved once each, coarsely; what they cost and how grids close is left out.
JSON is approved to three digits, of long lists their ends and their length.
"""

import dataclasses
import json

import pytest
from approved import FOLDER, check_approved
from places import CASES
from study_scenes import Here

from thermsim import case_from_text, read_case
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.result import Effort, EnergyBalance
from thermsim.assess.simulate.simulation import simulate
from thermsim.records.numbers.summary import summary
from thermsim.records.study.running import run_study
from thermsim.records.study.sentences import study_answer
from thermsim.records.study.summary import study_summary
from thermsim.records.words.answer import answer
from thermsim.records.words.screen import DEPTH_ROOM, ROOM

COARSE = "\naccuracy = { temperature_K = 2, place_mm = 10.0, lethality_percent = 20.0 }\n"
SOLVED = sorted(path.stem for path in CASES.glob("*.toml") if not path.stem.startswith("study_"))
#: Those whose JSON is approved too: every kind of container, probe, headspace and question.
AS_JSON = (
    "can_side",
    "cup_tapered",
    "jar_composition",
    "pouch",
    "depth-can_probe",
    "depth-jar_logger",
    "study_fill",
    "study_tornado",
)
#: Quantities and values of each that are kept of a study.
STUDIES = {"study_fill": (1, 11), "study_headspace": (2, 3), "study_size": (2, 3), "study_tornado": (2, 0)}


def coarse(name):
    case = read_case(CASES / f"{name}.toml")
    if "[accuracy]" in case.text:
        return case
    return case_from_text(COARSE + case.text, name=case.file, attachments=case.attachments)


def without_effort(result):
    """The result without what differs from machine to machine."""
    effort, energy = Effort(1000, 50, 0, 0.01, 1.0, 0.5), EnergyBalance(1.0, 1.0, 0.0)
    return dataclasses.replace(result, effort=effort, energy=energy)


def check(name, tell, room):
    """Compare both screens with the approved texts; the short one fits, all lines are narrow."""
    for full in (False, True):
        lines = tell(full=full)
        assert max(map(len, lines)) <= 100
        assert full or len(lines) < room, "a line is left for what is said of files"
        check_approved(f"{name}-full" if full else name, lines)


def short(value):
    """A tree of JSON with its numbers to three digits, and of long lists the ends and the length."""
    if isinstance(value, dict):
        return {key: short(one) for key, one in value.items() if key not in ("program", "version")}
    if isinstance(value, list) and len(value) > 6:
        return [f"{len(value)} in all", *map(short, (value[0], value[1], value[-2], value[-1]))]
    if isinstance(value, list):
        return [*map(short, value)]
    return float(f"{value:.3g}") if isinstance(value, float) else value


def check_json(name, tree):
    """Compare a record for machines with the approved one."""
    if name in AS_JSON:
        check_approved(f"{name}-json", json.dumps(short(tree), indent=1, ensure_ascii=False).splitlines())


# a stem through the edge of a brick takes as long as all others together
@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.long) if name == "pouch" else name for name in SOLVED]
)
def test_screens_of_solve(name):
    result = without_effort(simulate(coarse(name)))
    check(f"solve-{name}", lambda full: answer(result, full=full), ROOM)
    check_json(name, summary(result))


@pytest.mark.long
@pytest.mark.parametrize("name", ["jar_logger", pytest.param("can_probe", marks=pytest.mark.long)])
def test_screens_of_depth(name):
    case = coarse(name)
    result = without_effort(recommend(case.replace(probes=case.probes[:1])))
    check(f"depth-{name}", lambda full: answer(result, full=full), DEPTH_ROOM)
    check_json(f"depth-{name}", summary(result))


@pytest.mark.long
@pytest.mark.parametrize(
    "name", [name if name == "study_fill" else pytest.param(name, marks=pytest.mark.long) for name in STUDIES]
)
def test_screens_of_study(name):
    case, (quantities, values) = coarse(name), STUDIES[name]
    vary = [dataclasses.replace(one, values=one.values[:values]) for one in case.study.vary[:quantities]]
    case = case.replace(study=dataclasses.replace(case.study, vary=tuple(vary)))
    result = run_study(case, executor=Here())
    check(name, lambda full: study_answer(result, full=full), ROOM)
    check_json(name, study_summary(result))


def test_no_approved_text_is_left_over():
    names = [f"solve-{name}" for name in SOLVED] + ["depth-can_probe", "depth-jar_logger", *STUDIES, "compare"]
    wanted = {f"{name}{end}.txt" for name in names for end in ("", "-full")} | {
        f"{name}-json.txt" for name in AS_JSON
    }
    assert {path.name for path in FOLDER.iterdir()} == wanted
