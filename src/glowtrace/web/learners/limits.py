"""How often somebody may do something."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

MOST_KNOWN: Final = 5000
"""Names that are kept in mind; beyond, the one that was quiet for longest is forgotten."""


class Allowance:
    """So many at once, and so many a second at length, for each name.

    Parameters
    ----------
    at_once, each_second
        The two limits.
    clock
        Gives the time in s.
    """

    def __init__(
        self, at_once: float, each_second: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._at_once, self._each_second, self._clock = at_once, each_second, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def is_used_up(self, name: str) -> bool:
        """Say whether nothing is left for a name."""
        return self._now(name)[0] < 1.0

    def use(self, name: str) -> bool:
        """Use one, and say whether there was one."""
        left, now = self._now(name)
        has_one = left >= 1.0
        self._left[name] = (left - 1.0 if has_one else left, now)
        self._left.move_to_end(name)
        if len(self._left) > MOST_KNOWN:
            self._left.popitem(last=False)
        return has_one

    def _now(self, name: str) -> tuple[float, float]:
        now = self._clock()
        left, then = self._left.get(name, (self._at_once, now))
        return min(self._at_once, left + self._each_second * (now - then)), now


class Guesses:
    """Wrong codes of an address, and of all together.

    Over the limit even the right code is refused, as a limit that lets it through limits nothing;
    but who is in stays in.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._of_one = Allowance(20, 20 / 60, clock)
        self._of_all = Allowance(300, 300 / 60, clock)
        self._inside: OrderedDict[str, None] = OrderedDict()

    def are_used_up(self, address: str) -> bool:
        """Say whether this address may not try any more for now."""
        if address in self._inside:
            return False
        return self._of_one.is_used_up(address) or self._of_all.is_used_up("")

    def was_right(self, address: str) -> None:
        """Take down that an address knows the code."""
        self._inside[address] = None
        self._inside.move_to_end(address)
        if len(self._inside) > MOST_KNOWN:
            self._inside.popitem(last=False)

    def was_wrong(self, address: str) -> None:
        """Take down a wrong try; one after a right one counts as well."""
        self._of_one.use(address)
        self._of_all.use("")
        if self._of_one.is_used_up(address):
            self._inside.pop(address, None)
