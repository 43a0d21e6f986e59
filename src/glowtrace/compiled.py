"""Compiled kernels that are kept on disk and never go stale.

numba keeps a compiled function beside the file that defines it and looks at that file alone: a
change in a function that it calls goes unnoticed, and an installation that cannot be written to is
compiled again at every start. Here every kernel is kept in the user's cache folder, in a folder
named by the content of all files that hold kernels and of the constants that they contain.
"""

from __future__ import annotations

import functools
import hashlib
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import platformdirs

Kernel = TypeVar("Kernel", bound=Callable[..., Any])
_ROOMS = ("fields", "beam", "films")


@functools.cache
def kernel_cache_dir() -> Path:
    """Give the folder that keeps the compiled kernels of exactly this version of the sources."""
    package = Path(__file__).parent
    digest = hashlib.blake2b(digest_size=8)
    for source in sorted(path for room in _ROOMS for path in package.glob(f"{room}/*.py")):
        content = source.read_bytes()
        if b"compiled" in content or b"intrinsic" in content:
            digest.update(content)
    digest.update((package / "constants.py").read_bytes())
    return Path(platformdirs.user_cache_dir("glowtrace")) / "kernels" / digest.hexdigest()


def compiled(*, parallel: bool = False, inlined: bool = False) -> Callable[[Kernel], Kernel]:
    """Compile a function to machine code on first use and keep it on disk.

    Products and sums may be fused (one rounding instead of two); nothing else of the arithmetic
    is relaxed, so that the same input gives the same bits on one thread and on two.

    Parameters
    ----------
    parallel
        Whether ``numba.prange`` loops run on all cores; one such kernel at a time in a process.
        Not for kernels that other kernels call.
    inlined
        Whether the machine code is copied into every caller. For the innermost functions: handing
        over the many pieces of a `Field` costs as much as the sum over its tables.
    """

    def decorate(function: Kernel) -> Kernel:
        settings: Any = numba.config  # numba makes its members at run time
        asked_for = settings.CACHE_DIR
        if not asked_for:
            settings.CACHE_DIR = str(kernel_cache_dir())
        try:
            kernel = numba.njit(
                cache=True,
                nogil=True,
                parallel=parallel,
                forceinline=inlined,
                fastmath={"contract"},
            )(function)
        finally:
            settings.CACHE_DIR = asked_for
        _go_on_without_room(cast(Any, kernel)._cache)
        return _one_at_a_time(cast(Kernel, kernel)) if parallel else cast(Kernel, kernel)

    return decorate


def _one_at_a_time(kernel: Kernel) -> Kernel:
    """Let a kernel on all cores wait for the others.

    Where neither OpenMP nor TBB is installed, numba ends the whole process when two threads start
    such loops at once.
    """

    @functools.wraps(kernel)
    def run(*arguments: Any) -> Any:
        with _all_cores():
            return kernel(*arguments)

    return cast(Kernel, run)


@functools.cache
def _all_cores() -> threading.Lock:
    return threading.Lock()


def _go_on_without_room(cache: Any) -> None:
    """Let a kernel that cannot be kept, because the disk is full, be used all the same."""
    save = cache.save_overload

    def save_where_there_is_room(signature: Any, data: Any) -> None:
        with suppress(OSError):
            save(signature, data)

    cache.save_overload = save_where_there_is_room
