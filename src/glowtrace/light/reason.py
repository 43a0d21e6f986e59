"""Why the trace is not surely seen: what stands in its way most."""

from __future__ import annotations

from typing import Literal

from glowtrace.light.answer import LightAnswer

Obstacle = Literal["dead layer", "heater", "room in the way", "faint", "too faint", "drowned"]
_COUNTS = 2.0
"""Factor by which darkness must raise the margin for the room's light to be the reason."""


def obstacle(answer: LightAnswer) -> Obstacle | None:
    """Give what stands in the way most; None where the trace is surely seen, or there is none."""
    found, behind = answer.found, answer.found.behind
    if found.is_dark or found.eye.word == "surely":
        return None
    if found.luminance.value <= 0.0:
        return "dead layer"
    if float(behind.heater[0]) > 0.5 * float(behind.total[0]):
        return "heater"
    is_by_room = answer.in_the_dark.margin > _COUNTS * answer.found.eye.margin
    if found.eye.word == "probably":
        return "room in the way" if is_by_room else "faint"
    if answer.in_the_dark.chance < 0.5 or not is_by_room:
        return "too faint"
    return "drowned"
