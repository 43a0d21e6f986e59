"""What a camera makes of a luminance: exposure, clipping, noise, and the flicker of lamps.

Exposure equation of reflected light: N^2 / t = L S / K (ISO 2720:1974 as quoted), with f-number N,
time t, luminance L, ISO speed S and K between 10.6 and 13.4, usually 12.5 cd s/(m² ISO); with
incident light N^2 / t = E S / C, C usually 250. Exposure value EV = log2(N^2 / t).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from glowtrace.light.scene import Camera

Array = NDArray[np.float64]

K_REFLECTED: Final = 12.5
C_INCIDENT: Final = 250.0
CLIPS_AT: Final = 78.0 / 0.65 / K_REFLECTED
"""Luminance at which a pixel is full over the one that the exposure is for: 78 lx s for
saturation and 0.65 for the lens, both of ISO 12232, from memory."""
DETECTION: Final = 5.0
"""Times the noise that a signal must have to be told from it (Rose's criterion, from memory)."""
_PATCH: Final = 3.0
"""A watching eye adds up the noise of a piece of line this many times as long as it is wide."""
_LEAST_CONTRAST: Final = 0.05
"""Share of the background by which the trace must be brighter to be seen in the finished picture
(common practice, no source)."""
_LEAST_TONE: Final = 0.004
"""Share of full scale below which a screen shows black (from memory)."""

_NO_LIGHT: Final = 1e-12
"""cd/m²: stands for none, so that ratios stay numbers."""

Reason = Literal["noise", "too dark", "too little contrast", "background clipped"]


def exposure_value(camera: Camera) -> float:
    """EV = log2(N^2 / t), for ISO 100 by custom; here of the settings whatever the ISO."""
    return math.log2(camera.aperture**2 / camera.shutter)


def exposed_for(camera: Camera) -> float:
    """Luminance in cd/m² that the settings bring to the middle of the scale: L = K N^2 / (t S)."""
    return K_REFLECTED * camera.aperture**2 / (camera.shutter * camera.iso)


def illuminance_exposed_for(camera: Camera) -> float:
    """Illuminance in lx that the settings suit by an incident-light meter: C N^2 / (t S)."""
    return C_INCIDENT * camera.aperture**2 / (camera.shutter * camera.iso)


def clips_at(camera: Camera) -> float:
    """Luminance in cd/m² that fills a pixel."""
    return CLIPS_AT * exposed_for(camera)


def flicker_left(depth: float, mains_frequency: float, shutter: float) -> float:
    """Share by which pictures differ in brightness under lamps that flicker, peak from the mean.

    Lamps swing at twice the mains frequency; averaged over the shutter's time a sine of depth m
    leaves m |sin(x) / x| with x = pi 2 f t. It is none for whole multiples of half a period.
    """
    return depth * abs(float(np.sinc(2.0 * mains_frequency * shutter)))


def is_flicker_free(mains_frequency: float, shutter: float) -> bool:
    """Say whether the time is a whole multiple of the lamps' period, within 5 % of a period."""
    periods = 2.0 * mains_frequency * shutter
    return periods > 0.95 and abs(periods - round(periods)) < 0.05


@dataclass(frozen=True)
class CameraMargins:
    """How much more than needed the camera gets of a trace, by each need; arrays of one or many.

    Attributes
    ----------
    noise
        Signal over what stands out from the noise.
    tone
        Over what a screen shows as not black.
    contrast
        Over what differs from the background.
    background
        Full scale over the background: below 1 it is burnt out, and the trace with it.
    is_clipped
        Whether trace and background together fill the pixel: seen, but without shades.
    """

    noise: Array
    tone: Array
    contrast: Array
    background: Array
    is_clipped: Array

    @property
    def least(self) -> Array:
        """The smallest of them, which decides; 0 where the background is burnt out."""
        smallest = np.minimum(np.minimum(self.noise, self.tone), self.contrast)
        return np.where(self.background > 1.0, smallest, 0.0)

    @property
    def reason(self) -> Reason:
        """What limits most, at the middle of all inputs."""
        if float(np.median(self.background)) <= 1.0:
            return "background clipped"
        middle: dict[Reason, float] = {
            "noise": float(np.median(self.noise)),
            "too dark": float(np.median(self.tone)),
            "too little contrast": float(np.median(self.contrast)),
        }
        return min(middle, key=lambda reason: middle[reason])


def camera_margins(
    camera: Camera, trace: Array, background: Array, width: float, full_well: Array
) -> CameraMargins:
    """Judge a line of some luminance in a camera's picture.

    Parameters
    ----------
    camera
        With its exposure.
    trace, background
        Luminances in cd/m².
    width
        Of the line, m.
    full_well
        Electrons of a full pixel at ISO 100.
    """
    full = clips_at(camera)
    capacity = full_well * 100.0 / camera.iso  # electrons at full scale
    total = np.minimum((trace + background) / full, 1.0)
    behind = np.minimum(background / full, 1.0)
    signal = (total - behind) * capacity
    noise = np.sqrt(total * capacity + camera.read_noise**2)
    pixel = 2.0 * camera.away * math.tan(camera.field_of_view / 2.0) / camera.pixels  # m
    across = width / pixel
    # A line thinner than a pixel fills a part of it only; a broad one is averaged over its pixels.
    signal = signal * min(across, 1.0)
    averaged = math.sqrt(max(across, 1.0) * max(across, 1.0) * _PATCH)
    shown = trace / full * min(across, 1.0)
    behind_it = np.maximum(background, _NO_LIGHT)
    return CameraMargins(
        signal * averaged / (DETECTION * noise),
        shown / _LEAST_TONE,
        np.asarray(trace * min(across, 1.0) / (_LEAST_CONTRAST * behind_it)),
        np.asarray(full / behind_it),
        np.asarray(trace + background > full),
    )
