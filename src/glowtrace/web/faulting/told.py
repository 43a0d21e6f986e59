"""What the visitor has told so far, and how it is written in the address of the page."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import urlencode

Places = tuple[tuple[float, float], ...]

SAID: Final = "said"
SKETCH: Final = "sketch"
PHOTOGRAPHED: Final = "photographed"
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
        The line that is seen, u and v on the screen in mm; of a spot, its middle and its edge.
    is_photographed
        Whether that line was read from a photograph.
    checked
        Key of a check and key of what it showed, in the order of the answers.
    """

    said: tuple[str, ...] = ()
    sketch: Places = ()
    is_photographed: bool = False
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
        if self.sketch and self.is_photographed:
            told[PHOTOGRAPHED] = "yes"
        told |= {CHECKED + check: outcome for check, outcome in self.checked}
        return f"&{urlencode(told)}" if told else ""

    def saying(self, statement: str, holds: bool) -> Told:
        """Give what is told once a statement holds, or does no more."""
        others = tuple(each for each in self.said if each != statement)
        return replace(self, said=(*others, statement) if holds else others)

    def only_saying(self, known: Collection[str]) -> Told:
        """Give what is told without statements that are not made here, as an old address may."""
        return replace(self, said=tuple(each for each in self.said if each in known))

    def sketching(self, sketch: Places, *, is_photographed: bool = False) -> Told:
        """Give what is told once another line is seen; an empty one takes it back."""
        return replace(self, sketch=sketch, is_photographed=is_photographed and bool(sketch))

    def answering(self, check: str, outcome: str) -> Told:
        """Give what is told once a check has shown something; no outcome takes it back."""
        others = tuple(each for each in self.checked if each[0] != check)
        return replace(self, checked=(*others, (check, outcome)) if outcome else others)


def read_told(query: Mapping[str, str]) -> Told:
    """Read what was told from the query of an address; what makes no sense is left out."""
    return Told(
        tuple(dict.fromkeys(each for each in query.get(SAID, "").split(".") if each)),
        _sketch(query.get(SKETCH, "")),
        query.get(PHOTOGRAPHED) == "yes",
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
