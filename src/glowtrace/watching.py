"""Long work that tells how far it is and can be given up.

A function that may take more than a moment takes `progress` and `cancelled`. Given up, it raises
`GivenUpError`: nothing is half done.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from glowtrace.errors import GlowtraceError

Progress = Callable[[float, str], None]
"""Is told the part of the work that is done, from 0 to 1 and never less than before, and words."""
Cancelled = Callable[[], bool]
"""Says whether to give up; is asked often, from the thread that does the work."""


class GivenUpError(GlowtraceError):
    """The work was cancelled by whoever asked for it; there is no result."""

    def __str__(self) -> str:
        return "the computation was cancelled"


@dataclass(frozen=True)
class Watch:
    """Whoever waits for the work, seen from a stretch of it."""

    progress: Progress | None = None
    cancelled: Cancelled | None = None
    start: float = 0.0
    end: float = 1.0
    """Where this stretch lies in the whole."""

    def require_going(self) -> None:
        """Raise a GivenUpError if the work is to be given up."""
        if self.cancelled is not None and self.cancelled():
            raise GivenUpError

    def note(self, fraction: float, words: str) -> None:
        """Tell how much of this stretch is done; raises as `require_going`."""
        self.require_going()
        if self.progress is not None:
            self.progress(self.start + fraction * (self.end - self.start), words)

    def stretch(self, start: float, end: float) -> Watch:
        """Give a part of this stretch, for work that is a part of this work."""
        width = self.end - self.start
        return Watch(
            self.progress, self.cancelled, self.start + start * width, self.start + end * width
        )


UNWATCHED: Final = Watch()
"""Nobody waits: nothing is told, nothing given up."""
