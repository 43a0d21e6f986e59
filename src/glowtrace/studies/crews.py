"""Who computes stretches of rows: processes of this computer, or the workers of a Dask cluster.

A crew takes pieces of work and gives back what is done. A worker that ends on the way costs the
piece that it had, which the crew tells as lost.
"""

from __future__ import annotations

import ctypes
import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from functools import cache
from typing import Any, Final, Protocol

from glowtrace.errors import GlowtraceError, MissingPackageError, Problem
from glowtrace.studies.rows import Columns, require_version
from glowtrace.version import __version__

Work = Callable[..., Columns]

_WAIT_S: Final = 0.2
"""After which somebody who wants to give up is heard."""
_CONNECT_S: Final = 10
_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3
"""Parameters of ``mallopt`` in <malloc.h> of the GNU C library."""
_LARGEST_TABLE: Final = 32 * 2**20
"""Bytes; the C library takes no larger limit."""


class WorkerLostError(Exception):
    """The worker of a piece of work ended before it was done."""


class Crew(Protocol):
    """Whoever computes."""

    @property
    def free(self) -> int:
        """How many more pieces it takes now."""

    def send(self, number: int, work: Work, *given: Any) -> None:
        """Take on the piece with this number."""

    def done(self) -> Iterator[tuple[int, Callable[[], Columns]]]:
        """Give the numbers of pieces that are done since, each with a call for its result.

        That call raises `WorkerLostError` where the worker ended. Waits a moment for one.
        """

    def close(self) -> None:
        """Let everybody go; what is not done is given up."""


class Processes:
    """A process for each core, each with its own queue, so that one that ends harms no other."""

    def __init__(self, count: int | None = None) -> None:
        self._free = [_seat() for _ in range(count or os.cpu_count() or 1)]
        self._busy: dict[Future[Columns], tuple[int, ProcessPoolExecutor]] = {}

    @property
    def free(self) -> int:
        """Seats without work."""
        return len(self._free)

    def send(self, number: int, work: Work, *given: Any) -> None:
        """Give work to a free seat."""
        seat = self._free.pop()
        self._busy[seat.submit(work, *given)] = number, seat

    def done(self) -> Iterator[tuple[int, Callable[[], Columns]]]:
        """Give what is done; an ended process gets a successor."""
        for future in wait(self._busy, _WAIT_S, FIRST_COMPLETED).done:
            number, seat = self._busy.pop(future)
            if isinstance(future.exception(), BrokenProcessPool):
                seat.shutdown(wait=False)
                seat = _seat()
            self._free.append(seat)
            yield number, _result(future, BrokenProcessPool)

    def close(self) -> None:
        """End the processes at once."""
        for seat in (*self._free, *(seat for _, seat in self._busy.values())):
            for process in (seat._processes or {}).values():
                process.kill()  # what it has not handed over is not written, so that nothing tears
            seat.shutdown(wait=True, cancel_futures=True)


class DaskWorkers:
    """The workers of a Dask cluster."""

    def __init__(self, cluster: Any) -> None:
        self._own = isinstance(cluster, str)
        self._client = _connected(cluster) if self._own else cluster
        self._flying: dict[Any, int] = {}
        _require_own_version(self._client)

    @property
    def free(self) -> int:
        """Two pieces for each thread: one is under way while another is computed."""
        with _while_there():
            threads = sum(self._client.nthreads().values())
        return max(1, 2 * int(threads)) - len(self._flying)

    def send(self, number: int, work: Work, *given: Any) -> None:
        """Give work to the scheduler."""
        with _while_there():
            self._flying[self._client.submit(_with_memory, work, *given, pure=False)] = number

    def done(self) -> Iterator[tuple[int, Callable[[], Columns]]]:
        """Give what is done; the scheduler itself has moved the work of a worker that ended."""
        from distributed import wait as wait_for
        from distributed.scheduler import KilledWorker

        waited: Any = wait_for
        with _while_there(), self._client.as_current():
            try:
                finished = waited(list(self._flying), _WAIT_S, "FIRST_COMPLETED").done
            except TimeoutError:
                if self._client.status not in ("running", "connecting"):
                    raise _gone() from None
                return
        for future in finished:
            if future.status in ("cancelled", "lost"):
                raise _gone()
            yield self._flying.pop(future), _result(future, KilledWorker)

    def close(self) -> None:
        """Take back what is not done; a client that was given stays open."""
        for future in self._flying:
            future.cancel()
        if self._own:
            self._client.close()


def _with_memory(work: Work, *given: Any) -> Columns:
    """Work in a process that keeps the memory that it frees, for the next row.

    Dask's nannies start workers with a ``MALLOC_TRIM_THRESHOLD_`` that gives tables of fields back
    to the system at once; to get them anew takes as long as the row.
    """
    _keep_memory()
    return work(*given)


@cache
def _keep_memory() -> None:
    with suppress(TypeError, AttributeError):  # a C library that has other ways
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(_M_MMAP_THRESHOLD, _LARGEST_TABLE)
        mallopt(_M_TRIM_THRESHOLD, 4 * _LARGEST_TABLE)


def crew_of(workers: int | None, cluster: Any) -> Crew:
    """Give processes of this computer, or the workers of a cluster (an address, or a client)."""
    return Processes(workers) if cluster is None else DaskWorkers(cluster)


def own_version() -> str:
    """Give the version of this Glowtrace, on whichever worker it is asked."""
    return __version__


def _result(future: Any, lost: type[Exception]) -> Callable[[], Columns]:
    def give() -> Columns:
        try:
            found: Columns = future.result()
        except lost as error:
            raise WorkerLostError from error
        except CancelledError as error:
            raise _gone() from error
        return found

    return give


def _seat() -> ProcessPoolExecutor:
    # A fork would copy locks that this program's threads hold.
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=context, initializer=_begin_work)


def _begin_work() -> None:
    """Let a process end with the one that started it, however that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever started it ends it
    parent = multiprocessing.parent_process()

    def follow() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


def _connected(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        what = "Studies on a cluster"
        raise MissingPackageError(what, "distributed", "studies") from error
    logger = logging.getLogger("distributed")
    level = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        client: Any = Client
        return client(address, timeout=_CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        allowed = 'give the address of a scheduler that runs, as in "tcp://127.0.0.1:8786"'
        raise GlowtraceError(
            Problem("cluster", f"nothing answers at {address}", allowed)
        ) from error
    finally:
        logger.setLevel(level)


def _require_own_version(client: Any) -> None:
    try:
        versions = client.run(own_version)
    except (ImportError, AttributeError) as error:
        package = f"glowtrace[studies]=={__version__}"
        text = (
            f'a worker of the cluster has no Glowtrace; get it there with: pip install "{package}"'
        )
        raise GlowtraceError(text) from error
    if not versions:
        raise GlowtraceError(Problem("cluster", "none of its workers is there", "start one first"))
    for address, version in versions.items():
        require_version(__version__, version, f"the worker at {address}")


@contextmanager
def _while_there() -> Iterator[None]:
    """Tell a connection that breaks as a cluster that has gone away."""
    try:
        yield
    except (OSError, CancelledError) as error:
        raise _gone() from error


def _gone() -> GlowtraceError:
    return GlowtraceError(
        "the cluster has gone away; what was computed is kept: call it again to go on from there"
    )
