"""Rung: exact solution (of our own model). What was put into a synthetic run is found again, with its intervals."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from probed import probed_can

from thermsim.assess.curves.fit import fit_curve
from thermsim.assess.curves.general_method import general_method
from thermsim.assess.measured.correction import bare, corrected, log_least
from thermsim.assess.measured.fitting import fitted_to
from thermsim.assess.measured.model import ProbeModel, reading_of_pair
from thermsim.assess.simulate.simulation import simulate
from thermsim.errors import InputError

NAMES = ("diffusivity", "initial", "offset")
NOISE, OFFSET = 0.1, 12.0
#: The case says 1.416e-7 m2/s and 30 degC.
DIFFUSIVITY, INITIAL = 1.30e-7, 28.5
TRUTH = (DIFFUSIVITY, INITIAL, OFFSET)


@pytest.fixture(scope="module")
def model():
    case = probed_can(insertion=0.040)
    return ProbeModel(case, case.process, NAMES, np.arange(0.0, case.process.end + 1, 30.0))


@pytest.fixture(scope="module")
def exact(model):
    """What the probe reads in the true container, from the two finer grids."""
    return model.on_grids(TRUTH, finer=True).temperature


@pytest.fixture(scope="module")
def noise(exact):
    return np.random.default_rng(42).normal(0.0, NOISE, exact.size)


@pytest.fixture(scope="module")
def fit(model, exact, noise):
    return fitted_to(model, exact + noise)


@pytest.fixture(scope="module")
def correction(model, exact, noise, fit):
    read = general_method(model.time, exact + noise, model.case.lethality, heated_until=model.process.heated_until)
    found, seen = corrected(model, fit, read, float(model.time[-1]))
    assert seen is None
    return found


def test_diffusivity_start_and_clock_are_recovered(fit, noise):
    assert_allclose(fit.value("diffusivity"), DIFFUSIVITY, rtol=0.01)
    assert_allclose(fit.value("initial"), INITIAL, rtol=0, atol=0.1)
    # 0.1 K of noise and 111 samples leave some seconds
    assert_allclose(fit.value("offset"), OFFSET, rtol=0, atol=4.0)
    # three parameters take up a little of the noise
    assert_allclose(fit.rms, np.sqrt(np.mean(noise**2)), rtol=0.05)


def test_the_corrected_lethality_is_that_of_the_true_container_and_the_loggers_is_not(model, correction):
    true, _ = model.case_with(TRUTH)
    known = simulate(bare(true)).cold_spot.least_lethality
    assert_allclose(correction.lethality, known.lethality, rtol=0.02)
    assert correction.low < known.lethality < correction.high
    naive = correction.lethality * (1 + correction.over_reading)
    # what the logger says is off by far more than the correction: the stem reads high while heating
    assert abs(naive / known.lethality - 1) > 5 * abs(correction.lethality / known.lethality - 1)
    assert abs(naive / known.lethality - 1) > 0.02


@pytest.mark.long
def test_intervals_hold_the_truth_in_most_of_200_runs(model):
    """The fit and its intervals are the program's own; shared is the family of curves.

    Each of the 200 runs has noise of its own and is fitted by ``fit_curve``, which works out derivatives, covariance,
    correlation time and intervals anew. What it fits is not the full simulation but its expansion round the truth to
    first order (in steps of each parameter, by central differences), which is what the intervals suppose; that the
    full simulation is hit is tested above. The logarithm of the lethality is expanded likewise.
    """
    parameters = model.parameters
    at = np.array([one.inner(value) for one, value in zip(parameters, TRUTH, strict=True)])

    def outer(inner):
        return [one.outer(float(x)) for one, x in zip(parameters, inner, strict=True)]

    def log_lethality(inner):
        return log_least(bare(model.case_with(outer(inner))[0]))

    base = model.curve(TRUTH)
    slopes, log_slopes = [], []
    for unit in np.eye(3):
        slopes.append((model.curve(outer(at + unit)) - model.curve(outer(at - unit))) / 2)
        log_slopes.append((log_lethality(at + unit) - log_lethality(at - unit)) / 2)
    slopes, log_slopes = np.stack(slopes, axis=1), np.array(log_slopes)

    def surrogate(values):
        inner = np.array([one.inner(float(value)) for one, value in zip(parameters, values, strict=True)])
        return base + slopes @ (inner - at)

    chance = np.random.default_rng(2024)
    inside = []
    for _ in range(200):
        fit = fit_curve(surrogate, parameters, base + chance.normal(0.0, NOISE, base.size))
        found = np.array([one.inner(fit.value(one.name)) for one in parameters])
        half = fit.quantile * math.sqrt(log_slopes @ fit.covariance @ log_slopes)
        inside.append(
            [
                *(one.low <= true <= one.high for one, true in zip(fit.estimates, TRUTH, strict=True)),
                abs(log_slopes @ (found - at)) <= half,
            ]
        )
    covered = np.mean(inside, axis=0)
    assert (covered >= 0.90).all() and (covered <= 0.99).all(), covered


@pytest.mark.long
def test_film_and_tip_can_be_fitted_too(model, exact):
    case = model.case
    deeper = case.replace(probe=case.probe.at_depth(0.042, case.container))
    time = np.arange(0.0, case.process.end + 1, 30.0)
    reading = reading_of_pair(deeper, time, finer=True).temperature
    tip = ProbeModel(case, case.process, ("tip",), time)
    found = fitted_to(tip, reading)
    # a steep field: a tenth of a millimetre shows; the grids move with the tip
    assert_allclose(found.value("tip"), 0.042, rtol=0, atol=0.1e-3)


@pytest.mark.long
def test_film_and_diffusivity_that_do_alike_are_named(model):
    # held by the medium, a thin film coefficient slows heating as less diffusivity does
    both = ProbeModel(model.case, model.process, ("diffusivity", "film", "offset", "initial"), model.time)
    reading = both.curve([one.start for one in both.parameters])
    fit = fit_curve(both.curve, both.parameters, reading + np.random.default_rng(1).normal(0, 0.1, reading.size))
    pairs = [pair[:2] for pair in fit.indistinct]
    assert ("diffusivity", "film") in pairs


def test_specific_heat_at_a_kept_diffusivity_changes_both_properties(model):
    both = ProbeModel(model.case, model.process, ("diffusivity", "specific-heat"), model.time)
    material = model.case.product.material
    case, _ = both.case_with([1.1 * material.diffusivity, 1.2 * material.specific_heat])
    made = case.product.material
    assert_allclose(made.diffusivity, 1.1 * material.diffusivity, rtol=1e-12)
    assert_allclose(made.specific_heat, 1.2 * material.specific_heat, rtol=1e-12)
    alone = ProbeModel(model.case, model.process, ("specific-heat",), model.time)
    made = alone.case_with([1.2 * material.specific_heat])[0].product.material
    assert_allclose(made.conductivity, material.conductivity, rtol=1e-12)


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (("difusivity",), 'did you mean "diffusivity"'),
        (("offset", "offset"), "twice"),
        (("film", "film-side"), "exclude each other"),
    ],
)
def test_what_cannot_be_fitted_is_refused(model, names, said):
    with pytest.raises(InputError, match=said):
        ProbeModel(model.case, model.process, names, model.time)


def test_a_held_surface_has_no_film_to_fit(model):
    held = dataclasses.replace(
        model.process.stages[0], film=dataclasses.replace(model.process.stages[0].film, side=math.inf)
    )
    process = dataclasses.replace(model.process, stages=(held, *model.process.stages[1:]))
    with pytest.raises(InputError, match="is inf"):
        ProbeModel(model.case, process, ("film",), model.time)
