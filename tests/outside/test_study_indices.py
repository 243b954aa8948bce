"""Samples and Sobol indices of studies: closed forms, an exact solution, another code."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from math import pi

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from thermsim.assess.study.sampling import quantile
from thermsim.assess.study.sensitivity import saltelli, sobol_indices
from thermsim.case.file.reader import case_from_text
from thermsim.case.study import Vary
from thermsim.exact import FiniteCylinder
from thermsim.records.study.running import run_study

RADIUS, HEIGHT, HEATING = 0.0365, 0.110, 3600.0
BARE = f"""
format = 1
title = "Bare cylinder"
container.inner_diameter_mm = {2e3 * RADIUS}
container.inner_height_mm = {1e3 * HEIGHT}
materials.paste = {{ conductivity_W_mK = 0.5, density_kg_m3 = 1040, specific_heat_J_kgK = 3650 }}
product = {{ material = "paste", initial_C = 30 }}
fill.headspace_mm = 0
headspace.model = "insulated"
lethality = {{ reference_C = 121.1, z_C = 10 }}
accuracy = {{ place_mm = 5.0, lethality_percent = 5.0 }}
[process]
start_C = 121.1
film_W_m2K = 180
stage = [{{ name = "hold", minutes = {HEATING / 60} }}]
[study]
kind = "spread"
"""


def study(rest, compute, **options):
    """Run a study of the bare cylinder in this process."""
    with ThreadPoolExecutor(1) as executor:
        return run_study(case_from_text(BARE + rest), executor=executor, compute=compute, **options)


def uniform(key, low, high):
    return f'{{ key = "{key}", distribution = "uniform", low = {low}, high = {high} }}'


@pytest.mark.parametrize("sampler", ["sobol", pytest.param("latin hypercube", marks=pytest.mark.long)])
def test_ishigamis_function_has_its_indices(sampler):
    # closed form, from T. Ishigami and T. Homma, IEEE (1990), doi 10.1109/ISUMA.1990.151285, with a = 7, b = 0.1
    a, b = 7.0, 0.1
    alone = np.array([(1 + b * pi**4 / 5) ** 2 / 2, a**2 / 8, 0.0])
    together = b**2 * pi**8 * (1 / 18 - 1 / 50)  # of the first and the third
    variance = alone.sum() + together
    keys = ("product.initial_C", "process.start_C", "lethality.reference_C")
    vary = ", ".join(uniform(key, -pi, pi) for key in keys)

    def ishigami(task):
        x, y, z = task.values
        return {"least_lethality": np.sin(x) + a * np.sin(y) ** 2 + b * z**4 * np.sin(x)}, {}

    result = study(f'samples = 1024\nsampler = "{sampler}"\nseed = 5\nvary = [{vary}]', ishigami)
    indices = sobol_indices(result, result.figures["least_lethality"])
    # 1024 points: the estimates scatter by some hundredths, more with the hypercube
    bound = 0.03 if sampler == "sobol" else 0.1
    assert_allclose(indices.first, alone / variance, rtol=0, atol=bound)
    assert_allclose(indices.total, (alone + [together, 0, together]) / variance, rtol=0, atol=bound)
    for values, interval in ((indices.first, indices.first_interval), (indices.total, indices.total_interval)):
        assert (interval[:, 0] <= values).all()
        assert (values <= interval[:, 1]).all()
        assert (np.diff(interval) < 0.3).all()
    assert result.sampled("least_lethality").size == 2048
    assert_allclose(result.sampled("least_lethality").var(), variance, rtol=0.05)  # 2048 points


def test_indices_are_those_of_scipy():
    # another code: scipy.stats.sobol_indices on the same function values
    table = np.random.default_rng(3).normal(size=(64, 6))
    table -= table[:, :2].mean()
    first, total = saltelli(table)
    values = {"f_A": table[:, 0][None], "f_B": table[:, 1][None], "f_AB": table[:, 2:].T[:, None]}
    found = stats.sobol_indices(func=values, n=64)
    assert_allclose(first, found.first_order.ravel(), rtol=1e-10)
    assert_allclose(total, found.total_order.ravel(), rtol=1e-10)


@pytest.mark.parametrize(
    ("vary", "other"),
    [
        (Vary("", (), 2.0, 5.0, "uniform"), stats.uniform(2, 3)),
        (Vary("", (), 2.0, 5.0, "triangular", mode=4.0), stats.triang(2 / 3, 2, 3)),
        (Vary("", (), None, None, "normal", mean=3.0, deviation=0.5), stats.norm(3, 0.5)),
    ],
)
def test_quantiles_are_those_of_scipys_distributions(vary, other):
    part = np.linspace(0.01, 0.99, 25)
    assert_allclose(other.cdf(quantile(vary, part)), part, rtol=1e-9)


def test_a_normal_distribution_that_is_cut_off_keeps_within():
    cut = Vary("", (), 2.5, 3.2, "normal", mean=3.0, deviation=0.5)
    part = np.array([0.0, 0.5, 1.0])
    known = stats.norm(3, 0.5)
    middle = known.ppf((known.cdf(2.5) + known.cdf(3.2)) / 2)
    assert_allclose(quantile(cut, part), [2.5, middle, 3.2], rtol=1e-9)


def test_discrete_values_come_by_their_weights():
    vary = Vary("", (1.0, 2.0, 5.0), distribution="discrete", weights=(1.0, 2.0, 1.0))
    drawn = quantile(vary, (np.arange(400) + 0.5) / 400)
    assert [int((drawn == value).sum()) for value in vary.values] == [100, 200, 100]


def exact(task):
    """Temperature in the middle when heating ends, by the exact series."""
    conductivity, start, film = task.values
    body = FiniteCylinder(
        radius=RADIUS, height=HEIGHT, conductivity=conductivity, density=1040.0, specific_heat=3650.0,
        film_side=film, film_base=film, film_lid=film,
    )  # fmt: skip
    theta = body.unaccomplished([0.0], [HEIGHT / 2], [HEATING])[0, 0, 0]
    return {"slowest_end_of_heating": 121.1 + (start - 121.1) * theta}, {}


@pytest.mark.long
def test_a_bare_cylinders_indices_are_those_of_the_exact_series():
    from thermsim.assess.study.one_run import compute_run

    vary = ", ".join(
        [
            uniform("materials.paste.conductivity_W_mK", 0.45, 0.60),
            uniform("product.initial_C", 20, 60),
            uniform("process.film_W_m2K", 100, 400),
        ]
    )
    rest = f"samples = 8\nvary = [{vary}]"
    computed, known = study(rest, compute_run), study(rest, exact)
    assert computed.failures == {}
    name = "slowest_end_of_heating"
    # within the accuracy asked for; the runs span some 20 K
    assert_allclose(computed.figures[name], known.figures[name], rtol=0, atol=0.05)
    found, wanted = (sobol_indices(one, one.figures[name]) for one in (computed, known))
    # 0.05 K of a standard deviation of some 5 K
    assert known.figures[name].std() > 3.0
    for one in ("first", "total", "first_interval", "total_interval"):
        assert_allclose(getattr(found, one), getattr(wanted, one), rtol=0, atol=0.02)
    assert found.total.argmax() == 0
