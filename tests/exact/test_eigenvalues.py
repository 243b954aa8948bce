from __future__ import annotations

import mpmath
import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import cylinder_eigenvalues, slab_eigenvalues, slab_unequal_eigenvalues, sphere_eigenvalues

BIOTS = [1e-12, 1e-6, 0.1, 1.0, 10.0, 1e6, 1e12]
FAMILIES = {
    slab_eigenvalues: lambda z, bi: z * mpmath.sin(z) - bi * mpmath.cos(z),
    cylinder_eigenvalues: lambda z, bi: z * mpmath.besselj(1, z) - bi * mpmath.besselj(0, z),
    sphere_eigenvalues: lambda z, bi: (1 - bi) * mpmath.sin(z) - z * mpmath.cos(z),
}


@pytest.mark.parametrize("biot", BIOTS)
@pytest.mark.parametrize("family", list(FAMILIES))
def test_roots_hold_to_machine_precision_for_any_biot_number(family, biot: float) -> None:
    roots = family(biot, 400)
    with mpmath.workdps(40):
        for n in (0, 1, 7, 399):
            start = mpmath.mpf(float(roots[n]))
            own = FAMILIES[family]
            refined = mpmath.findroot(lambda z, own=own: own(z, mpmath.mpf(biot)), (start, start * (1 + 1e-12)))
            # six units in the last place
            assert_allclose(roots[n], float(refined), rtol=1.3e-15)


@pytest.mark.parametrize("biot", BIOTS)
@pytest.mark.parametrize("family", list(FAMILIES))
def test_no_root_is_left_out(family, biot: float) -> None:
    # beyond the first few, neighbours lie pi apart but for a term in 1/n^2 or a slow shift of at most pi/2 in all
    roots = family(biot, 400)
    assert np.all(np.diff(roots) > 2.4)
    assert 399 * np.pi <= roots[-1] <= 400 * np.pi + np.pi


def test_limits_are_the_zeros_of_the_functions_themselves() -> None:
    n = np.arange(5)
    assert_allclose(slab_eigenvalues(0.0, 5), n * np.pi, rtol=1e-15)
    assert_allclose(slab_eigenvalues(np.inf, 5), (n + 0.5) * np.pi, rtol=1e-15)
    assert_allclose(sphere_eigenvalues(np.inf, 5), (n + 1.0) * np.pi, rtol=1e-15)
    # zeros of J0 and J1, and of tan z = z: any table of functions (from memory)
    assert_allclose(
        cylinder_eigenvalues(np.inf, 3), [2.404825557695773, 5.520078110286311, 8.653727912911012], rtol=1e-15
    )
    assert_allclose(cylinder_eigenvalues(0.0, 3), [0.0, 3.831705970207512, 7.015586669815619], rtol=1e-15)
    assert_allclose(sphere_eigenvalues(0.0, 3), [0.0, 4.493409457909064, 7.725251836937707], rtol=1e-15)


def test_sphere_with_biot_one_has_odd_quarters() -> None:
    # 1 - z cot z = 1 means cot z = 0
    assert_allclose(sphere_eigenvalues(1.0, 4), (np.arange(4) + 0.5) * np.pi, rtol=1e-15)


UNEQUAL = [(200.0, 2.0), (1e-12, 0.0), (3e-9, 1e-12), (1e12, 1e-3), (0.0, 5.0), (1e12, 1e12), (20.0, 0.2)]


@pytest.mark.parametrize(("base", "lid"), UNEQUAL)
def test_unequal_faces_hold_to_machine_precision(base: float, lid: float) -> None:
    roots = slab_unequal_eigenvalues(base, lid, count=200)
    with mpmath.workdps(40):
        first, second = mpmath.mpf(base), mpmath.mpf(lid)

        def condition(z: mpmath.mpf) -> mpmath.mpf:
            scale = (1 + first) * (1 + second)
            return ((z**2 - first * second) * mpmath.sin(z) - z * (first + second) * mpmath.cos(z)) / scale

        for n in (0, 1, 199):
            start = mpmath.mpf(float(roots[n]))
            refined = mpmath.findroot(condition, (start, start * (1 + mpmath.mpf(10) ** -14)))
            assert_allclose(roots[n], float(refined), rtol=1.3e-15)


def test_unequal_faces_in_the_limits() -> None:
    n = np.arange(4)
    assert_allclose(slab_unequal_eigenvalues(0.0, 0.0, count=4), n * np.pi, rtol=1e-15)
    assert_allclose(slab_unequal_eigenvalues(np.inf, 0.0, count=4), (n + 0.5) * np.pi, rtol=1e-15)
    assert_allclose(slab_unequal_eigenvalues(np.inf, np.inf, count=4), (n + 1.0) * np.pi, rtol=1e-15)


def test_exchanging_the_faces_changes_no_root() -> None:
    assert_allclose(
        slab_unequal_eigenvalues(7.0, 0.3, count=50), slab_unequal_eigenvalues(0.3, 7.0, count=50), rtol=1e-15
    )


@pytest.mark.parametrize("biot", [-1.0, np.nan])
def test_impossible_biot_numbers_are_refused(biot: float) -> None:
    with pytest.raises(ValueError, match=r"biot = .* must lie in 0 \.\.\. inf"):
        cylinder_eigenvalues(biot, 3)
    with pytest.raises(ValueError, match=r"biot_lid = .* must lie in 0 \.\.\. inf"):
        slab_unequal_eigenvalues(1.0, biot, count=3)
