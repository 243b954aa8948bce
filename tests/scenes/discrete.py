"""The discrete system solved exactly, by the matrix exponential."""

from __future__ import annotations

import numpy as np
from scipy.linalg import expm

from thermsim.case.process import Film, Process, Stage
from thermsim.solve.grid.operator import exchange_of


def dense_system(operator, film):
    """C and K as dense matrices over all nodes, straight from the conductances (finite films only)."""
    exchange, fixed = exchange_of(operator, film)
    assert not fixed.any()
    n_r, n_z = operator.capacity.shape
    number = np.arange(n_r * n_z).reshape(n_r, n_z)
    k = np.diag(exchange.ravel())
    for left, right, conductance in (
        (number[:-1], number[1:], operator.conductance_r),
        (number[:, :-1], number[:, 1:], operator.conductance_z),
    ):
        for i, j, g in zip(left.ravel(), right.ravel(), conductance.ravel(), strict=True):
            k[i, i] += g
            k[j, j] += g
            k[i, j] -= g
            k[j, i] -= g
    return operator.capacity.ravel(), k, exchange.ravel()


def exact_discrete(operator, film, time, slope, start_medium):
    """The discrete system under a ramp of the medium, by the matrix exponential of the augmented system."""
    capacity, k, _ = dense_system(operator, film)
    n = capacity.size
    # u = T - T_medium obeys u' = -C^-1 K u - slope
    augmented = np.zeros((n + 1, n + 1))
    augmented[:n, :n] = -k / capacity[:, None]
    augmented[:n, n] = -slope
    u = np.append(operator.initial.ravel() - start_medium, 1.0)
    return ((expm(augmented * time) @ u)[:n] + start_medium + slope * time).reshape(operator.capacity.shape)


FILM = Film(side=300.0, base=80.0, lid=600.0)


def ramp(slope=0.05, end=1200.0):
    return Process((Stage("come-up", np.array([0.0, end]), np.array([30.0, 30.0 + slope * end]), FILM),))
