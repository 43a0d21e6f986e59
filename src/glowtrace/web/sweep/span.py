"""What can be turned on the page, and from where to where."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from operator import attrgetter
from typing import Final

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.meanings import standing_numbers
from glowtrace.bench.model import Bench
from glowtrace.bench.ranges import NOTHING, Count, quantity_of
from glowtrace.bench.ratings import KNOBS, knob_ranges, knobs_of
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.sweeps.axes import Turnable, turnables
from glowtrace.units import exact_text
from glowtrace.web.naming import read_field
from glowtrace.web.wiring import SHARED, plate_range
from glowtrace.words.bench import knob_label
from glowtrace.words.knowledge import number_name

Array = NDArray[np.float64]

_SEEN: Final = re.compile(
    r"gun\.(aperture|divergence|cathode)\w*|plates\.(?!max)\w+|coils\.(?!max|resistance)\w+"
    r"|screen\.x|place\.heading|supplies\.(accelerating|plates|coils)\.ripple"
)
"""Numbers of a bench that the trace shows; ratings and edges of a view are none."""
_POINTS: Final = 41
_BENCHES: Final = 9
"""Points where a number of the bench is turned: each has fields of its own to compute."""
_AROUND: Final = 0.1
"""Part of a number to either side of it at first."""
_FROM_NOUGHT: Final = {"m": 2e-3, "rad": 0.02, "1": 0.05}
"""The same of a number that is nought, in its SI unit."""
_SIGNED: Final = {"plate_voltage": "plate_reversed", "coil_current": "coil_reversed"}
_USUAL: Final = {"m": "mm", "rad": "deg"}
"""Units of fields other than the SI unit."""


@dataclass(frozen=True)
class Span:
    """What is turned, from where to where, in its SI unit."""

    name: str
    kind: Turnable
    low: float
    high: float

    @property
    def is_knob(self) -> bool:
        """Whether it is a knob; else it is a number of the bench."""
        return self.name in KNOBS

    @property
    def values(self) -> Array:
        """Places on it (n,); whole ones of a count."""
        places = np.linspace(self.low, self.high, _POINTS if self.is_knob else _BENCHES)
        if self.kind.is_count:
            return np.unique(np.rint(places))
        return np.array([float(f"{place:.12g}") for place in places.tolist()])


def offered(bench: Bench) -> Mapping[str, Mapping[str, str]]:
    """Give the names of what can be turned, in words, by group."""
    numbers = [name for name in turnables(bench) if _SEEN.fullmatch(name)]
    return {
        "Knobs": {knob: knob_label(knob) for knob in knobs_of(bench)},
        "Numbers of the bench": {
            name: number_name(bench, name)
            for name in numbers
            if attrgetter(name)(bench) is not None
        },
    }


def usual_span(bench: Bench, settings: Settings, name: str) -> Span:
    """Give the range of a knob, with the polarity as it is, or some room about a number."""
    kind = turnables(bench)[name]
    if name in KNOBS:
        ranges = knob_ranges(bench)
        low, high, _ = plate_range(ranges, settings) if name == "plate_voltage" else ranges[name]
        if is_signed(settings, name) and getattr(settings, _SIGNED[name]):
            return Span(name, kind, 0.0 - high, 0.0 - low)  # no "-0 V"
        return Span(name, kind, low, high)
    declared = next(each.declared for each in standing_numbers(bench) if each.path == name)
    mark = next((each for each in declared.metadata if isinstance(each, Count)), None)
    least, most = (mark or quantity_of(declared)).limits  # type: ignore[union-attr]
    now = float(attrgetter(name)(bench))
    room = _AROUND * abs(now) or _FROM_NOUGHT.get(kind.unit, _AROUND)
    return Span(name, kind, max(least, now - room), min(most, now + room))


def read_span(bench: Bench, settings: Settings, name: str, low: str, high: str) -> Span:
    """Read a range that was typed; a GlowtraceError names the field that is wrong."""
    kind = turnables(bench)[name]
    ends = []
    for field, text in (("from", low), ("to", high)):
        if not text.strip():
            raise GlowtraceError(Problem(field, NOTHING, "give where the range ends"))
        try:
            ends.append(read_field(text, kind.unit, _USUAL.get(kind.unit, kind.unit)))
        except GlowtraceError as error:
            raise error.within(field) from None
    if not ends[0] < ends[1]:
        raise GlowtraceError(Problem("to", high, "give more than where it begins"))
    if ends[0] < 0.0 and name in KNOBS and not is_signed(settings, name):
        allowed = "give 0 V or more: this has no other polarity at the settings as they are"
        raise GlowtraceError(Problem("from", low, allowed))
    if name in KNOBS:
        most = knob_ranges(bench)[name]
        if max(map(abs, ends)) > most.high:
            limit = exact_text(most.high, kind.unit)
            raise GlowtraceError(Problem("range", f"{low} to {high}", f"{limit}: {most.why}"))
    return Span(name, kind, ends[0], ends[1])


def end_text(span: Span, value: float) -> str:
    """Write an end of a range for its field."""
    if span.kind.is_count:
        return f"{value:.0f}"
    digits = float(f"{value:.4g}")
    unit = _USUAL.get(span.kind.unit, span.kind.unit)
    return exact_text(digits, unit) if unit != "deg" else f"{np.degrees(value):.3g} deg"


def is_signed(settings: Settings, name: str) -> bool:
    """Say whether a knob has another polarity that may be turned to freely."""
    is_shared = name == "plate_voltage" and settings.plate_source == SHARED
    return name in _SIGNED and not is_shared


def standing(settings: Settings, name: str) -> Settings:
    """Give what stays while a knob is turned: below 0 is the reversed polarity then."""
    if name not in KNOBS:
        return settings
    polarity = {_SIGNED[name]: False} if is_signed(settings, name) else {}
    return settings.changed(**{name: 0.0}, **polarity)


def where(bench: Bench, settings: Settings, name: str) -> float:
    """Give the place of the settings, or of the bench, on what is turned."""
    if name not in KNOBS:
        return float(attrgetter(name)(bench))
    value = float(getattr(settings, name))
    is_reversed = is_signed(settings, name) and getattr(settings, _SIGNED[name])
    return -value if is_reversed else value
