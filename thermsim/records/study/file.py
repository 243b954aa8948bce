"""The file of a study: one tidy HDF5 file with a row for every run, and the same as CSV.

Everything runs over ``run``: the quantities that were varied, in the units of their keys, and the figures, in SI
units and degC. ``mismatch_at_depth`` and the like also run over ``depth``; Sobol indices over ``figure`` and
``quantity``.
The same study gives the same data sets, byte for byte.
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from thermsim.assess.study.plan import ALONG, FIGURES, Gathered, Plan, StudyResult, figures_wanted
from thermsim.assess.study.sampling import places_of, plan_of
from thermsim.assess.study.sensitivity import sobol_indices
from thermsim.case.case import Case
from thermsim.case.file.reader import case_from_text
from thermsim.case.keys.paths import Place
from thermsim.case.study import Study
from thermsim.errors import InputError
from thermsim.quantities import DEPTH, PART, mm, percent
from thermsim.records.files.atomic import whole_file, write_text
from thermsim.records.files.codec import Stored, decode, encode
from thermsim.records.files.guarded import Guarded
from thermsim.records.files.results import no_file
from thermsim.text import plain
from thermsim.version import __version__

#: Format 1 had over-readings at the depths alone.
FORMAT = 2
#: Figures that older files of this format do not have.
NEWER = ("bias_until_heating_ends",)
HOLDS = "study"
Text = NDArray[np.object_]


@dataclasses.dataclass(frozen=True)
class _Variable:
    name: str
    axes: tuple[str, ...]
    values: NDArray[Any]
    units: str
    long_name: str


def save_study(result: StudyResult, path: str | Path) -> None:
    """Write a study to an HDF5 file, whole or not at all.

    Raises
    ------
    InputError
        If the file cannot be written.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> with ThreadPoolExecutor(1) as here:
    ...     found = thermsim.run_study(case, {"process.hold": [4200.0, 4800.0]}, executor=here)
    >>> thermsim.save_study(found, "holds.h5")
    >>> thermsim.load_study("holds.h5") == found
    True
    """
    variables = [*_variables(result)]
    quantities = " ".join(quantity_names(result))
    with whole_file(Path(path)) as part, h5py.File(part, "w", libver=("v110", "v110")) as file:
        for one in variables:
            text = {"dtype": h5py.string_dtype()} if one.values.dtype == object else {}
            data = file.create_dataset(one.name, data=one.values, track_times=False, **text)
            data.attrs.update({"units": one.units, "long_name": one.long_name})
            if one.axes[:1] == ("run",) and one.name not in ("run", *quantity_names(result)):
                data.attrs["coordinates"] = quantities
            if one.axes == (one.name,):
                data.make_scale(one.name)
        for one in variables:
            for place, axis in enumerate(one.axes):
                if axis != one.name:
                    file[one.name].dims[place].attach_scale(file[axis])
        file.attrs.update(
            {
                "program": "thermsim",
                "holds": HOLDS,
                "format": FORMAT,
                "version": __version__,
                "title": plain(result.case.title, 200),
                "study": result.plan.study.kind,
                "seed": result.plan.study.seed,
                "case_file": plain(result.case.file, 200),
                "units_and_axes": "quantities in the units of their keys; figures in m, s, degC and parts of a whole",
            }
        )


def load_study(path: str | Path) -> StudyResult:
    """Read a study back.

    Raises
    ------
    InputError
        If there is no such file, it holds no study, or is damaged.

    Examples
    --------
    >>> import thermsim
    >>> thermsim.load_study("elsewhere.h5")
    Traceback (most recent call last):
    ...
    thermsim.errors.InputError: elsewhere.h5: no such file
    """
    path, shown = Path(path), plain(os.fspath(path), 200)
    if not path.is_file():
        raise no_file(path)
    try:
        with h5py.File(path, "r", locking="best-effort") as file:
            if file.attrs.get("program") != "thermsim" or file.attrs.get("holds") != HOLDS:
                raise InputError(f"{shown}: is an HDF5 file, but not that of a study of thermsim")
            if file.attrs["format"] != FORMAT:
                raise InputError(
                    f"{shown}: is a study's file of format {file.attrs['format']}; this program reads {FORMAT}, "
                    "whose runs hold the mismatch at each depth: run the study again"
                )
            return _read(file, Guarded(file, path.stat().st_size))
    except InputError:
        raise
    except Exception as failure:
        # HDF5 and what is built on it report damage by almost any kind of exception
        reason = plain(str(failure).splitlines()[0] if str(failure) else type(failure).__name__, 120)
        raise InputError(f"{shown}: is damaged, cut short, or not in HDF5 ({reason})") from failure


def quantity_names(result: StudyResult) -> list[str]:
    """Names of the quantities as variables: their paths with anything but letters and digits as "_"."""
    return _names(result.plan.places)


def _names(places: Sequence[Place]) -> list[str]:
    return [re.sub(r"\W+", "_", place.path).strip("_") for place in places]


def _variables(result: StudyResult) -> Iterator[_Variable]:
    plan, names = result.plan, quantity_names(result)
    run = ("run",)
    yield _Variable("run", run, np.arange(plan.runs), "1", "number of the run")
    for k, (name, place) in enumerate(zip(names, plan.places, strict=True)):
        yield _Variable(name, run, plan.values[:, k], place.unit or "1", f"value of {place.path}")
    if plan.study.kind == "spread":
        yield _Variable("sample", run, plan.sample, "1", "number of the sampled point")
        meaning = "0 first sample, 1 second, 2 + k first with quantity k from the second"
        yield _Variable("matrix", run, plan.matrix, "1", meaning)
    for figure in plan.figures:
        yield _Variable(figure.name, run, result.figures[figure.name], figure.quantity.stored, figure.meaning)
    reasons = _texts([result.failures.get(k, "") for k in range(plan.runs)])
    yield _Variable("failure", run, reasons, "1", "why the run failed; empty if it did not")
    if plan.depths.size:
        yield _Variable("depth", ("depth",), plan.depths, DEPTH.stored, DEPTH.long_name)
        for name, values in result.along.items():
            meaning = f"at the depth: {FIGURES[name].meaning}"
            yield _Variable(f"{name}_at_depth", ("run", "depth"), values, PART.stored, meaning)
    yield from _indices(result, names)
    yield _Variable("case", (), _texts(result.case.text), "1", "the case file, word for word")
    if plan.study.of_nouns:
        told = encode((dataclasses.replace(result.case, study=None), _without_laws(plan.study)), _put)
        yield _Variable("case_record", (), _texts(json.dumps(told)), "1", "the case and its study as JSON")
    for k, (name, text) in enumerate(result.case.attachments.items()):
        yield _Variable(f"attachment_{k}", (), _texts(text), "1", plain(name, 1000))


def _indices(result: StudyResult, names: list[str]) -> Iterator[_Variable]:
    """Sobol indices of every figure that has them."""
    found = {name: sobol_indices(result, values) for name, values in result.figures.items()}
    known = {name: indices for name, indices in found.items() if indices is not None}
    if not known:
        return
    yield _Variable("figure", ("figure",), _texts(list(known)), "1", "figure whose variance is explained")
    yield _Variable("quantity", ("quantity",), _texts(names), "1", "quantity that explains it")
    axes = ("figure", "quantity")
    for order, meaning in (("first", "first-order Sobol index"), ("total", "total-order Sobol index")):
        values = np.array([getattr(one, order) for one in known.values()])
        ends = np.array([getattr(one, f"{order}_interval") for one in known.values()])
        yield _Variable(f"{order}_order", axes, values, "1", meaning)
        yield _Variable(f"{order}_order_low", axes, ends[..., 0], "1", f"{meaning}: low end of the 95 % interval")
        yield _Variable(f"{order}_order_high", axes, ends[..., 1], "1", f"{meaning}: high end of the 95 % interval")


def _texts(values: str | list[str]) -> Text:
    return np.array(values, dtype=object)


def _read(file: h5py.File, kept: Guarded) -> StudyResult:
    attachments: dict[str, str] = {}
    while (name := f"attachment_{len(attachments)}") in kept:
        text = kept.text(name)
        attachments[str(file[name].attrs["long_name"])] = text
    if "case_record" in kept:
        plan, case = _recorded(kept)
    else:
        case = case_from_text(kept.text("case"), name=str(file.attrs["case_file"]), attachments=attachments)
        plan = plan_of(case)
    gathered = Gathered(plan)
    names = quantity_names(Gathered(plan).result(case))
    # the values that were computed, not those that another version might sample
    values = np.column_stack([kept.array(name) for name in names])
    if values.shape != plan.values.shape:
        raise ValueError("the runs are not those of its case")
    figures = gathered.figures | {
        name: np.asarray(kept.array(name), dtype=float)
        for name in gathered.figures
        if name in kept or name not in NEWER
    }
    along = {name: kept.array(f"{name}_at_depth") for name in ALONG} if plan.depths.size else gathered.along
    failures = {k: reason for k, reason in enumerate(kept.array("failure")) if reason}
    return StudyResult(case, dataclasses.replace(plan, values=values), figures, along, failures)


def _without_laws(study: Study) -> Study:
    """The study with its distributions by their names alone; what was drawn from them is kept."""
    return dataclasses.replace(study, vary=tuple(dataclasses.replace(one, law=None) for one in study.vary))


def _put(_trail: object, value: Stored) -> str | None:
    """An array as the text of its numbers; a text stays where it is."""
    return None if isinstance(value, str) else json.dumps(value.tolist())


def _recorded(kept: Guarded) -> tuple[Plan, Case]:
    """The plan and the case of a study of nouns, whose case may have no file."""
    told = json.loads(kept.text("case_record"))
    if not isinstance(told, list) or len(told) != 2:
        raise ValueError("the case's record is none")
    study = decode(Study, told[1], json.loads)
    case = decode(Case, told[0], lambda text: np.array(json.loads(text), dtype=float)).replace(study=study)
    places = places_of(case, study)
    sampled = study.kind == "spread"
    values = np.column_stack([kept.array(name) for name in _names(places)])
    matrix, sample = (
        np.asarray(kept.array(name), dtype=np.int64) if sampled else np.zeros(len(values), dtype=np.int64)
        for name in ("matrix", "sample")
    )
    depths = kept.array("depth") if "depth" in kept else np.empty(0)
    return Plan(study, places, values, matrix, sample, figures_wanted(study, places, case), depths), case


def study_csv(result: StudyResult) -> str:
    """The runs as CSV in mm, min, degC and %, one line each, the units in the names."""
    plan = result.plan
    columns: dict[str, NDArray[Any]] = {"run": np.arange(plan.runs)}
    columns |= {place.path: plan.values[:, k] for k, place in enumerate(plan.places)}
    if plan.study.kind == "spread":
        columns |= {"sample": plan.sample, "matrix": plan.matrix}
    for figure in plan.figures:
        columns[figure.key] = figure.quantity.edge(result.figures[figure.name])
    for name, values in result.along.items():
        for k, depth in enumerate(plan.depths):
            columns[PART.key(f"{name}_at_{mm(depth):.2f}_mm")] = percent(values[:, k])
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*columns, "failure"])
    for k in range(plan.runs):
        writer.writerow([*(_cell(values[k]) for values in columns.values()), result.failures.get(k, "")])
    return text.getvalue()


def save_csv(result: StudyResult, path: str | Path) -> None:
    """Write :func:`study_csv` to a file, whole or not at all."""
    write_text(Path(path), study_csv(result))


def _cell(value: float) -> str:
    return "" if isinstance(value, float) and math.isnan(value) else f"{value:.8g}"
