"""A shot in words: where the camera stands, what is set on it, what is said and what is touched."""

from __future__ import annotations

import math
from collections.abc import Sequence

from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.light.exposure import is_flicker_free
from glowtrace.light.scene import ROOMS, Scene
from glowtrace.safety.lines import SafetyLine
from glowtrace.shots.exposing import THIS, Exposing
from glowtrace.shots.framing import CLEAR, LEAST_PIXELS, Framing
from glowtrace.shots.lens import LENSES, Lens
from glowtrace.shots.order import Change, Lead
from glowtrace.shots.speech import BEFORE, hold_for, seconds_of
from glowtrace.units import format_quantity
from glowtrace.words.language import say
from glowtrace.words.light import (
    exposure_words,
    illuminance,
    remedy_words,
    room_nearby,
    verdict_within,
)
from glowtrace.words.lists import listed
from glowtrace.words.safety import told_line

_AIMED = 0.02
"""Share of the picture by which it may be aimed off without a word."""


def lens_name(name: str) -> str:
    """Give the name of a lens of `glowtrace.shots.lens.LENSES`."""
    return say(f"shot.lens.{name.replace(' ', '_')}")


def lens_words(lens: Lens) -> str:
    """Say which sizes a camera has."""
    name = lens_name(lens.name) if lens.name in LENSES else lens.name
    focal = say("shot.lens.focal", focal=_mm(lens.shortest))
    if lens.longest > lens.shortest:
        focal = say("shot.lens.zoom", shortest=_mm(lens.shortest), longest=_mm(lens.longest))
    return say(
        "shot.lens.sizes",
        name=name,
        width=_mm(lens.sensor_width),
        focal=focal,
        aperture=f"{lens.aperture:g}",
        nearest=_m(lens.nearest),
    )


def frame_words(framing: Framing, is_whole: bool) -> str:
    """Say what is in the picture."""
    width, height = _mm(framing.box.width), _mm(framing.box.height)
    return say("shot.frame.whole" if is_whole else "shot.frame.part", width=width, height=height)


def stand_words(plane: ScreenPlane, framing: Framing) -> str:
    """Say where the camera stands and where it looks."""
    aim = _aim(plane, framing)
    if aim:
        return say("shot.stand.part", away=_m(framing.away), where=aim)
    return say("shot.stand.face" if plane.is_spot else "shot.stand.side", away=_m(framing.away))


def zoom_words(framing: Framing) -> str:
    """Say how the lens is zoomed, and how fine the picture is then."""
    cut = framing.zoom > 1.02
    zoom = (
        say("shot.zoom.cut", focal=_mm(framing.focal), zoom=f"{framing.zoom:.2g}")
        if cut
        else say("shot.zoom.lens", focal=_mm(framing.focal))
    )
    width, pixels = _mm(framing.box.width), f"{1e-3 * framing.pixels:.2g}"
    if framing.is_coarse:
        least = f"{1e-3 * LEAST_PIXELS:g}"
        return f"{zoom} {say('shot.zoom.coarse', width=width, pixels=pixels, least=least)}"
    return f"{zoom} {say('shot.zoom.fills', width=width, pixels=pixels)}"


def focus_words(framing: Framing, before: Framing | None, plane: ScreenPlane) -> str:
    """Say on what to focus, and between which distances it is sharp then; or that it stays."""
    if before is not None and (before.away, before.focal) == (framing.away, framing.focal):
        return say("shot.focus.kept")
    on = say("shot.focus.on.gun" if plane.glows else "shot.focus.on.grid")
    near, far = framing.sharp
    front = _mm(framing.away - near)
    if math.isinf(far):
        return say("shot.focus.all", on=on, front=front)
    return say("shot.focus.range", on=on, front=front, behind=_mm(far - framing.away))


def exposing_words(exposing: Exposing, scene: Scene) -> str:
    """Say which exposure to set, or that it stays."""
    told = exposure_words(exposing.camera)
    if exposing.is_kept:
        return say("shot.exposure.kept", exposure=told)
    words = say("shot.exposure.set", exposure=told)
    lamps = scene.room.illuminance > 0.0 and scene.room.lamp_flicker > 0.0
    if lamps and not is_flicker_free(scene.room.mains_frequency, exposing.camera.shutter):
        return f"{words} {say('shot.exposure.lamps')}"
    return words


def room_words(exposing: Exposing, scene: Scene) -> str:
    """Say whether the room suits, and how dark it has to be where it does not."""
    lux, verdict = illuminance(scene.room.illuminance), verdict_within(exposing.verdict)
    if exposing.brightest_room == THIS:
        return say("shot.room.good", lux=lux, verdict=verdict)
    if not exposing.brightest_room:
        helps = remedy_words(exposing.reason)
        return say("shot.room.never", lux=lux, verdict=verdict, helps=helps)
    room = room_nearby(ROOMS[exposing.brightest_room][0])
    return say("shot.room.darker", lux=lux, verdict=verdict, room=room)


def hold_words(script: str) -> str:
    """Say how long the picture is held for its words."""
    if not script:
        return say("shot.hold_silent", seconds=hold_for(script))
    speech, spare = seconds_of(script), f"{BEFORE:g}"
    return say("shot.hold", seconds=hold_for(script), speech=speech, spare=spare)


def danger_words(lines: Sequence[SafetyLine], before: Sequence[SafetyLine]) -> tuple[str, ...]:
    """Say what is dangerous in a shot: all of what is new, the rest by its name and value."""
    known = {line.topic for line in before}
    told = []
    for line in lines:
        words = told_line(line)
        if line.topic not in known:
            told.append(
                say("shot.danger.line", topic=words.topic[:1].upper() + words.topic[1:],
                    value=words.value, advice=words.advice)
            )  # fmt: skip
    old = [
        say("shot.danger.topic", topic=words.topic, value=words.value)
        for words in (told_line(line) for line in lines if line.topic in known)
    ]
    if old:
        told.append(say("shot.danger.still", topics=listed(old)))
    return tuple(told) or (say("shot.danger.none"),)


def change_words(change: Change) -> tuple[str, ...]:
    """Say which leads are taken off, then which are put on."""
    off = (say("shot.next.off", leads=leads_words(change.off)),) if change.off else ()
    on = (say("shot.next.on", leads=leads_words(change.on)),) if change.on else ()
    return off + on


def leads_words(leads: Sequence[Lead]) -> str:
    """List leads by what they join."""
    return "; ".join(say("shot.lead", one=one, other=other) for one, other in leads)


def to_read_words(plane: ScreenPlane, framing: Framing) -> str:
    """Say how to film so that the line can be read afterwards."""
    return say("shot.to_read", stand=stand_words(plane, framing), zoom=zoom_words(framing))


def clear_words() -> str:
    """Say how far a camera keeps away, and why."""
    return say("shot.keep_clear", clear=_m(CLEAR))


def _aim(plane: ScreenPlane, framing: Framing) -> str:
    u0, u1, v0, v1 = plane.extent
    box = framing.box
    right, up = (box.u0 + box.u1 - u0 - u1) / 2, (box.v0 + box.v1 - v0 - v1) / 2
    if plane.is_mirrored:
        right = -right
    parts = []
    if abs(right) > _AIMED * box.width:
        parts.append(say(f"shot.aim.{'right' if right > 0 else 'left'}", length=_mm(abs(right))))
    if abs(up) > _AIMED * box.width:
        parts.append(say(f"shot.aim.{'up' if up > 0 else 'down'}", length=_mm(abs(up))))
    return listed(parts) if parts else ""


def _mm(length: float) -> str:
    return format_quantity(length, "mm", 3 if length >= 0.1 else 2)


def _m(length: float) -> str:
    return format_quantity(length, "m", 2)
