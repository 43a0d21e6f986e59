"""The predicted picture of a shot with the frame of the film drawn round it, for paper."""

from __future__ import annotations

from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.report.sheet_picture import SheetPicture
from glowtrace.shots.framing import Box

WIDEST, TALLEST = 58.0, 36.0
"""mm on paper."""
_ROUND = 0.03
"""Part of the frame that is left free around it."""


def framed(picture: SheetPicture, plane: ScreenPlane, frame: Box, words: str) -> SheetPicture:
    """Give a screen's drawing with a frame, which may reach beyond the screen.

    Parameters
    ----------
    picture
        As `glowtrace.report.sheet_picture.draw_sheet_picture` draws the screen.
    plane
        The screen's plane.
    frame
        What the film's picture takes in.
    words
        The drawing in words.
    """
    u0, u1, _, v1 = plane.extent
    scale = picture.width_mm / (u1 - u0)
    left = (u1 - frame.u1 if plane.is_mirrored else frame.u0 - u0) * scale
    top, width, height = (v1 - frame.v1) * scale, frame.width * scale, frame.height * scale
    free = _ROUND * width
    x0, y0 = min(left, 0.0) - free, min(top, 0.0) - free
    x1 = max(left + width, picture.width_mm) + free
    y1 = max(top + height, picture.height_mm) + free
    shrunk = min(WIDEST / (x1 - x0), TALLEST / (y1 - y0))
    line, corner = 0.35 / shrunk, min(width, height) / 6
    marks = "".join(
        f'<path d="M{x + dx * corner:.2f} {y:.2f} H{x:.2f} V{y + dy * corner:.2f}" '
        f'stroke-width="{3 * line:.2f}"/>'
        for x, dx in ((left, 1), (left + width, -1))
        for y, dy in ((top, 1), (top + height, -1))
    )
    size = (round(shrunk * (x1 - x0), 2), round(shrunk * (y1 - y0), 2))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}mm" height="{size[1]}mm" '
        f'viewBox="{x0:.2f} {y0:.2f} {x1 - x0:.2f} {y1 - y0:.2f}">'
        f'<rect x="{x0:.2f}" y="{y0:.2f}" width="{x1 - x0:.2f}" height="{y1 - y0:.2f}" '
        'fill="#ffffff"/>'
        f"{_without_unit(picture)}"
        f'<g fill="none" stroke="#000000"><rect x="{left:.2f}" y="{top:.2f}" '
        f'width="{width:.2f}" height="{height:.2f}" stroke-width="{line:.2f}" '
        f'stroke-dasharray="{4 * line:.2f} {3 * line:.2f}"/>{marks}</g></svg>'
    )
    return SheetPicture(svg, *size, words)


def _without_unit(picture: SheetPicture) -> str:
    """Give the drawing so that its mm are the units of the one that it stands in."""
    head, rest = picture.svg.split(">", 1)
    return head.replace('mm"', '"') + ">" + rest
