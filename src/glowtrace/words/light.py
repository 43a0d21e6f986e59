"""What was found of a trace's light: page, command line and handouts say the same.

Two figures at most: the model is one of orders of magnitude.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.light.answer import LightAnswer
from glowtrace.light.assessment import Assessment, Stretch
from glowtrace.light.exposure import (
    exposed_for,
    exposure_value,
    flicker_left,
    illuminance_exposed_for,
    is_flicker_free,
)
from glowtrace.light.reason import obstacle
from glowtrace.light.scene import (
    ROOMS,
    Camera,
    Scene,
    beam_current,
    beam_share,
    is_gas,
    nearest_room,
)
from glowtrace.light.trust import Trust
from glowtrace.light.verdict import Verdict
from glowtrace.units import format_quantity, percent
from glowtrace.words.language import say
from glowtrace.words.lists import listed

_BEYOND: Final = 1000.0
_FAR_BELOW: Final = 1e-3
_PRACTICE: Final = ("tripod", "by_hand", "focus", "night", "flash", "zoom", "bands")


def model_words() -> str:
    """Say what kind of model this is."""
    return say("light.model")


def adaptation_words() -> str:
    """Say how long eyes take to get used to the dark."""
    return say("light.adaptation")


def verdict_words(verdict: Verdict) -> str:
    """Give the verdict as a headline."""
    return say(f"light.seen.{_key(verdict.word)}")


def verdict_within(verdict: Verdict) -> str:
    """Give the verdict within a sentence."""
    return say(f"light.seen_within.{_key(verdict.word)}")


def factor_words(factor: float) -> str:
    """Say within what factor something stands; infinite where some inputs give no light at all."""
    if math.isinf(factor):
        return say("light.factor.none")
    if factor > _BEYOND:
        return say("light.factor.beyond", most=f"{_BEYOND:.0f}")
    written = format_quantity(max(factor, 1.1), "1", 2 if factor < 10 else 1)
    return say("light.factor.told", factor=written)


def times_words(number: float) -> str:
    """Write how many times: "140 times", "0.3 times"."""
    if number < _FAR_BELOW:
        return say("light.times.less", least=f"{_FAR_BELOW:g}")
    if number >= 1e4:
        return say("light.times.more")
    return say("light.times.told", number=_rounded(number))


def margin_words(verdict: Verdict) -> str:
    """Say how much there is of what is needed, and within what factor."""
    if verdict.margin < _FAR_BELOW:
        return say("light.margin.far_below")
    times, factor = times_words(verdict.margin), factor_words(verdict.factor)
    return say("light.margin.told", times=times, factor=factor)


def after_words(verdict: Verdict) -> str:
    """Say what comes of a change."""
    times, factor = times_words(verdict.margin), factor_words(verdict.factor)
    return say("light.after", verdict=verdict_within(verdict), times=times, factor=factor)


def luminance_words(stretch: Stretch) -> str:
    """Write a luminance with the factor within which it stands."""
    if stretch.value <= 0.0:
        return say("light.luminance.none")
    about = luminance(stretch.value)
    return say("light.luminance.about", luminance=about, factor=factor_words(stretch.factor))


def luminance(value: float) -> str:
    """Write a luminance with two figures."""
    return "0 cd/m²" if value < 1e-9 else f"{_rounded(value)} cd/m²"


def illuminance(value: float) -> str:
    """Write an illuminance with two figures."""
    return f"{_rounded(value)} lx"


def room_nearby(light: float) -> str:
    """Name the room that is nearest to an illuminance in lx, with its own.

    Examples
    --------
    >>> room_nearby(10.0)
    'a room with blinds down has about 20 lx'
    """
    name = nearest_room(light)
    return say(f"light.room.{_key(name)}", lux=f"{ROOMS[name][0]:g} lx")


def room_choices() -> dict[float, str]:
    """Give the rooms to choose from by their illuminance in lx."""
    return {
        usual: say(f"light.room_menu.{_key(name)}", lux=illuminance(usual))
        for name, (usual, _, _) in ROOMS.items()
    }


def trust_name(trust: Trust) -> str:
    """Give the name of an uncertain input."""
    return say(f"light.trust.{trust.key}.name")


def trust_why(trust: Trust) -> str:
    """Say where the factor of an uncertain input is from."""
    return say(f"light.trust.{trust.key}.why")


def why_words(found: Assessment, bench: Bench, scene: Scene) -> tuple[str, ...]:
    """Say what the verdict for the eye comes from, in a few sentences."""
    if found.is_dark:
        return (say("light.why.dark"),)
    is_spot = bench.plane.is_spot
    told = (
        say(
            "light.why.spot" if is_spot else "light.why.line",
            luminance=luminance_words(found.luminance),
            background=luminance_words(found.background),
            parts=_behind_words(found, is_gas(bench)),
        ),
        say(
            "light.why.needed_spot" if is_spot else "light.why.needed_line",
            away=format_quantity(scene.away, "m", 2),
            needed=luminance(found.needed.value),
            factor=factor_words(found.needed.factor),
            width=format_quantity(found.glow.width, "mm", 2),
            minutes=f"{math.degrees(found.angle) * 60.0:.2g}",
        ),
    )
    if is_spot:
        return told
    length = say(
        "light.why.length",
        share=_share_words(found.seen_share),
        faintest=luminance(found.faintest),
        brightest=luminance(found.brightest),
    )
    return (*told, length)


def limit_words(answer: LightAnswer) -> str:
    """Say up to which light of the room the trace is surely seen, or what comes of the dark."""
    if answer.brightest_room is None:
        return say("light.limit.none", dark=verdict_within(answer.in_the_dark))
    most, room = illuminance(answer.brightest_room), room_nearby(answer.brightest_room)
    return say("light.limit.told", most=most, room=room)


def nothing_to_change_words(answer: LightAnswer) -> str:
    """Say why no change is proposed."""
    if answer.found.eye.word != "surely":
        return say("light.nothing_to_change.helps")
    is_whole = answer.found.camera.word == "surely"
    return say(f"light.nothing_to_change.{'class' if is_whole else 'camera'}")


def scene_words(bench: Bench, scene: Scene) -> str:
    """Say in what a scene differs from the usual one; empty where in nothing."""
    usual, parts = Scene(), []
    named = scene.model_copy(
        update={
            "room": scene.room.model_copy(
                update={"illuminance": usual.room.illuminance, "hood": usual.room.hood}
            ),
            "gas": scene.gas.model_copy(update={"backdrop": usual.gas.backdrop}),
            "away": usual.away,
            "beam_current": usual.beam_current,
            "camera": usual.camera,
        }
    )
    if scene.room.illuminance != usual.room.illuminance:
        parts.append(say("light.scene.room", lux=illuminance(scene.room.illuminance)))
    if scene.room.hood != usual.room.hood:
        parts.append(say("light.scene.hood"))
    if scene.gas.backdrop != usual.gas.backdrop:
        parts.append(say("light.scene.backdrop"))
    if scene.away != usual.away:
        parts.append(say("light.scene.away", away=format_quantity(scene.away, "m", 2)))
    if scene.beam_current is not None:
        current = format_quantity(beam_current(bench, scene), "A", 2)
        parts.append(say("light.scene.current", current=current))
    if scene.camera != usual.camera:
        parts.append(say("light.scene.camera"))
    if named != usual:
        parts.append(say("light.scene.others"))
    return say("light.scene.changed", parts=listed(parts)) if parts else ""


def reason_words(answer: LightAnswer) -> str:
    """Say what stands in the way most; empty where the trace is surely seen, or is none at all."""
    against = obstacle(answer)
    dark = verdict_within(answer.in_the_dark)
    gas = is_gas(answer.bench)
    if against is None:
        return ""
    if against == "heater":
        return say("light.reason.heater_on_backdrop" if gas else "light.reason.heater_on_screen")
    if against == "too faint":
        return say("light.reason.too_faint", dark=dark)
    if against == "drowned":
        return _drowned_words(answer, gas, dark)
    return say(f"light.reason.{_key(against)}")


def _drowned_words(answer: LightAnswer, gas: bool, dark: str) -> str:
    found, scene = answer.found, answer.scene
    has, needs = found.contrast, found.needed.value / found.background.value
    if needs < 1.0:
        return say(
            "light.reason.drowned_on_backdrop" if gas else "light.reason.drowned_on_screen",
            has=_percent(has),
            needs=_percent(needs),
            dark=dark,
        )
    is_spot = answer.bench.plane.is_spot
    shape = "small_spot" if is_spot else "thin_line_on_backdrop" if gas else "thin_line_on_screen"
    return say(
        f"light.reason.{shape}",
        away=format_quantity(scene.away, "m", 2),
        needs=f"{1.0 + needs:.2g}",
        has=f"{1.0 + has:.2g}",
        dark=dark,
    )


def _behind_words(found: Assessment, gas: bool) -> str:
    behind = found.behind
    total = float(behind.total[0])
    if total <= 0.0:
        return say("light.behind.none")
    parts = (
        ("room_on_backdrop" if gas else "room_on_screen", behind.room),
        ("mirror", behind.mirror),
        ("heater", behind.heater),
    )
    return ", ".join(
        say(f"light.behind.{part}", percent=f"{round(100 * float(np.squeeze(value)) / total)} %")
        for part, value in parts
        if float(np.squeeze(value)) > 0.01 * total
    )


def _share_words(share: float) -> str:
    if share > 0.985:
        return say("light.share.all")
    if share < 0.005:
        return say("light.share.nothing")
    return say("light.share.about", percent=percent(share))


def camera_words(found: Assessment, camera: Camera) -> tuple[str, ...]:
    """Say what the camera makes of it."""
    if found.is_dark:
        return (say("light.camera.dark"),)
    exposed = say(
        "light.camera.exposure",
        exposure=exposure_words(camera),
        luminance=luminance(exposed_for(camera)),
        illuminance=illuminance(illuminance_exposed_for(camera)),
    )
    words = [f"{exposed} {say(f'light.limits.{_key(found.in_camera.reason)}')}"]
    if bool(found.in_camera.is_clipped[0]) and found.in_camera.reason != "background clipped":
        words.append(say("light.camera.burnt"))
    return tuple(words)


def exposure_advice(exposure: Camera, exposed: Assessment) -> str:
    """Say which exposure suits a trace, what comes of it, and what would help where that is no."""
    words = suitable_words(exposure, exposed)
    if exposed.camera.word == "surely":
        return words
    return f"{words} {remedy_words(exposed.in_camera.reason)}"


def suitable_words(exposure: Camera, exposed: Assessment) -> str:
    """Say which exposure suits a trace, and what comes of it."""
    then = verdict_within(exposed.camera)
    return say("light.camera.suits", exposure=exposure_words(exposure), verdict=then)


def remedy_words(reason: str) -> str:
    """Say what helps a camera, by what limits it."""
    return say(f"light.remedy.{_key(reason)}")


def practice_words() -> tuple[str, ...]:
    """Say what helps with any camera."""
    return tuple(say(f"light.practice.{each}") for each in _PRACTICE)


def flicker_words(scene: Scene) -> str:
    """Say whether the shutter suits the lamps."""
    frequency, shutter = scene.room.mains_frequency, scene.camera.shutter
    mains, time = f"{frequency:g}", shutter_text(shutter)
    if is_flicker_free(frequency, shutter):
        return say("light.flicker.none", time=time, mains=mains)
    left = flicker_left(scene.room.lamp_flicker, frequency, shutter)
    if left < 0.02:
        return say("light.flicker.little", time=time, mains=mains)
    near = shutter_text(max(1, round(2.0 * frequency * shutter)) / (2.0 * frequency))
    return say("light.flicker.bands", time=time, mains=mains, percent=percent(left), near=near)


def ripple_words(flicker: float) -> str:
    """Say how much the trace itself flickers on camera, by its share peak from mean."""
    if flicker < 0.005:
        return say("light.ripple.little")
    written = f"{100 * flicker:.1g} %"
    return say("light.ripple.much" if flicker > 0.05 else "light.ripple.some", percent=written)


def exposure_words(camera: Camera) -> str:
    """Write an exposure as photographers do."""
    return say(
        "light.exposure",
        iso=f"{camera.iso:.0f}",
        time=shutter_text(camera.shutter),
        aperture=f"{camera.aperture:g}",
        value=f"{exposure_value(camera):.1f}",
    )


def shutter_text(seconds: float) -> str:
    """Write an exposure time as photographers do: 1/50 s, or 0.5 s."""
    if seconds >= 0.3:
        return f"{seconds:.2g} s"
    return f"1/{1.0 / seconds:.0f} s"


def beam_words(bench: Bench, scene: Scene) -> str:
    """Say which beam was counted on."""
    return say(
        "light.beam.typical" if scene.beam_current is None else "light.beam.told",
        current=format_quantity(beam_current(bench, scene), "A", 2),
        share=f"{format_quantity(100 * beam_share(bench, scene), '1', 2)} %",
    )


def _percent(share: float) -> str:
    return say("light.percent.little") if share < 0.001 else f"{100.0 * share:.2g} %"


def _key(words: str) -> str:
    return words.replace(" ", "_")


def _rounded(number: float) -> str:
    return format_quantity(float(f"{number:.2g}"), "1", 2 if number < 10.0 else _digits(number))


def _digits(number: float) -> int:
    return max(2, math.floor(math.log10(number)) + 1)
