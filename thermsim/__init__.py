"""Find the cold spot of a packed food before a hole is drilled for a probe.

SI units and degC throughout: m, s, kg, W; lethalities in s. Names load what they need when they are first used.
A simulation is not a validation, and heat moves by conduction alone: products that flow heat otherwise.

Say what there is
    Case                     one container, its product, its process; ``replace`` changes it, ``with_thickness``
                             says whether the product flows
    Container, Wall          ``Container.straight`` for cans and jars; Profile and Rise for other shapes
    Product, Material        find_material, library; Composition and material_of for a food by its composition
    Headspace, GasGap        "insulated", "fixed", or ``Headspace.of_gas``
    Process, Stage, Film     ``Process.of`` by durations, process_from_arrays of a logged medium; find_film
    Lethality, Point, Accuracy
    Probe, Segment, Fitting, Gap, Stock
    read_case, case_from_text

Compute
    simulate                 cold spots, lethality everywhere, what the probe reads: a Result
    recommend                how deep the probe should go: a Result with ``advice`` and ``probe.ladder``
    solved                   other processes of a solved case in a few thousandths of a second
    run_study, Study         what is uncertain, varied over arrays and distributions: a StudyResult
    headspace_bracket        between which bounds the headspace may put the cold spot
    verify                   the solver against exact solutions

Measured curves
    lethality                F of a curve
    heat_penetration         fh, jh, fc, jc of a curve
    read_run, run_from_arrays, Columns
    compare, Plan            a measured run against the model, corrected for the probe: a Comparison

Keep and show
    summary                  a result's figures in mm, min and degC, as ``--json`` prints them
    save_result, load_result, save_study, load_study, save_comparison, load_comparison
    plot_section, plot_maps, plot_histories, plot_gathered, plot_track, plot_reading, plot_ladder, plot_study
    save_figures             all figures of a result as files
    dataset_of, dataframe_of, html_of
                             what ``to_xarray``, ``to_dataframe`` and notebooks show results by

Errors
    ThermsimError            and its kinds InputError, CaseError, NumericalError

Examples
--------
>>> import thermsim
>>> result = thermsim.simulate(thermsim.read_case("cases/jar.toml"))
>>> spot = result.cold_spot.least_lethality
>>> print(f"{spot.z:.3f} m, {spot.lethality / 60:.2f} min")
0.106 m, 5.85 min
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from thermsim.version import __version__ as __version__

if TYPE_CHECKING:
    from thermsim.assess.curves.general_method import lethality
    from thermsim.assess.curves.heat_penetration import HeatPenetration, heat_penetration
    from thermsim.assess.depth.bracket import headspace_bracket
    from thermsim.assess.depth.recommendation import recommend
    from thermsim.assess.fields.curve import Curve
    from thermsim.assess.measured.comparison import compare
    from thermsim.assess.measured.result import Comparison, Plan
    from thermsim.assess.simulate.result import Result
    from thermsim.assess.simulate.simulation import simulate
    from thermsim.assess.simulate.what_if import solved
    from thermsim.assess.study.plan import StudyResult
    from thermsim.assess.verify.verification import verify
    from thermsim.case.case import Accuracy, Case, Lethality, Point
    from thermsim.case.container import Container, Wall
    from thermsim.case.file.logged_process import process_from_arrays
    from thermsim.case.file.reader import case_from_text, read_case
    from thermsim.case.probe import Fitting, Gap, Probe, Segment, Stock
    from thermsim.case.process import Film, Process, Stage
    from thermsim.case.product import Headspace, Product
    from thermsim.case.profile import Profile, Rise
    from thermsim.case.study import Study
    from thermsim.errors import CaseError, InputError, NumericalError, ThermsimError
    from thermsim.figures.axes import (
        plot_gathered,
        plot_histories,
        plot_ladder,
        plot_maps,
        plot_reading,
        plot_section,
        plot_study,
        plot_track,
    )
    from thermsim.figures.files import save_figures
    from thermsim.figures.notebook import html_of
    from thermsim.loggers.run import Columns, read_run, run_from_arrays
    from thermsim.physics.composition import Composition
    from thermsim.physics.films import find_film
    from thermsim.physics.gap import GasGap
    from thermsim.physics.materials import Material, find_material, library
    from thermsim.physics.mixing import material_of
    from thermsim.records.arrays import dataframe_of, dataset_of
    from thermsim.records.files.results import load_result, save_result
    from thermsim.records.measured.file import load_comparison, save_comparison
    from thermsim.records.numbers.summary import summary
    from thermsim.records.study.file import load_study, save_study
    from thermsim.records.study.running import run_study

_NAMES = {
    "thermsim.assess.curves.heat_penetration": "HeatPenetration heat_penetration",
    "thermsim.assess.depth.bracket": "headspace_bracket",
    "thermsim.assess.depth.recommendation": "recommend",
    "thermsim.assess.fields.curve": "Curve",
    "thermsim.assess.measured.comparison": "compare",
    "thermsim.assess.curves.general_method": "lethality",
    "thermsim.assess.measured.result": "Comparison Plan",
    "thermsim.assess.simulate.result": "Result",
    "thermsim.assess.simulate.simulation": "simulate",
    "thermsim.assess.simulate.what_if": "solved",
    "thermsim.assess.study.plan": "StudyResult",
    "thermsim.assess.verify.verification": "verify",
    "thermsim.case.case": "Accuracy Case Lethality Point",
    "thermsim.case.container": "Container Wall",
    "thermsim.case.file.logged_process": "process_from_arrays",
    "thermsim.case.file.reader": "case_from_text read_case",
    "thermsim.case.probe": "Fitting Gap Probe Segment Stock",
    "thermsim.case.process": "Film Process Stage",
    "thermsim.case.product": "Headspace Product",
    "thermsim.case.profile": "Profile Rise",
    "thermsim.case.study": "Study",
    "thermsim.errors": "CaseError InputError NumericalError ThermsimError",
    "thermsim.figures.axes": "plot_gathered plot_histories plot_ladder plot_maps plot_reading plot_section "
    "plot_study plot_track",
    "thermsim.figures.files": "save_figures",
    "thermsim.figures.notebook": "html_of",
    "thermsim.loggers.run": "Columns read_run run_from_arrays",
    "thermsim.physics.composition": "Composition",
    "thermsim.physics.films": "find_film",
    "thermsim.physics.gap": "GasGap",
    "thermsim.physics.materials": "Material find_material library",
    "thermsim.physics.mixing": "material_of",
    "thermsim.records.arrays": "dataframe_of dataset_of",
    "thermsim.records.files.results": "load_result save_result",
    "thermsim.records.measured.file": "load_comparison save_comparison",
    "thermsim.records.numbers.summary": "summary",
    "thermsim.records.study.file": "load_study save_study",
    "thermsim.records.study.running": "run_study",
}
_HOMES = {name: home for home, names in _NAMES.items() for name in names.split()}
__all__ = [
    "Accuracy", "Case", "CaseError", "Columns", "Comparison", "Composition", "Container", "Curve", "Film",
    "Fitting", "Gap", "GasGap", "Headspace", "HeatPenetration", "InputError", "Lethality", "Material",
    "NumericalError", "Plan", "Point", "Probe", "Process", "Product", "Profile", "Result", "Rise", "Segment",
    "Stage", "Stock", "Study", "StudyResult", "ThermsimError", "Wall", "case_from_text", "compare",
    "dataframe_of", "dataset_of", "find_film", "find_material", "headspace_bracket", "heat_penetration",
    "html_of", "lethality", "library", "load_comparison", "load_result", "load_study", "material_of",
    "plot_gathered", "plot_histories", "plot_ladder", "plot_maps", "plot_reading", "plot_section", "plot_study",
    "plot_track", "process_from_arrays", "read_case", "read_run", "recommend", "run_from_arrays", "run_study",
    "save_comparison", "save_figures", "save_result", "save_study", "simulate", "solved", "summary", "verify",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
