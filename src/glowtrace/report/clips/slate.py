"""A frame of a clip to draw on: images, lines, arrows and letters, all with smooth edges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Any, Literal

import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.transforms import Affine2D, Bbox
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
Points = NDArray[np.float64]
Side = Literal["left", "middle", "right"]
Head = Literal["filled", "open"]
_POINTS_PER_INCH = 72  # so that a size in points is a size in pixels


class Slate:
    """An image of a given size; x runs to the right and y downwards, in pixels.

    Parameters
    ----------
    width, height
        In pixels.
    """

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self._renderer: Any = RendererAgg(width, height, _POINTS_PER_INCH)  # type: ignore[no-untyped-call]
        self._flip = Affine2D().scale(1, -1).translate(0, height)
        self._clip: Bbox | None = None

    def clip_to(self, rectangle: tuple[float, float, float, float] | None) -> None:
        """Let lines appear only within (left, top, right, bottom); None ends this."""
        if rectangle is None:
            self._clip = None
            return
        left, top, right, bottom = rectangle
        self._clip = Bbox.from_extents(left, self.height - bottom, right, self.height - top)

    def begin_with(self, pixels: Pixels) -> None:
        """Put an image of the whole size (height, width, 4) down before all else."""
        np.copyto(self.pixels(), pixels)

    def image(self, pixels: Pixels, left: int = 0, top: int = 0) -> None:
        """Put an image (h, w, 4) down, its corner at `left`, `top`."""
        place = self.height - top - pixels.shape[0]
        self._renderer.draw_image(self._pen("#000000", 1.0), left, place, pixels[::-1])

    def line(
        self,
        points: Points,
        colour: str,
        width: float,
        *,
        dashes: Sequence[float] = (),
        alpha: float = 1.0,
    ) -> None:
        """Draw a line through points (n, 2)."""
        if len(points) < 2:
            return
        pen = self._pen(colour, width, alpha)
        if dashes:
            pen.set_dashes(0, list(dashes))
        self._renderer.draw_path(pen, Path(points), self._flip, None)

    def shape(self, corners: Points, colour: str, *, outline: str | None = None,
              width: float = 1.0, alpha: float = 1.0) -> None:  # fmt: skip
        """Fill a closed shape with corners (n, 2), and draw its outline where one is wanted."""
        pen = self._pen(outline or colour, width if outline else 0.0, alpha)
        path = Path(np.vstack([corners, corners[:1]]), closed=True)
        self._renderer.draw_path(pen, path, self._flip, (*to_rgb(colour), alpha))

    def dot(self, x: float, y: float, radius: float, colour: str, *, outline: str | None = None,
            width: float = 1.0) -> None:  # fmt: skip
        """Draw a filled circle."""
        turn = np.linspace(0.0, 2 * math.pi, 48, endpoint=False)
        corners = np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)
        self.shape(corners, colour, outline=outline, width=width)

    def arrow(
        self, start: Points, end: Points, colour: str, width: float, *, head: Head = "filled",
        ground: str = "#000000",
    ) -> None:  # fmt: skip
        """Draw an arrow; an open head and a hollow shaft tell a second kind apart."""
        along = end - start
        length = float(np.hypot(*along))
        if length < width:
            return
        unit = along / length
        across = np.array([-unit[1], unit[0]])
        size = min(4.6 * width, 0.6 * length)
        neck = end - size * unit
        shaft = [start - width / 2 * across, neck - width / 2 * across]
        back = [neck + width / 2 * across, start + width / 2 * across]
        wings = [neck - 0.62 * size * across, end, neck + 0.62 * size * across]
        outline = np.array([*shaft, *wings, *back])
        if head == "filled":
            self.shape(outline, colour, outline=ground, width=max(1.0, width / 4))
        else:
            self.shape(outline, ground, outline=colour, width=max(1.5, width / 2.6))

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        colour: str,
        *,
        side: Side = "left",
        bold: bool = False,
    ) -> None:
        """Write a line of text, its middle height at y; `side` says which of its ends is at x."""
        font = _font(size, bold)
        _, height, descent = self._renderer.get_text_width_height_descent("Hg", font, False)
        if side != "left":
            wide = self.text_width(text, size, bold=bold)
            x -= wide if side == "right" else wide / 2
        base = y + (height - descent) / 2 - descent / 4
        self._renderer.draw_text(self._pen(colour, 1.0), x, base, text, font, 0.0)

    def text_width(self, text: str, size: float, *, bold: bool = False) -> float:
        """Width in pixels of a line of text."""
        width, _, _ = self._renderer.get_text_width_height_descent(text, _font(size, bold), False)
        return float(width)

    def pixels(self) -> Pixels:
        """Give what has been drawn (h, w, 4), red to alpha."""
        return np.asarray(self._renderer.buffer_rgba())

    def _pen(self, colour: str, width: float, alpha: float = 1.0) -> Any:
        pen = self._renderer.new_gc()
        pen.set_foreground(colour)
        pen.set_linewidth(width)
        pen.set_alpha(alpha)
        pen.set_antialiased(True)
        pen.set_joinstyle("round")
        if self._clip is not None:
            pen.set_clip_rectangle(self._clip)
        return pen


@cache
def _font(size: float, bold: bool) -> FontProperties:
    return FontProperties(family="DejaVu Sans", size=size, weight="bold" if bold else "normal")
