"""Exact solutions against values computed outside this package.

Source of every number here, unless said otherwise: computed, mpmath with 40 digits, textbook series summed until the
exponential is below 1e-48, each family confirmed by numerical Laplace inversion, image series or quadrature.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import (
    CentredBody,
    FiniteCylinder,
    Slab,
    coldest_height,
    fin_heat_flow,
    fin_parameter,
    fin_temperature,
    long_time_coldest_fraction,
    semi_infinite_unaccomplished,
)

INF = np.inf
# 307x409, nominal outside size
CAN_RADIUS, CAN_HALF_HEIGHT = 0.04365625, 0.05794375


def unit_body(curvature: int, biot: float) -> CentredBody:
    return CentredBody(1.0, 1.0, 1.0, 1.0, film=biot, curvature=curvature)


def cylinder(
    radius: float, height: float, *, diffusivity: float, films: tuple[float, float, float]
) -> FiniteCylinder:
    return FiniteCylinder(
        radius=radius,
        height=height,
        conductivity=0.5,
        density=1000.0,
        specific_heat=0.5 / (1000.0 * diffusivity),
        film_side=films[0],
        film_base=films[1],
        film_lid=films[2],
    )


# curvature, Bi, Fo, theta at centre, at 0.5, at 0.9 (Bi = inf) or at the surface, volume mean
ONE_DIMENSION = [
    (0, INF, 0.01, 0.9999999999969251, 0.999593047982555, 0.5204998778130465, 0.8871620832904488),
    (0, INF, 0.05, 0.9968691954839949, 0.8861516005573886, 0.24817036411088436, 0.7476867478222453),
    (0, INF, 0.2, 0.7723116068585906, 0.5531758918500855, 0.12386873297440909, 0.49591217979745145),
    (0, INF, 1.0, 0.10797704444410901, 0.07635130047508519, 0.016891331243017182, 0.0687403215366663),
    (1, INF, 0.01, 0.9999999999724916, 0.9994218010795817, 0.4939293160775336, 0.7845260618205069),
    (1, INF, 0.05, 0.9870992202165574, 0.8355423748516821, 0.20446099371764043, 0.5478790020034204),
    (1, INF, 0.2, 0.5014868606073981, 0.33797433487479867, 0.06609513950029956, 0.2178524474572517),
    (1, INF, 1.0, 0.004932304730890534, 0.0033042976210098463, 0.000642550468158066, 0.0021295462772824205),
    (2, INF, 0.01, 0.9999999998432914, 0.9991860959651101, 0.4672220864589406, 0.6914862498713462),
    (2, INF, 0.05, 0.9659985335899186, 0.7723116068585906, 0.16463374199713007, 0.39306024332116807),
    (2, INF, 0.2, 0.2770776101914727, 0.17686713974761573, 0.030441273240508902, 0.08450443389231788),
    (2, INF, 1.0, 0.0001034463724076103, 6.585600605439403e-05, 1.13059028069277e-05, 3.1443926687540875e-05),
    (0, 0.1, 0.05, 0.9999732828031593, 0.9984817132680487, 0.975260387674162, 0.9950828710323285),
    (0, 1.0, 0.2, 0.9506417785054657, 0.8792548121790376, 0.6433907844774379, 0.8515954576872972),
    (0, 10.0, 0.05, 0.9985296134797164, 0.9324401004591237, 0.2323262942645504, 0.8244541183627999),
    (0, 100.0, 0.2, 0.7793616381959574, 0.5630057649697626, 0.012458414210649688, 0.5057282170828346),
    (0, 100.0, 1.0, 0.11334236446413058, 0.08076590222925763, 0.0017625384645665613, 0.07286867996738106),
    (1, 0.1, 0.05, 0.9998811976842898, 0.997670592064746, 0.9724841112067945, 0.9901793120537898),
    (1, 1.0, 0.2, 0.8701742439333949, 0.7938029027342103, 0.57022774419954, 0.7185162586703616),
    (1, 10.0, 0.05, 0.9936723015992731, 0.8995576326230241, 0.2009299972684937, 0.6711016136303511),
    (1, 100.0, 0.2, 0.5127096141459919, 0.3487820974541062, 0.006483663181719102, 0.22730254815224185),
    (1, 100.0, 1.0, 0.005529061801614604, 0.0037369782564270404, 6.900839146856228e-05, 0.0024347197754023948),
    (2, 0.1, 0.05, 0.9996607755404339, 0.9965573900376041, 0.9694838962128778, 0.9852906587294666),
    (2, 1.0, 0.2, 0.7723116068585906, 0.6983244311062079, 0.49591217979745145, 0.6018100813692497),
    (2, 10.0, 0.05, 0.9825638289985963, 0.8566245532039936, 0.17119036433118473, 0.539139671758112),
    (2, 100.0, 0.2, 0.2879397839192421, 0.1856865908656972, 0.0029245932843380263, 0.09049743594912281),
    (2, 100.0, 1.0, 0.00012582744380605794, 8.090313076658936e-05, 1.270357535037761e-06, 3.939800510894822e-05),
]


@pytest.mark.parametrize(("curvature", "biot", "fourier", "centre", "half", "outside", "mean"), ONE_DIMENSION)
def test_step_response_of_slab_cylinder_sphere(
    curvature: int, biot: float, fourier: float, centre: float, half: float, outside: float, mean: float
) -> None:
    body = unit_body(curvature, biot)
    places = [0.0, 0.5, 0.9 if np.isinf(biot) else 1.0]
    # absolute: theta is a fraction of 1; 1e-13 leaves room for another machine's Bessel functions
    assert_allclose(body.unaccomplished(places, fourier)[0], [centre, half, outside], rtol=0, atol=1e-13)
    assert_allclose(body.mean_unaccomplished(fourier)[0], mean, rtol=0, atol=1e-13)


@pytest.mark.parametrize(("curvature", "biot", "fourier", "centre", "half", "outside", "mean"), ONE_DIMENSION[:4])
def test_slab_with_two_equal_faces_is_the_symmetric_slab(
    curvature: int, biot: float, fourier: float, centre: float, half: float, outside: float, mean: float
) -> None:
    slab = Slab(2.0, 1.0, 1.0, 1.0, film_base=biot, film_lid=biot)
    theta = slab.unaccomplished([1.0, 1.5, 0.5, 1.9], fourier)[0]
    assert_allclose(theta, [centre, half, half, outside], rtol=0, atol=1e-13)
    assert_allclose(slab.mean_unaccomplished(fourier)[0], mean, rtol=0, atol=1e-13)


# time [s], T [degC] at (r/R, z/L from mid-height) = [(0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)]
CAN_FIXED = [
    (600.0, 20.97721454956497, 35.13622741822416, 24.059589866465053, 37.782704037523274),
    (1800.0, 52.92101562007016, 74.25332502911911, 66.02760067025139, 83.25903163223467),
    (3600.0, 94.55454990676022, 103.30284953702439, 101.79957932502238, 108.16021221923911),
    (5400.0, 111.39247712386596, 114.59649165962958, 114.1965205624891, 116.47504709777128),
    (7200.0, 117.5834641437341, 118.7441664059573, 118.61053494924491, 119.43223216327682),
]


@pytest.mark.parametrize("row", CAN_FIXED)
def test_can_with_fixed_surface(row: tuple[float, ...]) -> None:
    can = cylinder(CAN_RADIUS, 2 * CAN_HALF_HEIGHT, diffusivity=1.5e-7, films=(INF, INF, INF))
    r, z = [0.0, CAN_RADIUS / 2], [CAN_HALF_HEIGHT, 1.5 * CAN_HALF_HEIGHT]
    field = can.temperature(r, z, row[0], initial=20.0, medium_time=[0.0], medium=[121.1])[0]
    # 100 K times the error of theta
    assert_allclose([field[0, 0], field[1, 0], field[0, 1], field[1, 1]], row[1:], rtol=0, atol=1e-10)


def test_volume_mean_of_the_can() -> None:
    can = cylinder(CAN_RADIUS, 2 * CAN_HALF_HEIGHT, diffusivity=1.5e-7, films=(INF, INF, INF))
    mean = can.mean_temperature(3600.0, initial=20.0, medium_time=[0.0], medium=[121.1])
    # printed with ten decimals
    assert_allclose(mean, [113.6604042808], rtol=0, atol=1e-10)


# time [s], T [degC] at (0, mid), (R, mid), (0, end), (R/2, half-way to the end); h side 200, ends 50
CAN_FILM = [
    (900.0, 30.021734639353344, 106.36343953857322, 81.32065130293992, 48.28409150517948),
    (1800.0, 52.803898963128155, 109.95313057703417, 95.73295625540369, 74.15846279163445),
    (3600.0, 88.34381661648112, 112.93810967110036, 108.39021444326457, 99.46466541420575),
    (7200.0, 110.73341326655398, 114.67049369927838, 114.04950482978676, 112.63416345713398),
]


@pytest.mark.parametrize("row", CAN_FILM)
def test_can_behind_films(row: tuple[float, ...]) -> None:
    can = cylinder(0.04, 0.12, diffusivity=1.4e-7, films=(200.0, 50.0, 50.0))
    field = can.temperature(
        [0.0, 0.02, 0.04], [0.06, 0.09, 0.12], row[0], initial=25.0, medium_time=[0.0], medium=[115.0]
    )[0]
    assert_allclose([field[0, 0], field[2, 0], field[0, 2], field[1, 1]], row[1:], rtol=0, atol=1e-10)


# time [s], T [degC] on the axis at z/H = 0, 0.25, 0.5, 0.75, 1; side and base fixed, lid insulated
INSULATED_LID = [
    (1200.0, 121.0, 71.40682210910875, 59.51697335088014, 58.85850541422201, 58.85049595912195),
    (2400.0, 121.0, 103.58447274438336, 95.44619643606993, 93.67473235069991, 93.50433213603927),
    (4800.0, 121.0, 118.52344097144723, 116.85285685754144, 116.09875472310492, 115.91349970046622),
    (7200.0, 121.0, 120.61008254972998, 120.31228282227676, 120.14349433284048, 120.09153359076389),
]


@pytest.mark.parametrize("row", INSULATED_LID)
def test_can_with_insulated_lid(row: tuple[float, ...]) -> None:
    can = cylinder(0.0365, 0.1, diffusivity=1.6e-7, films=(INF, INF, 0.0))
    z = np.array([0.0, 0.25, 0.5, 0.75, 1.0]) * 0.1
    axis = can.temperature(0.0, z, row[0], initial=30.0, medium_time=[0.0], medium=[121.0])[0, 0]
    assert_allclose(axis, row[1:], rtol=0, atol=1e-10)


# Bi base, Bi lid (full height), zeta_1, C_1 at y = 0, coldest y/H at long times, at Fo = 0.1, theta(Fo, y) at
# (0.05, 0.5), (0.2, 0.5), (0.2, 0.75), (0.2, 1)
UNEQUAL = [
    (
        200.0,
        2.0,
        2.279564411817363,
        0.013573575872631975,
        0.6840776203463949,
        0.6606335384779405,
        [0.8649989023456546, 0.38547167794144543, 0.4156381248663845, 0.3153722769455386],
    ),
    (
        200.0,
        0.2,
        1.6808247606697027,
        0.010402654166810181,
        0.929539138999694,
        0.8981622719966805,
        [0.8866765503362929, 0.5310922466810062, 0.669832909294135, 0.6940554398411695],
    ),
    (
        20.0,
        2.0,
        2.199256762319418,
        0.12987213781325063,
        0.6644397065439414,
        0.6378600419859874,
        [0.8899474182959085, 0.4232684857671625, 0.4423439788058022, 0.33234724417881395],
    ),
    (
        20.0,
        20.0,
        2.857740022428154,
        0.17850501592537346,
        0.5,
        0.5,
        [0.8292547308230171, 0.2464322760678077, 0.18617078569180925, 0.03485800150986862],
    ),
    (
        200.0,
        20.0,
        2.978844256775734,
        0.018870213836818667,
        0.5223177422561087,
        0.5218357222878002,
        [0.8043076139324685, 0.21434132898687222, 0.16726226293756807, 0.03164281651820585],
    ),
]


@pytest.mark.parametrize(("base", "lid", "zeta", "coefficient", "late", "at_tenth", "theta"), UNEQUAL)
def test_slab_between_unequal_faces(
    base: float, lid: float, zeta: float, coefficient: float, late: float, at_tenth: float, theta: list[float]
) -> None:
    slab = Slab(1.0, 1.0, 1.0, 1.0, film_base=base, film_lid=lid)
    assert_allclose(slab.modes(1).eigenvalues, [zeta], rtol=1e-14)
    # the reference normalises the mode to 1 at the base
    assert_allclose(slab.slowest_amplitude(0.0), [coefficient], rtol=1e-13)
    early, later = slab.unaccomplished([0.5, 0.75, 1.0], [0.05, 0.2])
    assert_allclose([early[0], *later], theta, rtol=0, atol=1e-13)
    assert_allclose(long_time_coldest_fraction(base, lid), late, rtol=0, atol=1e-13)
    # a root of the slope, whose rounding of 1e-15 is divided by a curvature of order 1
    assert_allclose(coldest_height(slab, 0.1), at_tenth, rtol=0, atol=1e-12)


# film [W/m2K], depth [m], time [s], T [degC]; alpha 1.45e-7, k 0.55, from 20 to 120 degC
SEMI_INFINITE = [
    (10.0, 0.0, 60.0, 25.774944807685973),
    (10.0, 0.002, 60.0, 22.97646416882439),
    (10.0, 0.01, 600.0, 25.5470521503052),
    (100.0, 0.0, 60.0, 60.2450623938693),
    (100.0, 0.002, 60.0, 41.78032665376818),
    (100.0, 0.01, 600.0, 47.381378876521175),
    (1000.0, 0.0, 60.0, 109.65379857436018),
    (1000.0, 0.002, 60.0, 74.47036475456152),
    (1000.0, 0.01, 600.0, 62.423717813832965),
    (INF, 0.0, 60.0, 120.0),
    (INF, 0.002, 60.0, 83.16090697347823),
    (INF, 0.01, 600.0, 64.83922908434535),
]


@pytest.mark.parametrize(("film", "depth", "time", "expected"), SEMI_INFINITE)
def test_semi_infinite_solid_behind_a_film(film: float, depth: float, time: float, expected: float) -> None:
    theta = semi_infinite_unaccomplished(
        depth, time, conductivity=0.55, density=1000.0, specific_heat=0.55 / 1.45e-4, film=film
    )
    assert_allclose(120.0 - 100.0 * theta, [[expected]], rtol=0, atol=1e-11)


# time [s], T [degC] at (0, 0), (R/2, 0), (R/2, L/2) from mid-height: endless ramp of 101.1 K in 600 s;
# the same, then held
RAMP = [
    (
        300.0,
        (20.000200631523395, 20.331177969634968, 20.34760152386679),
        (20.000200631523395, 20.331177969634968, 20.34760152386679),
    ),
    (
        600.0,
        (20.138755154673195, 24.763875696556536, 25.408898077760533),
        (20.138755154673195, 24.763875696556536, 25.408898077760533),
    ),
    (
        1200.0,
        (26.36606879265869, 51.66557259485228, 57.84358391623624),
        (26.227313637985496, 46.90169689829574, 52.43468583847571),
    ),
    (
        2400.0,
        (91.56561655747674, 158.83018382623567, 182.29909480929436),
        (61.96611960093665, 80.87110656276657, 89.48087726746863),
    ),
    (
        3600.0,
        (218.89214141776992, 310.6993129777937, 347.00112003966854),
        (89.66490992710037, 100.0092946329555, 105.62119448906735),
    ),
    (
        5400.0,
        (471.8976051158161, 580.2965619109399, 626.0905757592183),
        (109.55413322042449, 113.36473144583906, 115.58848861129124),
    ),
]


@pytest.mark.parametrize(("time", "endless", "held"), RAMP)
def test_can_under_a_ramp(time: float, endless: tuple[float, ...], held: tuple[float, ...]) -> None:
    can = cylinder(CAN_RADIUS, 2 * CAN_HALF_HEIGHT, diffusivity=1.5e-7, films=(INF, INF, INF))
    r, z = [0.0, CAN_RADIUS / 2], [CAN_HALF_HEIGHT, 1.5 * CAN_HALF_HEIGHT]
    courses = {endless: ([0.0, 6000.0], [20.0, 1031.0]), held: ([0.0, 600.0], [20.0, 121.1])}
    for expected, (knots, medium) in courses.items():
        field = can.temperature(r, z, time, initial=20.0, medium_time=knots, medium=medium)[0]
        # the ramp's integral is exact to 1e-12 of its length; 1e-9 K is far below any use
        assert_allclose([field[0, 0], field[1, 0], field[1, 1]], expected, rtol=0, atol=1e-9)


def test_can_lags_an_endless_ramp_by_a_fixed_time() -> None:
    can = cylinder(CAN_RADIUS, 2 * CAN_HALF_HEIGHT, diffusivity=1.5e-7, films=(INF, INF, INF))
    centre = can.temperature(0.0, CAN_HALF_HEIGHT, 5e5, initial=0.0, medium_time=[0.0, 1e6], medium=[0.0, 1e6])
    assert_allclose(5e5 - centre, [[[2888.239293745]]], rtol=0, atol=1e-8)


# time [s], T [degC] at (0, mid) and (R/2, half-way to the end); medium 25 + 0.1 t, h side 200, ends 50
RAMP_FILM = [
    (600.0, 25.088722083833, 27.438500271084234),
    (1800.0, 41.91877408862528, 70.60523142915213),
    (3600.0, 137.1675914273236, 198.37028343323828),
]


@pytest.mark.parametrize(("time", "centre", "between"), RAMP_FILM)
def test_can_behind_films_under_a_ramp(time: float, centre: float, between: float) -> None:
    can = cylinder(0.04, 0.12, diffusivity=1.4e-7, films=(200.0, 50.0, 50.0))
    field = can.temperature(
        [0.0, 0.02], [0.06, 0.09], time, initial=25.0, medium_time=[0.0, 5000.0], medium=[25.0, 525.0]
    )[0]
    assert_allclose([field[0, 0], field[1, 1]], [centre, between], rtol=0, atol=1e-9)


# curvature, Fo, (T - T0)/(m L^2/alpha) at the centre, fixed surface
RAMP_CENTRE = [
    (0, 0.1, 0.0011268172889506043),
    (0, 0.5, 0.15027273521306286),
    (0, 2.0, 1.5037111883790397),
    (1, 0.1, 0.003702624089651337),
    (1, 0.5, 0.2653704074463887),
    (1, 2.0, 1.7500026258927945),
    (2, 0.1, 0.007885292895290988),
    (2, 0.5, 0.33479071346626155),
    (2, 2.0, 1.83333333387546),
]


@pytest.mark.parametrize(("curvature", "fourier", "expected"), RAMP_CENTRE)
def test_centre_of_slab_cylinder_sphere_under_a_ramp(curvature: int, fourier: float, expected: float) -> None:
    body = unit_body(curvature, INF)
    centre = body.temperature(0.0, fourier, initial=0.0, medium_time=[0.0, 3.0], medium=[0.0, 3.0])
    assert_allclose(centre, [[expected]], rtol=0, atol=1e-13)


# k, h, diameter, length (SI), mL, [tip adiabatic, tip convective, middle convective],
# [heat flow W/K adiabatic, convective]
PIN_FIN = [
    (
        15.0,
        20.0,
        0.003,
        0.05,
        2.1081851067789197,
        [0.23938497068965894, 0.23225399816819553, 0.3829398525355934],
        [0.00434058185365249, 0.00434844185220446],
    ),
    (
        15.0,
        1000.0,
        0.003,
        0.03,
        8.94427190999916,
        [0.0002609648728541554, 0.0002132751100745182, 0.011423836601742425],
        [0.03161166521326389, 0.03161166560668225],
    ),
    (
        385.0,
        200.0,
        0.003,
        0.05,
        1.315903389919538,
        [0.5004567538832712, 0.49204820213548567, 0.6093115236183858],
        [0.06200766946708261, 0.06235579557157215],
    ),
    (
        0.25,
        200.0,
        0.003,
        0.01,
        10.327955589886445,
        [6.541176580570191e-05, 3.686007474292338e-05, 0.005718929503196798],
        [0.0018251004002835976, 0.0018251004036921852],
    ),
]


@pytest.mark.parametrize(("k", "h", "diameter", "length", "ml", "ratios", "flows"), PIN_FIN)
def test_steady_pin_fin(
    k: float, h: float, diameter: float, length: float, ml: float, ratios: list[float], flows: list[float]
) -> None:
    fin = {"conductivity": k, "diameter": diameter, "film": h}
    assert_allclose(fin_parameter(k, h, diameter=diameter) * length, ml, rtol=1e-14)
    adiabatic = fin_temperature(length, length, **fin, tip_film=0.0)[0]
    middle, tip = fin_temperature([length / 2, length], length, **fin, tip_film=h)
    assert_allclose([adiabatic, tip, middle], ratios, rtol=1e-13)
    assert_allclose([fin_heat_flow(length, **fin, tip_film=tip_film) for tip_film in (0.0, h)], flows, rtol=1e-13)
