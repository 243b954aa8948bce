"""Products of arrays in one thread.

The libraries' own threads wait for each other on arrays as small as these, and for other threads of ours: where the
cores are busy that takes a hundred times longer than the products themselves.
"""

from __future__ import annotations

import functools
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@functools.cache
def _kernels() -> ModuleType:
    """The compiled loops, loaded with the first product; hundreds a run need not look them up again."""
    from thermsim.solve.matrix import product_kernels

    return product_kernels


def product(a: Array, b: Array) -> Array:
    """The product of a (m, k) and b (k, n), shape (m, n)."""
    out = np.zeros((a.shape[0], b.shape[1]))
    add_product(a, b, out)
    return out


def add_product(a: Array, b: Array, out: Array) -> None:
    """Add the product of a (m, k) and b (k, n) to ``out`` (m, n), whose rows are contiguous."""
    _kernels().product(np.ascontiguousarray(a), np.ascontiguousarray(b), out)


def dots(a: Array, b: Array) -> Array:
    """Scalar products of the rows of a (m, n) and of b (k, n), shape (m, k)."""
    out = np.empty((a.shape[0], b.shape[0]))
    _kernels().dots(np.ascontiguousarray(a), np.ascontiguousarray(b), out)
    return out


def eigen(matrix: Array) -> tuple[Array, Array]:
    """Eigenvalues (n,) of a small symmetric matrix, in no order, and its eigenvectors, the columns of (n, n)."""
    vectors, values = np.array(matrix, order="C"), np.empty(len(matrix))
    _kernels().eigen(vectors, values, np.empty(len(matrix)))
    return values, vectors.T
