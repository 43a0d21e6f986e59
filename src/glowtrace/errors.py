"""Every error that Glowtrace raises on purpose.

    GlowtraceError              something the user can put right; its text is shown as it is
    ├── QuantityError           a quantity that cannot be read (in glowtrace.units)
    ├── BenchError              a bench or settings file or form: carries one Problem a field
    │   └── RatingError         the settings ask for more than a rating allows
    ├── FieldMapError           the fields could not be built, stored or read
    ├── StoreError              the database of benches, settings and the logbook
    ├── PhotographError         a file that is no photograph (in glowtrace.measure)
    ├── GivenUpError            long work was cancelled (in glowtrace.watching)
    └── PageError               the page could not be opened (for example: port in use)
    GlowtraceWarning            something the user should know, and the result still stands

A run that ends oddly (the beam hits the glass) is a result, never an error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class GlowtraceError(Exception):
    """Something the user can put right: the text says what was given and what is allowed."""


class GlowtraceWarning(UserWarning):
    """Something the user should know although the result stands."""


@dataclass(frozen=True)
class Problem:
    """One wrong field: where it is, what was given, what is allowed."""

    field: str
    given: str
    allowed: str

    def __str__(self) -> str:
        return f"{self.field}: {self.given} is not allowed; {self.allowed}"


class BenchError(GlowtraceError):
    """One or more wrong fields in a bench or in settings, all reported together."""

    def __init__(self, subject: str, problems: Sequence[Problem]) -> None:
        self.subject = subject
        self.problems = tuple(problems)
        super().__init__("\n".join([f"{subject}:", *(f"  {problem}" for problem in problems)]))


class RatingError(BenchError):
    """Settings beyond a rating of the bench."""


class FieldMapError(GlowtraceError):
    """The fields could not be built, stored or read."""


class StoreError(GlowtraceError):
    """The database of benches and settings could not be read or written."""


class PageError(GlowtraceError):
    """The page could not be opened."""
