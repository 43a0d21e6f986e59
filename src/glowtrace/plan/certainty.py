"""How surely an answer works on the tube that the bench may be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from glowtrace.bench.ratings import KNOBS
from glowtrace.demos.goals.goal import Knob, key_with_unit, plain

SURE: Final = 0.95
"""Part of the possible tubes on which a demonstration works that holds."""


class Expected(NamedTuple):
    """What a measure of the goal is on the tubes that the bench may be."""

    measure: str
    unit: str
    value: float
    """Mean, SI; NaN where some do not show it."""
    off: float
    """How far it may be off, 95 %, SI."""


class SureWindow(NamedTuple):
    """The range of a knob (SI) in which it holds with 95 % while all else stays."""

    low: float
    high: float


@dataclass(frozen=True)
class Certainty:
    """How surely settings work, with what is known of the bench."""

    share: float
    """Of the tubes that the bench may be, those on which the goal is met at the settings."""
    tubes: int
    """How many were drawn."""
    expected: tuple[Expected, ...]
    windows: Mapping[Knob, SureWindow]
    """Empty where it does not hold with 95 % at the settings themselves."""
    worth_measuring: str
    """Path of the number with the largest share in the doubt about what is planned."""
    part: float
    """That share."""

    @property
    def holds(self) -> bool:
        """Whether the goal is met with 95 %."""
        return self.share >= SURE

    def as_dict(self) -> dict[str, Any]:
        """Give plain data; numbers carry their unit in the key."""
        return {
            "share": self.share,
            "holds_with_95_percent": self.holds,
            "tubes": self.tubes,
            "expected": [
                {"measure": each.measure}
                | {
                    key_with_unit(key, each.unit): plain(value)
                    for key, value in (("value", each.value), ("off_95_percent", each.off))
                }
                for each in self.expected
            ],
            "windows_95_percent": {
                knob: {
                    f"low_{KNOBS[knob].lower()}": window.low,
                    f"high_{KNOBS[knob].lower()}": window.high,
                }
                for knob, window in self.windows.items()
            },
            "worth_measuring": self.worth_measuring,
            "its_share_of_the_doubt": self.part,
        }
