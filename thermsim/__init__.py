"""Find the cold spot of a packed food before a hole is drilled for a probe.

The names below load what they need when they are first used, so that importing this package is quick::

    import thermsim

    case = thermsim.read_case("cases/jar.toml")
    result = thermsim.simulate(case)
    spot = result.cold_spot.least_lethality
    print(spot.z, spot.lethality / 60, result.uncertainty["cold_spot.least_lethality.z"])
    thermsim.save_result(result, "jar.h5")
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.10.0"

if TYPE_CHECKING:
    from thermsim.assess.recommendation import recommend
    from thermsim.assess.result import Result
    from thermsim.assess.simulation import simulate
    from thermsim.assess.verification import verify
    from thermsim.assess.what_if import solved
    from thermsim.case.case import Case
    from thermsim.case.materials import library
    from thermsim.case.reader import case_from_text, read_case
    from thermsim.figures.files import save_figures
    from thermsim.records.results import load_result, save_result
    from thermsim.records.study import run_study
    from thermsim.records.study_file import load_study, save_study
    from thermsim.records.summary import summary

_HOMES = {
    "Case": "thermsim.case.case",
    "Result": "thermsim.assess.result",
    "case_from_text": "thermsim.case.reader",
    "library": "thermsim.case.materials",
    "load_result": "thermsim.records.results",
    "load_study": "thermsim.records.study_file",
    "read_case": "thermsim.case.reader",
    "recommend": "thermsim.assess.recommendation",
    "run_study": "thermsim.records.study",
    "save_figures": "thermsim.figures.files",
    "save_result": "thermsim.records.results",
    "save_study": "thermsim.records.study_file",
    "simulate": "thermsim.assess.simulation",
    "solved": "thermsim.assess.what_if",
    "summary": "thermsim.records.summary",
    "verify": "thermsim.assess.verification",
}

__all__ = [
    "Case",
    "Result",
    "case_from_text",
    "library",
    "load_result",
    "load_study",
    "read_case",
    "recommend",
    "run_study",
    "save_figures",
    "save_result",
    "save_study",
    "simulate",
    "solved",
    "summary",
    "verify",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOMES])
