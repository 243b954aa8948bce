"""Compile the loops that every case needs, or load them from the disk, before the clock starts."""

from __future__ import annotations

import functools
import time as clock

import numpy as np

from thermsim.case.process import Film, Process, Stage
from thermsim.physics.materials import Material
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import Body
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.lines import prolongation
from thermsim.solve.grid.operator import operator_of


@functools.cache
def compile_kernels() -> float:
    """Compile the loops, or load them from the cache on disk; returns the seconds it took, the first time."""
    began = clock.perf_counter()
    ends, one, free = np.array([0.0, 1.0]), np.ones((1, 1)), np.full(2, np.inf)
    product_there = one > 0.0
    body = Body(
        ends,
        ends,
        np.zeros((1, 1), dtype=np.int64),
        product_there,
        ~product_there,
        one,
        (Material("any", 1.0, 1.0, 1.0),),
        free,
        free,
    )
    coarse, fine, _ = grid_family(body, refinement=0.1)
    process = Process((Stage("hold", np.array([0.0, 4.0]), 2.0 * np.ones(2), Film.everywhere(1.0)),))
    found = Solver(operator_of(coarse), tolerance=1.0).follow(process)
    from thermsim.solve.basis import basis_kernels

    found.entries(coarse.active)
    weights = [
        part
        for along in (prolongation(coarse.layer_r, fine.layer_r), prolongation(coarse.layer_z, fine.layer_z))
        for part in (along.first, along.weights)
    ]
    fields, nodes = np.ones((1, *coarse.shape)), np.zeros(1, dtype=np.int64)
    nodes_of = [np.arange(size) for size in coarse.shape]
    basis_kernels.carry(fields, *nodes_of, 1.0, *weights, np.zeros((1, *fine.shape)))
    basis_kernels.carry_to(fields, *weights, nodes, nodes, np.empty((1, 1)))
    return clock.perf_counter() - began
