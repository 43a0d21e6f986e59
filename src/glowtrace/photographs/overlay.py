"""Drawing on a photograph: the predicted trace, the extracted points, the outline of the screen."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from glowtrace.bench.picture import Picture
from glowtrace.photographs.grid import ScreenMap
from glowtrace.photographs.light import outline
from glowtrace.photographs.photograph import Photograph
from glowtrace.photographs.trace_line import TraceLine

Array = NDArray[np.float64]

_LARGEST_STEP = 0.1
"""In diagonals of the screen: a longer step between rows of a picture is a jump, not a line."""


@dataclass(frozen=True)
class OverlayLook:
    """Colours (red, green, blue) of what is drawn."""

    predicted: tuple[int, int, int] = (255, 176, 64)
    extracted: tuple[int, int, int] = (255, 255, 255)
    by_hand: tuple[int, int, int] = (255, 120, 200)
    removed: tuple[int, int, int] = (130, 130, 130)
    screen: tuple[int, int, int] = (90, 120, 160)


class Places(Protocol):
    """Places along a trace in the picture plane."""

    @property
    def u(self) -> Array:
        """(m,) m."""

    @property
    def v(self) -> Array:
        """(m,) m."""


def predicted_polylines(predicted: Picture | Places, screen_map: ScreenMap) -> tuple[Array, ...]:
    """Give where the predicted trace lies in a photograph.

    Parameters
    ----------
    predicted
        A computed picture, of which the middle of the trace is taken, or a trace.
    screen_map
        Of the photograph.

    Returns
    -------
    tuple
        Polylines (m, 2) in pixels (column, row), cut at the edge of the screen; a picture on an
        end face gives one point, the middle of the spot.
    """
    trace = predicted.mean_trace if isinstance(predicted, Picture) else predicted
    places = np.column_stack([trace.u, trace.v])
    u0, v0, u1, v1 = screen_map.rectangle
    edge = 1e-9 + 1e-6 * (u1 - u0)
    u, v = places.T
    inside = (u >= u0 - edge) & (u <= u1 + edge) & (v >= v0 - edge) & (v <= v1 + edge)
    if len(places) == 0:
        return ()
    far = np.hypot(*np.diff(places, axis=0).T) > _LARGEST_STEP * np.hypot(u1 - u0, v1 - v0)
    run = np.cumsum(np.append(False, far | (inside[1:] != inside[:-1])))
    pieces = [places[(run == n) & inside] for n in np.unique(run[inside])]
    return tuple(screen_map.pixels(piece) for piece in pieces)


def overlay_png(
    photograph: Photograph,
    *,
    line: TraceLine | None = None,
    predicted: Sequence[Array] = (),
    screen_map: ScreenMap | None = None,
    look: OverlayLook | None = None,
) -> bytes:
    """Give a PNG of the photograph with what was found and predicted drawn over it."""
    from PIL import Image, ImageDraw

    colours = look or OverlayLook()
    image = Image.fromarray(photograph.pixels)
    draw = ImageDraw.Draw(image)
    thick = max(1, round(max(photograph.width, photograph.height) / 1200))
    if screen_map is not None:
        draw.line([*map(tuple, outline(screen_map))], fill=colours.screen, width=thick)
    for each in predicted:
        draw.line([*map(tuple, each)], fill=colours.predicted, width=thick)
    if line is not None:
        for n, (column, row) in enumerate(line.pixels):
            by_hand = line.source[n] != "extracted"
            colour = colours.by_hand if by_hand else colours.extracted
            size = 2.5 * thick
            box = column - size, row - size, column + size, row + size
            if line.is_removed[n]:
                draw.line(box, fill=colours.removed, width=thick)
                draw.line((box[0], box[3], box[2], box[1]), fill=colours.removed, width=thick)
            else:
                draw.ellipse(box, outline=colour, width=thick)
    file = io.BytesIO()
    image.save(file, "PNG")
    return file.getvalue()
