"""What was found, in sentences with rounded numbers: page, command line and library say the same.

Two figures at most: the model is one of orders of magnitude.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from glowtrace.bench.model import Bench, EndFace
from glowtrace.light.assessment import Assessment, Stretch
from glowtrace.light.camera_advice import REMEDIES, shutter_text
from glowtrace.light.exposure import (
    Reason,
    exposed_for,
    exposure_value,
    flicker_left,
    illuminance_exposed_for,
    is_flicker_free,
)
from glowtrace.light.scene import Camera, Scene, beam_current, beam_share, is_gas, room_nearby
from glowtrace.light.verdict import Verdict, Word
from glowtrace.units import format_quantity

MODEL: Final = (
    "A model of orders of magnitude: the light is computed from the picture in the bench's real "
    "fields, everything else from inputs that are believed within the factors stated."
)
_SEEN: Final[dict[Word, str]] = {
    "surely": "Surely seen",
    "probably": "Probably seen",
    "probably not": "Probably not seen",
    "no": "Not seen",
}
_REASONS: Final[dict[Reason, str]] = {
    "noise": "What limits is the noise of the sensor",
    "too dark": "What limits is that the picture comes out too dark",
    "too little contrast": "What limits is the contrast with the background",
    "background clipped": "The room's light on the screen alone burns the picture out",
}
_BEYOND: Final = 1000.0


def verdict_words(verdict: Verdict) -> str:
    """Give the verdict as a headline."""
    return _SEEN[verdict.word]


def factor_words(factor: float) -> str:
    """Say within what factor something stands; infinite where some inputs give no light at all."""
    if math.isinf(factor):
        return "or none at all"
    if factor > _BEYOND:
        return f"within a factor of more than {_BEYOND:.0f}"
    return f"within a factor of {format_quantity(max(factor, 1.1), '1', 2 if factor < 10 else 1)}"


def times_words(number: float) -> str:
    """Write how many times: "140 times", "0.3 times"."""
    if number < 1e-3:
        return "less than 0.001 times"
    if number >= 1e4:
        return "more than 10 000 times"
    return f"{_rounded(number)} times"


def margin_words(verdict: Verdict) -> str:
    """Say how much there is of what is needed, and within what factor."""
    if verdict.margin < 1e-3:
        return "Far below what is needed"
    return f"{times_words(verdict.margin)} what is needed, {factor_words(verdict.factor)}"


def after_words(verdict: Verdict) -> str:
    """Say what comes of a change."""
    times = f"{times_words(verdict.margin)} what is needed, {factor_words(verdict.factor)}"
    return f"Then {verdict_words(verdict).lower()}: {times}."


def luminance_words(stretch: Stretch) -> str:
    """Write a luminance with the factor within which it stands."""
    if stretch.value <= 0.0:
        return "probably no light at all"
    return f"about {luminance(stretch.value)}, {factor_words(stretch.factor)}"


def luminance(value: float) -> str:
    """Write a luminance with two figures."""
    return "0 cd/m²" if value < 1e-9 else f"{_rounded(value)} cd/m²"


def illuminance(value: float) -> str:
    """Write an illuminance with two figures."""
    return f"{_rounded(value)} lx"


def why_words(found: Assessment, bench: Bench, scene: Scene) -> tuple[str, ...]:
    """Say what the verdict for the eye comes from, in a few sentences."""
    if found.is_dark:
        return ("No electron makes any light: heater off, no accelerating voltage, or the beam "
                "does not reach the screen.",)  # fmt: skip
    layer = "backdrop" if is_gas(bench) else "screen"
    is_spot = isinstance(bench.screen, EndFace)
    part, whole = ("The spot", "The spot") if is_spot else ("The middle of the trace", "The line")
    minutes = math.degrees(found.angle) * 60.0
    told = (
        f"{part} has {luminance_words(found.luminance)}; what lies behind it, "
        f"{luminance_words(found.background)}: {_behind_words(found, layer)}.",
        f"To see it at ease from {format_quantity(scene.away, 'm', 2)} a class needs "
        f"{luminance(found.needed.value)} more than the background, "
        f"{factor_words(found.needed.factor)}. {whole}, "
        f"{format_quantity(found.glow.width, 'mm', 2)} wide, counts from there as a disc of "
        f"{minutes:.2g} minutes of arc.",
    )
    if is_spot:
        return told
    return (
        *told,
        f"Of its length {_share_words(found.seen_share)} would be seen, from "
        f"{luminance(found.faintest)} at the faint end to {luminance(found.brightest)}, with every "
        "input at its middle.",
    )


def limit_words(brightest_room: float | None) -> str:
    """Say up to which light of the room the trace is surely seen; None where in no room."""
    if brightest_room is None:
        return "Surely seen in no room as things stand, be it ever so dark."
    most = illuminance(brightest_room)
    return f"Surely seen up to {most} on the screen; {room_nearby(brightest_room)}."


def _behind_words(found: Assessment, layer: str) -> str:
    parts = {
        f"room light on the {layer}": found.behind.room,
        "the room mirrored in the glass": found.behind.mirror,
        "glow of the heater": found.behind.heater,
    }
    total = float(found.behind.total[0])
    if total <= 0.0:
        return "no light at all"
    named = [
        f"{name} {round(100 * float(np.squeeze(value)) / total)} %"
        for name, value in parts.items()
        if float(np.squeeze(value)) > 0.01 * total
    ]
    return ", ".join(named)


def _share_words(share: float) -> str:
    if share > 0.985:
        return "all"
    return "nothing" if share < 0.005 else f"about {100 * share:.0f} %"


def camera_words(found: Assessment, camera: Camera) -> tuple[str, ...]:
    """Say what the camera makes of it."""
    if found.is_dark:
        return ("There is no trace to take.",)
    words = [
        f"{exposure_words(camera)} bring {luminance(exposed_for(camera))} to the middle of the "
        f"scale; an incident-light meter asks for {illuminance(illuminance_exposed_for(camera))}. "
        f"{_REASONS[found.in_camera.reason]}."
    ]
    if bool(found.in_camera.is_clipped[0]) and found.in_camera.reason != "background clipped":
        words.append("The trace itself is burnt out: it shows, but white and without its shades.")
    return tuple(words)


def exposure_advice(exposure: Camera, exposed: Assessment) -> str:
    """Say which exposure suits a trace, what comes of it, and what would help where that is no."""
    then = verdict_words(exposed.camera).lower()
    words = f"Suits this trace: {exposure_words(exposure)}; then {then}."
    if exposed.camera.word == "surely":
        return words
    return f"{words} {REMEDIES[exposed.in_camera.reason]}"


def flicker_words(scene: Scene) -> str:
    """Say whether the shutter suits the lamps."""
    mains, time = scene.room.mains_frequency, scene.camera.shutter
    lamps = f"lamps on {mains:g} Hz"
    if is_flicker_free(mains, time):
        return f"{shutter_text(time)} is a whole number of flickers of {lamps}: no bands."
    left = flicker_left(scene.room.lamp_flicker, mains, time)
    if left < 0.02:
        return f"L{lamps[1:]} leave less than 2 % of flicker at {shutter_text(time)}."
    near = shutter_text(max(1, round(2.0 * mains * time)) / (2.0 * mains))
    return (
        f"L{lamps[1:]} flicker by up to {100 * left:.0f} % in pictures at {shutter_text(time)}, "
        f"as bands or from frame to frame; {near} suits them."
    )


def ripple_words(flicker: float) -> str:
    """Say how much the trace itself flickers on camera, by its share peak from mean."""
    if flicker < 0.005:
        return "The ripple of the supply makes the trace flicker by less than 0.5 %."
    return (
        f"The ripple of the supply makes the trace flicker by {100 * flicker:.1g} %"
        f"{': smooth the supply, or take a longer time' if flicker > 0.05 else ''}."
    )


def exposure_words(camera: Camera) -> str:
    """Write an exposure as photographers do."""
    return (
        f"ISO {camera.iso:.0f}, {shutter_text(camera.shutter)} and f/{camera.aperture:g} "
        f"(EV {exposure_value(camera):.1f})"
    )


def beam_words(bench: Bench, scene: Scene) -> str:
    """Say which beam was counted on."""
    source = "typical of the bench" if scene.beam_current is None else "as told"
    share = beam_share(bench, scene)
    return (
        f"{format_quantity(beam_current(bench, scene), 'A', 2)} ({source}), of which "
        f"{format_quantity(100 * share, '1', 2)} % leave the gun as the beam"
    )


def _rounded(number: float) -> str:
    return format_quantity(float(f"{number:.2g}"), "1", 2 if number < 10.0 else _digits(number))


def _digits(number: float) -> int:
    return max(2, math.floor(math.log10(number)) + 1)
