"""Frames made in a thread of their own, a few ahead of whoever takes them."""

from __future__ import annotations

import queue
import threading
from collections.abc import Generator, Iterable
from typing import Final, TypeVar

Item = TypeVar("Item")

_AHEAD: Final = 4
_LOOK_S: Final = 0.1


def ahead(items: Iterable[Item]) -> Generator[Item]:
    """Give items in their order while the next ones are being made.

    An error that making them raises is raised here; where the taker leaves, the making ends.

    Examples
    --------
    >>> list(ahead(n * n for n in range(4)))
    [0, 1, 4, 9]
    """
    made: queue.Queue[tuple[bool, Item | BaseException | None]] = queue.Queue(_AHEAD)
    has_left = threading.Event()

    def put(is_item: bool, value: Item | BaseException | None) -> None:
        while not has_left.is_set():
            try:
                made.put((is_item, value), timeout=_LOOK_S)
            except queue.Full:
                continue
            return

    def work() -> None:
        try:
            for item in items:
                put(True, item)
                if has_left.is_set():
                    return
            put(False, None)
        except BaseException as error:
            put(False, error)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    try:
        while True:
            is_item, value = made.get()
            if is_item:
                yield value  # type: ignore[misc]
            elif value is None:
                return
            else:
                raise value  # type: ignore[misc]
    finally:
        has_left.set()
        thread.join()
