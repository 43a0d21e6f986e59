"""One thread for a stretch of rows: the cores share out stretches, and sums keep their order."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import numba
from threadpoolctl import threadpool_limits


class _LinearAlgebra:
    """Holds the linear algebra of this process to one thread while anybody wants it so."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._count = 0
        self._limits: threadpool_limits | None = None

    def hold(self) -> None:
        with self._lock:
            if self._count == 0:
                self._limits = threadpool_limits(1, "blas")
            self._count += 1

    def let_go(self) -> None:
        with self._lock:
            self._count -= 1
            if self._count == 0 and self._limits is not None:
                self._limits.restore_original_limits()


@contextmanager
def one_thread() -> Iterator[None]:
    """Compute with this thread alone: kernels, and the dense solves of this process.

    A dense solve on another number of threads adds up in another order, and rounds otherwise.
    """
    before = numba.get_num_threads()
    numba.set_num_threads(1)
    _linear_algebra().hold()
    try:
        yield
    finally:
        _linear_algebra().let_go()
        numba.set_num_threads(before)


@cache
def _linear_algebra() -> _LinearAlgebra:
    return _LinearAlgebra()
