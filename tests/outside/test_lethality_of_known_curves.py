"""Rung: closed forms. The program's own lethality of curves whose integral is known.

Values: closed forms (constant, linear, exponential by exponential integrals, sine by a Bessel function), computed
with 25 to 40 digits and confirmed by quadrature. The reference 121.1 degC and z = 10 K of F0 are those of the canning
literature, from memory; pasteurisation units (60 degC, 7 K) and cook values (100 degC, 33.1 K) likewise.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.fields.lethality import gathered_lethality, lethality_map
from thermsim.case.case import Lethality
from thermsim.solve.march.history import History

F0, PU, COOK = Lethality(121.1, 10.0), Lethality(60.0, 7.0), Lethality(100.0, 33.1)


def constant(value):
    return lambda t: (np.full_like(t, value), np.zeros_like(t))


def ramp(start, stop, minutes):
    return lambda t: (start + (stop - start) * t / minutes, np.full_like(t, (stop - start) / minutes))


def exponential(end, difference, tau):
    """T = end + difference exp(-t/tau)."""
    return lambda t: (end + difference * np.exp(-t / tau), -difference / tau * np.exp(-t / tau))


def sine(mean, amplitude, period):
    w = 2 * math.pi / period
    return lambda t: (mean + amplitude * np.sin(w * t), amplitude * w * np.cos(w * t))


# name, curve (t in min), from, to [min], lethality, F [min]
KNOWN = [
    ("10 min at 121.1", constant(121.1), 0, 10, F0, 10.0),
    ("10 min at 250 F", constant((250.0 - 32.0) / 1.8), 0, 10, F0, 10.0256170345056),
    ("30 min at 115", constant(115.0), 0, 30, F0, 7.36412674705509),
    ("1 min at 111.1", constant(111.1), 0, 1, F0, 0.1),
    ("15 min at 62, PU", constant(62.0), 0, 15, PU, 28.9604659332488),
    ("60 min at 121.1, cook", constant(121.1), 0, 60, COOK, 260.383515389675),
    ("100 to 121.1 in 20 min", ramp(100.0, 121.1, 20.0), 0, 20, F0, 4.08458088634882),
    ("20 to 121.1 in 10 min", ramp(20.0, 121.1, 10.0), 0, 10, F0, 0.429569220444649),
    ("121.1 to 80 in 15 min", ramp(121.1, 80.0, 15.0), 0, 15, F0, 1.58489332087342),
    ("20 to 65 in 25 min, PU", ramp(20.0, 65.0, 25.0), 0, 25, PU, 8.74773057610807),
    ("exponential heating", exponential(121.1, -101.1, 20.0), 0, 90, F0, 20.3606260174925),
    ("fh 50 min, jh 2.04", exponential(121.1, -2.04 * 61.1, 50.0 / math.log(10)), 30, 120, F0, 36.9815606738485),
    ("exponential cooling", exponential(25.0, 93.0, 15.0), 0, 40, F0, 0.360857193446023),
    ("exponential heating, PU", exponential(65.0, -60.0, 8.0), 0, 45, PU, 88.4758405181660),
    ("exponential heating, cook", exponential(121.1, -101.1, 20.0), 0, 90, COOK, 177.815303893833),
    ("sine, 12 periods", sine(120.0, 2.0, 5.0), 0, 60, F0, 49.0771009300361),
]


@pytest.mark.parametrize(
    ("curve", "start", "stop", "lethality", "known"), [k[1:] for k in KNOWN], ids=[k[0] for k in KNOWN]
)
def test_lethality_of_a_march_is_the_closed_form(curve, start, stop, lethality, known):
    # steps of a minute, as the march takes them, with values and rates at both ends
    time = np.linspace(start, stop, (stop - start) + 1)
    temperature, rate = curve(time)
    history = History(time, temperature[:, None, None], rate[:, None, None], 0.0, 0.0, 1.0, time.size - 1, 0)
    total, heating = lethality_map(history, lethality, float(stop))
    # between the ends the temperature is cubic: error below a thousandth, mostly far below
    assert_allclose(total[0, 0], known, rtol=1e-3)
    assert_allclose(heating, total, rtol=1e-12)


@pytest.mark.parametrize(
    ("curve", "start", "stop", "lethality", "known"), [k[1:] for k in KNOWN], ids=[k[0] for k in KNOWN]
)
def test_lethality_of_a_sampled_curve_is_the_closed_form(curve, start, stop, lethality, known):
    time = np.linspace(start, stop, 1201)
    assert_allclose(gathered_lethality(time, curve(time)[0], lethality)[-1], known, rtol=1e-3)


@pytest.mark.parametrize(("step", "trapezoid"), [(1.0, 0.004913), (2.0, 0.01959), (5.0, 0.120)])
def test_straight_pieces_are_exact_where_trapezoids_of_the_rate_over_read(step, trapezoid):
    """A ramp from 100 to 121.1 degC in 20 min, sampled: trapezoids on the rate over-read by the part given."""
    time = np.arange(0.0, 20.0 + step / 2, step)
    temperature = 100.0 + 21.1 * time / 20.0
    exact = 4.08458088635
    assert_allclose(gathered_lethality(time, temperature, F0)[-1], exact, rtol=1e-10)
    rate = 10 ** ((temperature - 121.1) / 10)
    summed = float(((rate[1:] + rate[:-1]) / 2 * step).sum())
    assert_allclose(summed / exact - 1, trapezoid, rtol=2e-3)
