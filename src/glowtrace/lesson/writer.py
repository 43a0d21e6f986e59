"""One thread that keeps answers: all that wait go into one transaction.

An answer is acknowledged after its transaction is on the disk. Each transaction waits for the disk
once, however many answers it holds.
"""

from __future__ import annotations

import asyncio
import queue
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from glowtrace.errors import StoreError
from glowtrace.store import KeptAnswer

MOST_AT_ONCE: Final = 500
MOST_WAITING: Final = 5000
"""More than a class can send in the time of a slow disk; beyond, senders are told to try again."""


@dataclass(frozen=True)
class _Waiting:
    answer: KeptAnswer
    kept: asyncio.Future[None]
    loop: asyncio.AbstractEventLoop


class AnswerWriter:
    """Keeps answers one transaction after the other, until it is ended.

    Parameters
    ----------
    keep
        Keeps answers all or none; called in the writer's own thread.
    """

    def __init__(self, keep: Callable[[Sequence[KeptAnswer]], None]) -> None:
        self._keep = keep
        self._waiting: queue.Queue[_Waiting | None] = queue.Queue(MOST_WAITING)
        self._thread = threading.Thread(target=self._run, name="answers", daemon=True)
        self._thread.start()

    async def put(self, answer: KeptAnswer) -> None:
        """Keep an answer; returns once it is on the disk.

        Raises
        ------
        StoreError
            It could not be kept, or too many wait already.
        """
        loop = asyncio.get_running_loop()
        kept: asyncio.Future[None] = loop.create_future()
        try:
            self._waiting.put_nowait(_Waiting(answer, kept, loop))
        except queue.Full:
            raise StoreError("Too many answers wait to be kept; they are sent again.") from None
        await kept

    def end(self) -> None:
        """Keep what waits, and end the thread."""
        self._waiting.put(None)
        self._thread.join()

    def _run(self) -> None:
        goes_on = True
        while goes_on:
            batch, goes_on = self._batch()
            if batch:
                self._write(batch)

    def _batch(self) -> tuple[list[_Waiting], bool]:
        """Wait for an answer and take all that wait with it; say whether more may come."""
        first = self._waiting.get()
        batch: list[_Waiting] = []
        while first is not None:
            batch.append(first)
            if len(batch) == MOST_AT_ONCE:
                return batch, True
            try:
                first = self._waiting.get_nowait()
            except queue.Empty:
                return batch, True
        return batch, False

    def _write(self, batch: Sequence[_Waiting]) -> None:
        """Keep a batch; where that fails one after the other, so that one bad one harms no other.

        Whatever fails, the thread goes on: without it every later answer would wait for ever.
        """
        try:
            self._keep([one.answer for one in batch])
        except Exception as error:
            if len(batch) == 1:
                failure = error if isinstance(error, StoreError) else StoreError(f"{error}")
                _tell(batch[0], failure)
                return
            for one in batch:
                self._write([one])
            return
        for one in batch:
            _tell(one, None)


def _tell(one: _Waiting, failure: Exception | None) -> None:
    def settle() -> None:
        if one.kept.done():  # its learner is gone
            return
        if failure is None:
            one.kept.set_result(None)
        else:
            one.kept.set_exception(failure)

    if not one.loop.is_closed():
        one.loop.call_soon_threadsafe(settle)
