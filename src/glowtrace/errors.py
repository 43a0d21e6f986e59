"""Every error that Glowtrace raises on purpose.

    GlowtraceError              something the user can put right; its text is shown as it is
    ├── QuantityError           a quantity that cannot be read (in glowtrace.units)
    ├── BenchError              a bench or settings file or form: carries one Problem a field
    │   └── RatingError         the settings ask for more than a rating allows
    ├── FieldMapError           the fields could not be built, stored or read
    ├── StoreError              the database of benches, settings and the logbook
    ├── PhotographError         a file that is no photograph (in glowtrace.measure)
    ├── GivenUpError            long work was cancelled (in glowtrace.watching)
    ├── PageError               the page could not be opened (for example: port in use)
    └── MissingPackageError     an optional package is not installed; says how to get it
    GlowtraceWarning            something the user should know, and the result still stands

A run that ends oddly (the beam hits the glass) is a result, never an error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Problem:
    """One wrong field: where it is, what was given, what is allowed, and else what to do.

    `given` is the value as it was given, or says what is wrong where there is no such value:
    "nothing was given", "this file does not exist", "this is no TOML (...)".
    """

    field: str
    given: str
    allowed: str = ""
    hint: str = ""

    def __str__(self) -> str:
        ways = "; ".join(filter(None, (self.allowed, self.hint)))
        says_it = self.given.startswith(("nothing ", "this ", "none "))
        return f"{self.field}: {self.given}{'' if says_it else ' is not allowed'}; {ways}"


class GlowtraceError(Exception):
    """Something the user can put right: the text says what was given and what is allowed.

    Parameters
    ----------
    problems
        Each wrong field, or a sentence where no field is to blame.

    Attributes
    ----------
    problems
        The wrong fields in parts; empty where a sentence says it all.
    """

    def __init__(self, *problems: Problem | str) -> None:
        super().__init__(*problems)
        self.problems = tuple(each for each in problems if isinstance(each, Problem))

    def __str__(self) -> str:
        return "\n".join(map(str, self.args))

    def within(self, place: str) -> GlowtraceError:
        """Give the same error, told of a part of something larger."""
        return GlowtraceError(
            *(
                replace(each, field=f"{place}: {each.field}")
                if isinstance(each, Problem)
                else f"{place}: {each}"
                for each in self.args
            )
        )


class GlowtraceWarning(UserWarning):
    """Something the user should know although the result stands."""


class BenchError(GlowtraceError):
    """One or more wrong fields in a bench or in settings, all reported together."""

    def __init__(self, subject: str, problems: Sequence[Problem]) -> None:
        super().__init__(*problems)
        self.subject = subject
        self.args = (subject, self.problems)  # from which a copy in another process is made

    def __str__(self) -> str:
        return "\n".join([f"{self.subject}:", *(f"  {each}" for each in self.problems)])

    def within(self, place: str) -> BenchError:
        """Give the same error, told of a part of something larger."""
        return BenchError(f"{place}: {self.subject}", self.problems)


class RatingError(BenchError):
    """Settings beyond a rating of the bench."""


class FieldMapError(GlowtraceError):
    """The fields could not be built, stored or read."""


class StoreError(GlowtraceError):
    """The database of benches and settings could not be read or written."""


class PageError(GlowtraceError):
    """The page could not be opened."""


class MissingPackageError(GlowtraceError):
    """What was asked for needs an optional package that is not installed."""

    def __init__(self, what: str, package: str, extra: str) -> None:
        self.package, self.extra = package, extra
        super().__init__(
            f"{what} need the package {package}, which is not installed; "
            f'get it with: pip install "glowtrace[{extra}]"'
        )
