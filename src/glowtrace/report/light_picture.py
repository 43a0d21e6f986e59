"""A trace in the light of its room as a picture file: rendered finely, with the lines on top."""

from __future__ import annotations

import io
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image as Pillow
from scipy.ndimage import zoom

from glowtrace.bench.model import Bench
from glowtrace.light.glow import Glow
from glowtrace.light.rendering import Colour, Light, as_by_camera, as_in_room, in_the_dark
from glowtrace.light.scene import Camera
from glowtrace.report.look import DARK

Seen = Literal["dark", "room", "camera"]
"""The trace alone in full darkness; as the last row sees it; as the camera takes it."""
_FINER: Final = 3
_PRINTED: Final = 0.45
"""Share of the light that a printed line throws back, relative to the screen."""
_LINE: Final = 3.5e-4
"""Breadth in m of a printed line."""


def light_picture(
    bench: Bench,
    glow: Glow,
    light: Light,
    camera: Camera,
    seen: Seen,
    *,
    kind: Literal["png", "jpeg"] = "png",
) -> bytes:
    """Give the picture as the content of a file, as the audience sees the screen.

    Parameters
    ----------
    bench, glow
        The bench and its trace.
    light
        Its luminances, from `glowtrace.light.rendering.light_of`.
    camera
        For the picture that a camera takes.
    seen
        See `Seen`.
    kind
        "png", which keeps every shade, or "jpeg", which is small with the noise of a camera too.
    """
    fine = light._replace(trace=np.maximum(zoom(light.trace, _FINER, order=1), 0.0))
    colour = glow_colour(bench)
    u0, u1, _, _ = glow.extent
    pixel = (u1 - u0) / fine.trace.shape[1]
    if seen == "dark":
        image = in_the_dark(fine, colour)
    elif seen == "room":
        image = as_in_room(fine, colour, _printed_lines(bench, glow, fine.trace.shape))
    else:
        lines = _printed_lines(bench, glow, fine.trace.shape)
        image = as_by_camera(fine, camera, colour, lines, pixel)
    upright = image[::-1]
    # The audience looks at an end face from outside, against the beam.
    shown = upright[:, ::-1] if bench.plane.is_spot else upright
    written = io.BytesIO()
    fidelity = {"quality": 92, "subsampling": 0} if kind == "jpeg" else {}
    Pillow.fromarray(np.ascontiguousarray(shown)).save(written, kind, **fidelity)
    return written.getvalue()


def glow_colour(bench: Bench) -> Colour:
    """Give the colour of the bench's glow, that of all other pictures."""
    colours = DARK.gas if bench.plane.glows else DARK.phosphor
    text = colours[3]
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def _printed_lines(bench: Bench, glow: Glow, shape: tuple[int, ...]) -> NDArray[np.float64]:
    """Give the share of light thrown back at each place; a bulb has no lines in its gas."""
    shares = np.ones(shape)
    if bench.plane.glows:
        return shares
    u0, u1, v0, v1 = glow.extent
    pitch = bench.screen.grid_pitch
    for axis, (low, high) in ((1, (u0, u1)), (0, (v0, v1))):
        count = shape[axis]
        places = low + (np.arange(count) + 0.5) * (high - low) / count
        off = np.abs(places - pitch * np.round(places / pitch))
        breadth = max(_LINE, (high - low) / count)
        line = np.where(off <= breadth / 2, _PRINTED, 1.0)
        shares = np.minimum(shares, line[None, :] if axis == 1 else line[:, None])
    return shares
