"""What the visitor has told so far, and how it is written in the address of the page."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import urlencode

Places = tuple[tuple[float, float], ...]

SAID: Final = "said"
SKETCH: Final = "sketch"
CHECKED: Final = "checked."
_MOST_POINTS: Final = 60


@dataclass(frozen=True)
class Told:
    """What is seen, and what checks have shown.

    Attributes
    ----------
    said
        Keys of the statements that hold.
    sketch
        The line that is seen, u and v on the screen in mm; one place is a spot.
    checked
        Key of a check and key of what it showed, in the order of the answers.
    """

    said: tuple[str, ...] = ()
    sketch: Places = ()
    checked: tuple[tuple[str, str], ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether nothing was told."""
        return not (self.said or self.sketch or self.checked)

    @property
    def query(self) -> str:
        """What the address has of it, with a leading "&" if there is any."""
        told: dict[str, str] = {}
        if self.said:
            told[SAID] = ".".join(self.said)
        if self.sketch:
            told[SKETCH] = "~".join(f"{u:.1f}_{v:.1f}" for u, v in self.sketch)
        told |= {CHECKED + check: outcome for check, outcome in self.checked}
        return f"&{urlencode(told)}" if told else ""

    def saying(self, statement: str, holds: bool) -> Told:
        """Give what is told once a statement holds, or does no more."""
        others = tuple(each for each in self.said if each != statement)
        return replace(self, said=(*others, statement) if holds else others)

    def answering(self, check: str, outcome: str) -> Told:
        """Give what is told once a check has shown something; no outcome takes it back."""
        others = tuple(each for each in self.checked if each[0] != check)
        return replace(self, checked=(*others, (check, outcome)) if outcome else others)


def read_told(query: Mapping[str, str]) -> Told:
    """Read what was told from the query of an address; what makes no sense is left out."""
    return Told(
        tuple(dict.fromkeys(each for each in query.get(SAID, "").split(".") if each)),
        _sketch(query.get(SKETCH, "")),
        tuple(
            (name.removeprefix(CHECKED), outcome)
            for name, outcome in query.items()
            if name.startswith(CHECKED) and outcome
        ),
    )


def _sketch(text: str) -> Places:
    places = []
    for each in text.split("~")[:_MOST_POINTS]:
        try:
            u, v = (float(number) for number in each.split("_"))
        except ValueError:
            return ()
        if not (math.isfinite(u) and math.isfinite(v)):
            return ()
        places.append((u, v))
    return tuple(places)
