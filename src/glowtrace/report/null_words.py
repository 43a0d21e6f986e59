"""A null in words: what is equal, where, and what E/B would say of the speed on this bench."""

from __future__ import annotations

from typing import Final

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.demos.null import null_balance
from glowtrace.units import format_quantity

_AGREES: Final = 0.02
"""Share by which E/B may be off and still be called the speed."""


def null_words(bench: Bench, settings: Settings) -> str:
    """Say what a null at these settings means; empty where there is none to speak of."""
    found = null_balance(bench, settings)
    if found is None:
        return ""
    here, textbook = (format_quantity(i, "A") for i in (found.current, found.textbook_current))
    ratio, speed = (f"{v / 1e6:.3g}" for v in (found.ratio, found.speed))
    read = f"E/B, from V/d and the field in the middle of the coils, is {ratio} million m/s"
    if abs(found.excess) < _AGREES:
        return f"{read}, and the beam's speed is {speed} million m/s: they agree within 2 %."
    off = f"{100 * abs(found.excess):.0f} % too {'fast' if found.excess > 0 else 'slow'}"
    why = ", because the coils' field reaches beyond the plates" if found.excess > 0 else ""
    if not bench.place.ignore_earth:
        why += "; the Earth's field bends the beam as well"
    return (
        f"On this bench the two deflections cancel along the way, not the forces at every place: "
        f"the beam is straight at {here}, where uniform fields would need {textbook}. {read}: "
        f"{off}{why}. The beam's speed is {speed} million m/s."
    )
