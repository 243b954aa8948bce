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

from thermsim.version import __version__ as __version__

if TYPE_CHECKING:
    from thermsim.assess.depth.recommendation import recommend
    from thermsim.assess.simulate.result import Result
    from thermsim.assess.simulate.simulation import simulate
    from thermsim.assess.simulate.what_if import solved
    from thermsim.assess.verify.verification import verify
    from thermsim.case.case import Case
    from thermsim.case.file.reader import case_from_text, read_case
    from thermsim.figures.files import save_figures
    from thermsim.physics.materials import library
    from thermsim.records.files.results import load_result, save_result
    from thermsim.records.numbers.summary import summary
    from thermsim.records.study.file import load_study, save_study
    from thermsim.records.study.running import run_study

_HOMES = {
    "Case": "thermsim.case.case",
    "Result": "thermsim.assess.simulate.result",
    "case_from_text": "thermsim.case.file.reader",
    "library": "thermsim.physics.materials",
    "load_result": "thermsim.records.files.results",
    "load_study": "thermsim.records.study.file",
    "read_case": "thermsim.case.file.reader",
    "recommend": "thermsim.assess.depth.recommendation",
    "run_study": "thermsim.records.study.running",
    "save_figures": "thermsim.figures.files",
    "save_result": "thermsim.records.files.results",
    "save_study": "thermsim.records.study.file",
    "simulate": "thermsim.assess.simulate.simulation",
    "solved": "thermsim.assess.simulate.what_if",
    "summary": "thermsim.records.numbers.summary",
    "verify": "thermsim.assess.verify.verification",
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
