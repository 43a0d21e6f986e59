"""What the visitor has told so far, and how it is written in the address of the page."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Final

from glowtrace.faults.seen import statement_key
from glowtrace.faults.variations import AS_SET
from glowtrace.web.address import fragment

Places = tuple[tuple[float, float], ...]

SAID: Final = "said"
DENIED: Final = "denied"
SKETCH: Final = "sketch."
PHOTOGRAPHED: Final = "photographed"
CHECKED: Final = "checked."
AT: Final = "@"
"""Stands before the bench of a line or an answer that does not belong to this page's bench."""
_MOST_POINTS: Final = 60


@dataclass(frozen=True)
class Told:
    """What is seen, and what checks have shown.

    Attributes
    ----------
    said
        Keys of the statements that hold.
    denied
        Keys of the statements that were looked at and do not hold.
    sketches
        The lines that are seen, by the state of the knobs: u and v on the screen in mm; of a spot,
        its middle and its edge.
    is_photographed
        Whether all of these lines were read from photographs.
    checked
        Key of a check and key of what it showed, in the order of the answers.
    elsewhere
        What the address has of lines and answers that were told on other benches.
    """

    said: tuple[str, ...] = ()
    denied: tuple[str, ...] = ()
    sketches: tuple[tuple[str, Places], ...] = ()
    is_photographed: bool = False
    checked: tuple[tuple[str, str], ...] = ()
    elsewhere: tuple[tuple[str, str], ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether nothing was told."""
        return not (self.said or self.denied or self.sketches or self.checked)

    @property
    def query(self) -> str:
        """What the address has of it, with a leading "&" if there is any."""
        told: dict[str, str] = {}
        if self.said:
            told[SAID] = ".".join(self.said)
        if self.denied:
            told[DENIED] = ".".join(self.denied)
        told |= self._own | dict(self.elsewhere)
        return fragment(told)

    @property
    def _own(self) -> dict[str, str]:
        """What belongs to this bench alone, as the address has it."""
        own = {
            SKETCH + state: "~".join(f"{u:.1f}_{v:.1f}" for u, v in places)
            for state, places in self.sketches
        }
        if self.is_photographed:
            own[PHOTOGRAPHED] = "yes"
        return own | {CHECKED + check: outcome for check, outcome in self.checked}

    def left(self, place: str) -> Told:
        """Give what is told once this bench is left for another: its lines and answers wait."""
        waiting = tuple((f"{name}{AT}{place}", text) for name, text in self._own.items())
        return Told(self.said, self.denied, elsewhere=(*self.elsewhere, *waiting))

    def sketch(self, state: str = AS_SET) -> Places:
        """Give the line that is seen in a state of the knobs; no places where none is drawn."""
        return dict(self.sketches).get(state, ())

    def saying(self, statement: str, holds: bool | None) -> Told:
        """Give what is told once a statement holds, or does not; None: nobody has looked."""
        said = tuple(each for each in self.said if each != statement)
        denied = tuple(each for each in self.denied if each != statement)
        if holds is True:
            said = (*said, statement)
        elif holds is False:
            denied = (*denied, statement)
        return replace(self, said=said, denied=denied)

    def sketching(self, state: str, places: Places, *, is_photographed: bool = False) -> Told:
        """Give what is told once another line is seen in a state; an empty one takes it back."""
        others = tuple(each for each in self.sketches if each[0] != state)
        sketches = (*others, (state, places)) if places else others
        is_all = (is_photographed or not places) and (self.is_photographed or not others)
        return replace(self, sketches=sketches, is_photographed=is_all and bool(sketches))

    def answering(self, check: str, outcome: str) -> Told:
        """Give what is told once a check has shown something; no outcome takes it back."""
        others = tuple(each for each in self.checked if each[0] != check)
        return replace(self, checked=(*others, (check, outcome)) if outcome else others)

    def known_here(self, statements: Collection[str], states: Collection[str]) -> Told:
        """Give what counts here: without what is not made here, as another bench may have it."""
        return replace(
            self,
            said=tuple(each for each in self.said if each in statements),
            denied=tuple(each for each in self.denied if each in statements),
            sketches=tuple(each for each in self.sketches if each[0] in states),
        )


def read_told(query: Mapping[str, str], place: str = "") -> Told:
    """Read what was told from the query of an address; what makes no sense is left out.

    Parameters
    ----------
    query
        The query.
    place
        The bench of the page.
    """
    bound = {name: text for name, text in query.items() if name.startswith(_BOUND)}
    here = f"{AT}{place}"
    own = {
        name.removesuffix(here): text
        for name, text in bound.items()
        if AT not in name or name.endswith(here)
    }
    sketches = tuple(
        (name.removeprefix(SKETCH), places)
        for name, text in own.items()
        if name.startswith(SKETCH) and (places := _places(text))
    )
    said = _statements(query.get(SAID, ""))
    return Told(
        said,
        tuple(each for each in _statements(query.get(DENIED, "")) if each not in said),
        sketches,
        bool(sketches) and own.get(PHOTOGRAPHED) == "yes",
        tuple(
            (name.removeprefix(CHECKED), outcome)
            for name, outcome in own.items()
            if name.startswith(CHECKED) and outcome
        ),
        tuple(
            (name, text) for name, text in bound.items() if AT in name and not name.endswith(here)
        ),
    )


_BOUND: Final = (SKETCH, PHOTOGRAPHED, CHECKED)
"""Beginnings of the names of what belongs to one bench."""


def _statements(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(statement_key(each) for each in text.split(".") if each))


def _places(text: str) -> Places:
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
