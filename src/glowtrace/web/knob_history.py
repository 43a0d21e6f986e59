"""What the knobs were before: one step for each turn of one of them."""

from __future__ import annotations

from typing import Final

from glowtrace.bench.settings import Settings

MOST: Final = 100
PAUSE_S: Final = 1.0
"""Without a turn for so long, the next turn of the same knob is a step of its own."""


class KnobHistory:
    """Settings to go back to; a knob that is turned without a pause goes back in one step."""

    def __init__(self) -> None:
        self._before: list[Settings] = []
        self._knobs: frozenset[str] = frozenset()
        self._turned_at = 0.0

    def note(self, before: Settings, after: Settings, now: float) -> None:
        """Note a turn, and when it was, in s of any clock."""
        knobs = frozenset(
            name for name in Settings.model_fields if getattr(before, name) != getattr(after, name)
        )
        if knobs and not (knobs == self._knobs and now - self._turned_at < PAUSE_S):
            self._before = [*self._before[1 - MOST :], before]
        self._knobs, self._turned_at = knobs, now

    def back(self) -> Settings | None:
        """Give the settings of one step before; None where there is none."""
        self._knobs = frozenset()
        return self._before.pop() if self._before else None

    def __bool__(self) -> bool:
        return bool(self._before)
