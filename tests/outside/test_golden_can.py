"""The golden can from end to end: centre temperature and F0 by quadrature of the exact temperature.

307x409, nominal outside size, alpha = 1.5e-7 m2/s, k = 0.5 W/mK, from 20 degC; medium 121.1 degC at once, steam off
after 80 min, medium 20 degC at once, counted to 140 min. F0: reference 121.1 degC, z = 10 K.
Source of every number: computed, exact series and quadrature in double precision (about 1e-12), the first row
confirmed with mpmath to 3e-15.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize

from thermsim.exact import FiniteCylinder, long_time_coldest_fraction

INF = np.inf
RADIUS, HALF_HEIGHT = 0.04365625, 0.05794375
NODES, WEIGHTS = np.polynomial.legendre.leggauss(10)


def can(film: float = INF) -> FiniteCylinder:
    return FiniteCylinder(
        radius=RADIUS,
        height=2 * HALF_HEIGHT,
        conductivity=0.5,
        density=1000.0,
        specific_heat=0.5 / (1000.0 * 1.5e-7),
        film_side=film,
        film_base=film,
        film_lid=film,
    )


def f0_minutes(
    body: FiniteCylinder, r: float, z: float, *, span: tuple[float, float], initial: float, course: tuple[list, list]
) -> float:
    """Composite Gauss quadrature in the root of the time since `span` began, for a surface falls like that root."""
    edges = np.linspace(0.0, np.sqrt(span[1] - span[0]), 61)
    half = 0.5 * edges[1]
    roots = (edges[:-1, None] + half * (1.0 + NODES)).ravel()
    field = body.temperature(r, z, span[0] + roots**2, initial=initial, medium_time=course[0], medium=course[1])
    rate = 10.0 ** ((field[:, 0, 0] - 121.1) / 10.0)
    return float(half * np.tile(WEIGHTS, 60) @ (2.0 * roots * rate)) / 60.0


def step_course(steam_off: float) -> tuple[list[float], list[float]]:
    return [0.0, steam_off, steam_off], [121.1, 121.1, 20.0]


# film, r/R, z/L from mid-height, T at steam-off [degC], F0 heating, cooling, total [min]
GOLDEN = [
    (INF, 0.0, 0.0, 107.499537640, 0.3294446700, 1.1560237435, 1.4854684136),
    (INF, 0.5, 0.0, 111.987971144, 1.2756494873, 0.8041729611, 2.0798224484),
    (INF, 0.0, 0.5, 111.389560806, 1.0326176842, 1.4742239627, 2.5068416469),
    (INF, 0.5, 0.5, 114.594206314, 2.9147077503, 1.3191416729, 4.2338494232),
    (500.0, 0.0, 0.0, 105.872372686, 0.2158309328, 0.9089712067, 1.1248021396),
    (500.0, 0.5, 0.0, 110.692227691, 0.8923588457, 0.6705128956, 1.5628717413),
    (500.0, 0.0, 0.5, 110.071247639, 0.7197867622, 1.2197857032, 1.9395724654),
    (500.0, 0.5, 0.5, 113.562072977, 2.1513983315, 1.1534120239, 3.3048103554),
]


@pytest.mark.parametrize(("film", "r", "z", "steam_off", "heating", "cooling", "total"), GOLDEN)
def test_f0_of_heating_and_cooling(
    film: float, r: float, z: float, steam_off: float, heating: float, cooling: float, total: float
) -> None:
    body, course = can(film), step_course(4800.0)
    place = (r * RADIUS, HALF_HEIGHT * (1.0 + z))
    reached = body.temperature(*place, 4800.0, initial=20.0, medium_time=course[0], medium=course[1])
    # printed with nine decimals
    assert_allclose(reached, [[[steam_off]]], rtol=0, atol=1e-9)
    first = f0_minutes(body, *place, span=(0.0, 4800.0), initial=20.0, course=course)
    second = f0_minutes(body, *place, span=(4800.0, 8400.0), initial=20.0, course=course)
    # printed with ten decimals
    assert_allclose([first, second, first + second], [heating, cooling, total], rtol=0, atol=2e-10)


def test_f0_with_a_linear_come_up() -> None:
    body, centre = can(), (0.0, HALF_HEIGHT)
    course = ([0.0, 600.0, 4800.0, 4800.0], [20.0, 121.1, 121.1, 20.0])
    reached = body.temperature(*centre, 4800.0, initial=20.0, medium_time=course[0], medium=course[1])
    assert_allclose(reached, [[[104.935543433]]], rtol=0, atol=1e-9)
    heating = sum(
        f0_minutes(body, *centre, span=span, initial=20.0, course=course) for span in ((0.0, 600.0), (600.0, 4800.0))
    )
    cooling = f0_minutes(body, *centre, span=(4800.0, 8400.0), initial=20.0, course=course)
    # printed with nine decimals
    assert_allclose([heating, cooling, heating + cooling], [0.158737564, 0.742510586, 0.901248149], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("wanted", "steam_off"), [(3.0, 5312.313778629), (6.0, 5945.569091752), (10.0, 6533.107491609)]
)
def test_heating_time_for_a_wanted_f0(wanted: float, steam_off: float) -> None:
    body = can()

    def surplus(heating: float) -> float:
        course = step_course(heating)
        spans = ((0.0, heating), (heating, heating + 3600.0))
        return sum(f0_minutes(body, 0.0, HALF_HEIGHT, span=s, initial=20.0, course=course) for s in spans) - wanted

    found = optimize.brentq(surplus, 5000.0, 7000.0, xtol=1e-9)
    # F0 is good to 1e-12 and rises by about 0.005 min/s; the root is good to 1e-7 s
    assert_allclose(found, steam_off, rtol=0, atol=1e-6)


# Bi of the lid (full height), first-mode coldest y/H, y/H of least F0, F0 [min] there and at y/H = 0.5, 0.75, 1;
# R 36.5 mm, H 100 mm, alpha 1.6e-7, side fixed, base Bi 2000, 30 degC, 121 degC for 60 min, 25 degC to 90 min, axis.
# First-mode heights and F0 at 0.5 and 0.75: as above. Least F0 and F0 at the lid: computed, textbook series in the
# tangent form with 4000 modes, Gauss quadrature in the root of the time since each jump.
LEAST_F0 = [
    (0.0, 1.0, 1.0, 1.3549841639, [1.9195073884, 1.4316181960, 1.3549841639]),
    (0.2, 0.930125, 1.0, 1.2606498, [1.9406625683, 1.4936574461, 1.2606498]),
    (2.0, 0.686040053455, 0.99467202, 1.7596467, [2.0964370895, 1.9815089821, 1.7613228]),
    (20.0, 0.524566, 0.52351619, 2.5435272, [2.5547652, 3.5345112, 16.1305026]),
]


@pytest.mark.parametrize(
    ("biot_lid", "first_mode", "height", "least", "elsewhere"),
    [LEAST_F0[0], *(pytest.param(*row, marks=pytest.mark.long) for row in LEAST_F0[1:])],
)
def test_least_f0_is_not_where_heating_is_slowest(
    biot_lid: float, first_mode: float, height: float, least: float, elsewhere: list[float]
) -> None:
    body = FiniteCylinder(
        radius=0.0365,
        height=0.1,
        conductivity=0.5,
        density=1000.0,
        specific_heat=0.5 / (1000.0 * 1.6e-7),
        film_side=INF,
        film_base=2000.0 * 5.0,
        film_lid=biot_lid * 5.0,
    )
    course = ([0.0, 3600.0, 3600.0], [121.0, 121.0, 25.0])

    def f0(fraction: float) -> float:
        spans = ((0.0, 3600.0), (3600.0, 5400.0))
        z = fraction * body.height
        return sum(f0_minutes(body, 0.0, z, span=s, initial=30.0, course=course) for s in spans)

    # six decimals in the table
    assert_allclose(long_time_coldest_fraction(2000.0, biot_lid), first_mode, rtol=0, atol=1e-6)
    # seven decimals in the table
    assert_allclose([f0(y) for y in (0.5, 0.75, 1.0)], elsewhere, rtol=0, atol=1e-7)
    assert_allclose(f0(height), least, rtol=0, atol=1e-7)
    found = optimize.minimize_scalar(
        f0, bounds=(height - 0.03, min(height + 0.03, 1.0)), method="bounded", options={"xatol": 1e-7}
    )
    # a flat minimum: F0 to 1e-12 places it to about 1e-6
    assert_allclose(found.x, height, rtol=0, atol=1e-5)
