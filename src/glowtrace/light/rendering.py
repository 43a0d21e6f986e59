"""Pictures of the trace as an eye in this room, or a camera, would have it: 8-bit RGB arrays.

They are renderings for a screen, which cannot be as dark as a dark room nor as bright as a bright
one: the response of the eye is pressed into its range (the saturating form of Naka and Rushton,
from memory), and what lies below the eye's threshold fades out.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.light.assessment import needed_by_eye
from glowtrace.light.exposure import clips_at
from glowtrace.light.eye import EASE
from glowtrace.light.glow import Glow, plain_glow
from glowtrace.light.luminance import backgrounds, trace_luminance
from glowtrace.light.scene import Camera, Scene
from glowtrace.light.trust import MIDDLE

Array = NDArray[np.float64]
Image = NDArray[np.uint8]
Colour = tuple[int, int, int]

ROOM_COLOUR: Final = (1.0, 0.93, 0.82)
"""Of the room's light on screen and walls, as linear shares."""
_ONSETS: Final = (3.0, 1.0, 30.0)
"""The eye's response is half at so many times the luminance that it is adapted to: in dim light,
in bright light, and the luminance in cd/m² halfway between; so a bright room looks bright."""
_DARK_ONSET: Final = 0.3
"""cd/m²: the same in full darkness."""
_DAZZLE: Final = 0.05
"""Part of the brightest place that the eye adapts to as well."""
_COLOURS_FROM: Final = 0.05
"""cd/m² from where on colours are seen."""
_LUMA: Final = np.array([0.2126, 0.7152, 0.0722])
"""Shares of the primaries of sRGB in luminance (IEC 61966-2-1)."""
_SEED: Final = 7


class Light(NamedTuple):
    """Luminances in cd/m² at the middle of all inputs, and what the eye does with them."""

    trace: Array
    """(v, u) rows upwards."""
    behind: float
    adapted: float
    """Luminance that the eye is adapted to."""
    threshold: float
    """By which a bright line must stand out to be seen at all from the last row."""


def light_of(bench: Bench, settings: Settings, scene: Scene, glow: Glow) -> Light:
    """Give the luminances of a trace in a scene, for the renderings."""
    behind = backgrounds(bench, settings, scene, glow)
    return Light(
        trace_luminance(bench, scene, glow, glow.density),
        float(behind.total[0]),
        float(behind.adapted_to[0]),
        float(needed_by_eye(scene, glow, behind, MIDDLE)[0]) / EASE,
    )


def in_the_dark(light: Light, colour: Colour) -> Image:
    """Render the trace alone, as bright as the screen can, whatever its luminance.

    Returns
    -------
    numpy.ndarray
        (v, u, 3), rows upwards as the light itself.
    """
    brightest = max(float(light.trace.max(initial=0.0)), 1e-12)
    response = light.trace / (light.trace + 0.3 * brightest) * 1.3
    return _coloured(np.zeros_like(response), response, colour, 1.0)


def as_in_room(light: Light, colour: Colour, printed: Array | float = 1.0) -> Image:
    """Render the trace as an eye in the last row sees it, adapted to this room.

    Parameters
    ----------
    light
        From `light_of`.
    colour
        Of the trace, sRGB.
    printed
        Share of the room's light that is thrown back at each place, for lines printed on the
        screen.

    Returns
    -------
    numpy.ndarray
        (v, u, 3), rows upwards.
    """
    onset = _onset(light.adapted, float(light.trace.max(initial=0.0)))
    behind = light.behind * np.asarray(printed) * np.ones_like(light.trace)
    # Half of it is left at the threshold of an observer; far above, all.
    with np.errstate(divide="ignore"):
        seen = light.trace / (1.0 + (light.threshold / np.maximum(light.trace, 1e-12)) ** 3)
    ground = behind / (behind + onset)
    total = (behind + seen) / (behind + seen + onset)
    colours = float(seen.max(initial=0.0)) / (float(seen.max(initial=0.0)) + _COLOURS_FROM)
    return _coloured(ground, total, colour, colours)


class RoomLook(NamedTuple):
    """The same rendering as a rule, for a page that draws many pictures a second.

    A place of density D (as `Glow.density`) has the colour ground + share D / (D + half) times
    the colour of the trace.
    """

    ground: tuple[float, float, float]
    """Linear shares of full scale."""
    share: float
    half: float


def room_look(bench: Bench, settings: Settings, scene: Scene, density: float) -> RoomLook:
    """Give the look of a bench's trace in a scene, before it is flown.

    Parameters
    ----------
    bench, settings, scene
        As for `light_of`.
    density
        What a trace of this bench usually has, as `Glow.density`: sets what dazzles, and whether
        the trace is above the threshold.
    """
    glow = plain_glow(bench, settings, density)
    light = light_of(bench, settings, scene, glow)
    usual = float(light.trace.max())
    onset = _onset(light.adapted, usual)
    total = light.behind + onset
    level = light.behind / total
    ground = (level * ROOM_COLOUR[0], level * ROOM_COLOUR[1], level * ROOM_COLOUR[2])
    if usual <= 0.0:
        return RoomLook(ground, 0.0, density)
    seen = 1.0 / (1.0 + (light.threshold / usual) ** 3)
    return RoomLook(ground, seen * onset / total, total / usual * density)


def _onset(adapted: float, brightest: float) -> float:
    """Luminance in cd/m² at which the eye's response is half."""
    dim, bright, halfway = _ONSETS
    times = bright + (dim - bright) / (1.0 + adapted / halfway)
    return times * adapted + _DARK_ONSET + _DAZZLE * brightest


def as_by_camera(
    light: Light, camera: Camera, colour: Colour, printed: Array | float = 1.0, pixel: float = 3e-4
) -> Image:
    """Render the picture that a camera takes with its settings: clipped, noisy, in sRGB.

    Parameters
    ----------
    light, colour, printed
        As for `as_in_room`.
    camera
        With its exposure.
    pixel
        Edge of a pixel of this rendering on the screen, m: decides how much noise it averages.
    """
    full = clips_at(camera)
    hue = _linear(colour)
    hue = hue / (hue @ _LUMA)
    warm = np.array(ROOM_COLOUR) / (np.array(ROOM_COLOUR) @ _LUMA)
    behind = light.behind * np.asarray(printed) * np.ones_like(light.trace)
    exposed = (light.trace[..., None] * hue + behind[..., None] * warm) / full
    seen = 2.0 * camera.away * np.tan(camera.field_of_view / 2.0) / camera.pixels
    capacity = camera.full_well * 100.0 / camera.iso * max(1.0, (pixel / seen) ** 2)
    grain = np.random.default_rng(_SEED).standard_normal(exposed.shape)
    noise = np.sqrt(np.maximum(exposed, 0.0) / capacity + (camera.read_noise / capacity) ** 2)
    return _bytes(_encoded(np.clip(exposed + noise * grain, 0.0, 1.0)))


def _coloured(ground: Array, total: Array, colour: Colour, colours: float) -> Image:
    """Put the response of the eye on screen: ground in the room's colour, trace in its own."""
    trace = np.array(colour) / 255.0
    trace = colours * trace + (1.0 - colours) * (trace @ _LUMA) * np.ones(3)
    rise = np.clip(total - ground, 0.0, None)[..., None]
    core = np.clip(rise - 0.75, 0.0, None) / 0.25  # the brightest is white to the eye
    shown = ground[..., None] * np.array(ROOM_COLOUR) + rise * (trace + 0.6 * core * (1.0 - trace))
    return _bytes(shown)


def _linear(colour: Colour) -> Array:
    value = np.array(colour) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encoded(linear: Array) -> Array:
    """Encode linear shares as sRGB (IEC 61966-2-1)."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)


def _bytes(shown: Array) -> Image:
    return (np.clip(shown, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
