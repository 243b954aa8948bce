"""Linear algebra: LAPACK's banded Cholesky, SuperLU where there are many unknowns, and BLAS held to one thread.

The libraries' own threads wait for each other on matrices as small as these, and for other threads of ours.
"""

from __future__ import annotations

import contextlib
import functools
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import ParamSpec, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpbtrf, dpbtrs
from scipy.sparse import csc_array, csr_array, diags_array
from scipy.sparse.linalg import splu
from threadpoolctl import ThreadpoolController

from thermsim.errors import NumericalError

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Arguments = ParamSpec("Arguments")
Found = TypeVar("Found")

#: From so many elements on (240 MB) the band is not made: a factor that fills in less is slower, but takes less room.
ROOM = 30_000_000
SINGULAR = "a container's matrix cannot be factorised"
_libraries = functools.cache(ThreadpoolController)


class _OneThread:
    """Holds the libraries to one thread from the first that enters to the last that leaves."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._inside = 0
        self._limit = contextlib.ExitStack()

    def __enter__(self) -> None:
        with self._lock:
            if not self._inside:
                self._limit.enter_context(_libraries().limit(limits=1, user_api="blas"))
            self._inside += 1

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._inside -= 1
            if not self._inside:
                self._limit.close()


# several simulations may run in threads of one process: sums over other numbers of threads round otherwise
_ONE_THREAD = _OneThread()


def in_one_thread(function: Callable[Arguments, Found]) -> Callable[Arguments, Found]:
    """Let a function's products and factors run in the thread that calls it."""

    @functools.wraps(function)
    def held(*arguments: Arguments.args, **named: Arguments.kwargs) -> Found:
        with _ONE_THREAD:
            return function(*arguments, **named)

    return held


@dataclass(frozen=True)
class Pairs:
    """Pairs of nodes that are coupled, of so many: ``before`` < ``after`` (p,) and their ``coupling`` (p,)."""

    count: int
    before: Whole
    after: Whole
    coupling: Array

    @cached_property
    def width(self) -> int:
        """Largest distance between the numbers of coupled nodes."""
        return int((self.after - self.before).max(initial=0))

    @cached_property
    def band(self) -> Array:
        """The lower band by LAPACK's rules: element (i, j) stands at [i - j, j]; shape (width + 1, count)."""
        band = np.zeros((self.width + 1, self.count), order="F")
        band[self.after - self.before, self.before] = self.coupling
        return band

    @cached_property
    def sparse(self) -> csr_array:
        """Both elements of each pair, by rows."""
        rows, columns = (np.concatenate(part) for part in ((self.before, self.after), (self.after, self.before)))
        return csr_array((np.tile(self.coupling, 2), (rows, columns)), shape=(self.count, self.count))


@dataclass(frozen=True)
class Symmetric:
    """A symmetric matrix: its ``diagonal`` (n,), and its elements beside it, which others may have too."""

    diagonal: Array
    pairs: Pairs

    def times(self, right: Array) -> Array:
        """The product with a vector (n,) or several (n, k)."""
        own = self.diagonal if right.ndim == 1 else self.diagonal[:, None]
        return np.asarray(own * right + self.pairs.sparse @ right)

    def factor(self, scale: float, added: Array) -> Callable[[Array], Array]:
        """The solver of (scale times this + the diagonal ``added``) x = b for b (n,) or (n, k).

        Raises
        ------
        NumericalError
            If the matrix is not positive definite.
        """
        diagonal = scale * self.diagonal + added
        if diagonal.size * (self.pairs.width + 1) > ROOM:
            whole = csc_array(scale * self.pairs.sparse + diags_array(diagonal))
            options = {"SymmetricMode": True}
            sparse_factor = splu(whole, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)
            if not (sparse_factor.U.diagonal() > 0.0).all():  # elimination itself goes on with any pivot
                raise NumericalError(SINGULAR)
            solve: Callable[[Array], Array] = sparse_factor.solve
            return solve
        band = scale * self.pairs.band
        band[0] = diagonal
        factor, status = dpbtrf(band, lower=1, overwrite_ab=1)
        if status != 0 or not np.isfinite(factor[0]).all():
            raise NumericalError(SINGULAR)
        return lambda right: np.asarray(dpbtrs(factor, right, lower=1)[0])
