"""A study for machines: its quantities, percentiles, Sobol indices and robust depth, in mm, min and degC."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermsim.assess.study.cautions import notices_of_study
from thermsim.assess.study.plan import StudyResult
from thermsim.assess.study.robust_depth import robust_depth
from thermsim.assess.study.sensitivity import Indices, sobol_indices
from thermsim.quantities import LENGTH, PART
from thermsim.records.numbers.keys import json_ready
from thermsim.records.numbers.summary import notices_record
from thermsim.records.study.sentences import PERCENTILES


def study_summary(result: StudyResult) -> dict[str, Any]:
    """The outcome of a study as a tree that JSON holds; what is not known is null."""
    plan = result.plan
    names = [place.path for place in plan.places]
    tree: dict[str, Any] = {
        "title": result.case.title,
        "kind": plan.study.kind,
        "runs": plan.runs,
        "failures": {str(run): reason for run, reason in result.failures.items()},
        "notices": notices_record(notices_of_study(result)),
        "quantities": [{"key": place.path, "unit": place.unit} for place in plan.places],
    }
    if plan.study.kind == "spread":
        tree["seed"] = plan.study.seed
        tree["percentiles"] = {}
        tree["sobol_indices"] = {}
        for figure in plan.figures:
            values = figure.quantity.edge(result.sampled(figure.name))
            if values.size:
                levels = np.percentile(values, PERCENTILES)
                shown = dict(zip(map(str, PERCENTILES), map(float, levels), strict=True))
                tree["percentiles"][figure.key] = shown
            indices = sobol_indices(result, result.figures[figure.name])
            if indices is not None:
                tree["sobol_indices"][figure.name] = _indices(names, indices)
    else:
        tree["values"] = {name: plan.values[:, k].tolist() for k, name in enumerate(names)}
        tree["figures"] = {
            figure.key: figure.quantity.edge(result.figures[figure.name]).tolist() for figure in plan.figures
        }
    robust = robust_depth(result)
    if robust is not None:
        k, measure = robust.chosen, robust.to_measure()
        tree["robust_depth"] = {
            **LENGTH.record(depth=robust.best, window=robust.choice.window),
            "at_limit": robust.choice.at_limit,
            "good_runs": int(robust.good[k]),
            **PART.record(
                mismatch=float(robust.worst[k]),
                mean_mismatch=float(robust.mean[k]),
                heating_over_reading=robust.heating[[0, 2], k].tolist(),
                over_reading=robust.in_all[[0, 2], k].tolist(),
                expected_over_reading=float(robust.in_all[1, k]),
                in_window=float(robust.within[k]),
            ),
            **LENGTH.record(least_mean_mismatch_depth=float(robust.depth[robust.least_mean])),
            "measure_better": None if measure is None else names[measure],
        }
    return {key: json_ready(value) for key, value in tree.items()}


def _indices(names: list[str], indices: Indices) -> dict[str, Any]:
    return {
        name: {
            "first": float(indices.first[k]),
            "first_interval": indices.first_interval[k].tolist(),
            "total": float(indices.total[k]),
            "total_interval": indices.total_interval[k].tolist(),
        }
        for k, name in enumerate(names)
    }
