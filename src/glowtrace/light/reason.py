"""Why the trace is not surely seen, in one plain sentence: what stands in its way most."""

from __future__ import annotations

from glowtrace.bench.model import EndFace
from glowtrace.light.answer import LightAnswer
from glowtrace.light.scene import is_gas
from glowtrace.light.words import verdict_words
from glowtrace.units import format_quantity

_IN_THE_WAY = "The room’s light is in the way of the trace"
_FAINT = "The trace is faint even for a dark room"
_COUNTS = 2.0
"""Factor by which darkness must raise the margin for the room's light to be the reason."""


def reason_words(answer: LightAnswer) -> str:
    """Say what stands in the way most; empty where the trace is surely seen, or is none at all."""
    found, behind = answer.found, answer.found.behind
    if found.is_dark or found.eye.word == "surely":
        return ""
    if found.luminance.value <= 0.0:
        return "So slow electrons probably stay in the dead layer of the phosphor."
    layer = "backdrop" if is_gas(answer.bench) else "screen"
    if float(behind.heater[0]) > 0.5 * float(behind.total[0]):
        return (
            f"The glow of the heater on the {layer} stands against it: a collar of black card "
            "round the neck of the tube keeps most of it back. Clear of hot parts and leads; put "
            "on with the high tension off and discharged."
        )
    if found.eye.word == "probably":
        return (
            f"{_IN_THE_WAY if _is_by_room(answer) else _FAINT}: it stands out by more than is "
            "needed, but by less than the inputs are uncertain."
        )
    dark = verdict_words(answer.in_the_dark).lower()
    if answer.in_the_dark.chance < 0.5 or not _is_by_room(answer):
        return f"The trace itself is too faint for the last row; in full blackout: {dark}."
    return f"{_drowned_words(answer, layer)} In full blackout: {dark}."


def _is_by_room(answer: LightAnswer) -> bool:
    return answer.in_the_dark.margin > _COUNTS * answer.found.eye.margin


def _drowned_words(answer: LightAnswer, layer: str) -> str:
    found, scene = answer.found, answer.scene
    has, needs = found.contrast, found.needed.value / found.background.value
    if needs < 1.0:
        return (
            f"The room’s light drowns it: the trace adds about {_percent(has)} to the light of the "
            f"{layer}, and a class needs {_percent(needs)}."
        )
    shape = "so small a spot" if isinstance(answer.bench.screen, EndFace) else "so thin a line"
    return (
        f"The room’s light drowns it: from {format_quantity(scene.away, 'm', 2)} {shape} must be "
        f"about {1.0 + needs:.2g} times as bright as the {layer} round it, and is "
        f"{1.0 + has:.2g} times."
    )


def _percent(share: float) -> str:
    return "less than 0.1 %" if share < 0.001 else f"{100.0 * share:.2g} %"
