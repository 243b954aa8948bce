"""From a study to its runs: a grid, one at a time, or a sample of distributions drawn from a fixed seed."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.depth.limits import reachable_depths
from thermsim.assess.study.plan import Plan, figures_wanted
from thermsim.case.case import Case
from thermsim.case.keys.paths import Place, place_of
from thermsim.case.keys.syntax import parsed
from thermsim.case.study import Study, Vary
from thermsim.case.variation import quantity_at
from thermsim.errors import InputError

Array = NDArray[np.float64]
#: Depths at which over-readings are kept.
DEPTHS = 61


def plan_of(case: Case) -> Plan:
    """Plan the runs of a case's study.

    Parameters
    ----------
    case : Case
        With its study and the text of its file.

    Returns
    -------
    Plan
        The same for the same case.

    Raises
    ------
    InputError
        If the case has no study, or one of its file but no text; a path leads nowhere; no depth is possible for the
        probe.
    """
    study = case.study
    if study is None:
        raise InputError(f"{case.file or 'the case'}: has no [study]; add one to say what is varied")
    places = places_of(case, study)
    matrix = sample = np.zeros(study.runs, dtype=np.int64)
    if study.kind == "scan":
        values = np.array(list(itertools.product(*(one.values for one in study.vary))))
    elif study.kind == "tornado":
        values = _one_at_a_time(study, places)
    else:
        values, matrix, sample = _sampled(study)
    depths = np.empty(0)
    if study.recommend_depth and case.probe is not None:
        limits = reachable_depths(case, case.probe)
        if limits is None:
            raise InputError(f'probe "{case.probe.name}": no depth is possible, so none can be recommended')
        depths = np.linspace(*limits, DEPTHS if limits[1] > limits[0] else 1)
    return Plan(study, places, values, matrix, sample, figures_wanted(study, places, case), depths)


def places_of(case: Case, study: Study) -> tuple[Place, ...]:
    """Places of the quantities of a study: among the case's nouns, or in its file."""
    if study.of_nouns:
        return tuple(quantity_at(case, one.key) for one in study.vary)
    if not case.text:
        raise InputError("the study is one of a case file, but the case came without its text: give run_study vary")
    tables = parsed(case.text, case.file)
    return tuple(place_of(tables, one.key) for one in study.vary)


def _one_at_a_time(study: Study, places: tuple[Place, ...]) -> Array:
    """The case as it is, then each quantity at its low and its high end."""
    base = [np.nan if place.value is None else place.value for place in places]
    values = np.tile(base, (study.runs, 1))
    for k, one in enumerate(study.vary):
        values[1 + 2 * k, k], values[2 + 2 * k, k] = one.low, one.high
    return values


def _sampled(study: Study) -> tuple[Array, NDArray[np.int64], NDArray[np.int64]]:
    """Values of a spread, and the matrix and point that each run belongs to.

    For the indices two samples are drawn as one of twice as many columns, so that they are independent, and the first
    is repeated with one column after the other from the second (A. Saltelli et al., Computer Physics Communications
    181 (2010), the design of scipy.stats.sobol_indices).
    """
    columns, points = len(study.vary), study.samples
    unit = _unit_cube(study, columns * (2 if study.indices else 1))
    first = _drawn(study, unit[:, :columns])
    blocks = [first]
    if study.indices:
        second = _drawn(study, unit[:, columns:])
        blocks.append(second)
        for k in range(columns):
            blocks.append(first.copy())
            blocks[-1][:, k] = second[:, k]
    # run by run point after point, so that a study that was stopped has whole points
    values = np.stack(blocks, axis=1).reshape(points * len(blocks), columns)
    return values, np.tile(np.arange(len(blocks)), points), np.repeat(np.arange(points), len(blocks))


def _unit_cube(study: Study, columns: int) -> Array:
    from scipy.stats import qmc

    generator = np.random.default_rng(study.seed)
    if study.sampler == "sobol":
        return np.asarray(qmc.Sobol(columns, scramble=True, bits=64, seed=generator).random(study.samples))
    return np.asarray(qmc.LatinHypercube(columns, seed=generator).random(study.samples))


def _drawn(study: Study, unit: Array) -> Array:
    return np.column_stack([quantile(one, unit[:, k]) for k, one in enumerate(study.vary)])


def quantile(vary: Vary, part: Array) -> Array:
    """Values of a distribution below which the given parts of it lie.

    Parameters
    ----------
    vary : Vary
        With its distribution.
    part : ndarray
        From 0 to 1.
    """
    from scipy import stats

    if vary.law is not None:
        return np.asarray(vary.law.ppf(part), dtype=float)
    low = -np.inf if vary.low is None else vary.low
    high = np.inf if vary.high is None else vary.high
    if vary.distribution == "uniform":
        return np.asarray(low + (high - low) * part)
    if vary.distribution == "triangular":
        mode = low if vary.mode is None else vary.mode
        return np.asarray(stats.triang.ppf(part, (mode - low) / (high - low), loc=low, scale=high - low))
    if vary.distribution == "normal":
        mean, deviation = vary.mean or 0.0, vary.deviation or 1.0
        ends = (low - mean) / deviation, (high - mean) / deviation
        return np.asarray(stats.truncnorm.ppf(part, *ends, loc=mean, scale=deviation))
    if vary.distribution == "discrete":
        weights = np.array(vary.weights or np.ones(len(vary.values)))
        steps = np.cumsum(weights) / weights.sum()
        place = np.minimum(np.searchsorted(steps, part, side="right"), steps.size - 1)
        return np.asarray(np.array(vary.values)[place], dtype=float)
    raise InputError(f'distribution "{vary.distribution}" is unknown')
