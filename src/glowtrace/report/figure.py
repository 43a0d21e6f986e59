"""The picture on the screen as a figure: glow, grid, the textbook's trace, and what made it.

The same picture gives the same bytes: no dates, no random names, no settings of the user's own.
"""

from __future__ import annotations

from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patheffects import withStroke
from matplotlib.ticker import MultipleLocator

from glowtrace.report.caption import caption_lines
from glowtrace.report.drawing import file_bytes
from glowtrace.report.figure_forces import draw_forces
from glowtrace.report.look import DARK, Look
from glowtrace.report.output import PICTURE_ENDINGS, require_ending, write_output
from glowtrace.report.shade import glow_colours, shade

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from glowtrace.bench.model import Bench
    from glowtrace.bench.picture import Picture
    from glowtrace.bench.screen_plane import ScreenPlane
    from glowtrace.demos.textbook import Textbook
    from glowtrace.explain.account import Account

MM = 1e3  # metres to the millimetres of the axes

# The layout, in inches.
_WIDEST, _NARROWEST, _TALLEST = 7.85, 5.6, 7.0  # of the screen; text needs the narrowest
_LEFT, _RIGHT = 0.80, 0.35
_EDGE, _NAME_LINE, _LEGEND, _BELOW, _LINE = 0.16, 0.30, 0.32, 0.74, 0.26
_PIXELS_PER_INCH = 200

_NAME_SIZE, _TEXT_SIZE = 13.5, 9.5  # points
_NAME_LETTERS_PER_INCH, _LETTERS_PER_INCH = 9.0, 14.4
_MOST_TICKS = 12

_DASHED: dict[str, Any] = {"linestyle": (0, (5, 6)), "linewidth": 1.0}
_RING: dict[str, Any] = {
    "linestyle": "", "marker": "o", "markersize": 9, "markerfacecolor": "none",
}  # fmt: skip


def save_picture(
    path: Path,
    picture: Picture,
    bench: Bench,
    textbook: Textbook | None = None,
    *,
    look: Look = DARK,
    account: Account | None = None,
) -> None:
    """Write the picture to a PNG, SVG or PDF file; the name's ending says which.

    Raises
    ------
    GlowtraceError
        The ending is another one, or the file cannot be written; an older file stays then.
    """
    kind = require_ending(path, PICTURE_ENDINGS).removeprefix(".")
    content = picture_bytes(picture, bench, textbook, kind=kind, look=look, account=account)
    write_output(path, content)


def picture_bytes(
    picture: Picture,
    bench: Bench,
    textbook: Textbook | None = None,
    *,
    kind: str = "png",
    look: Look = DARK,
    account: Account | None = None,
) -> bytes:
    """Give the picture as the content of a ``png``, ``svg`` or ``pdf`` file."""
    return file_bytes(
        lambda: draw_picture(picture, bench, textbook, look=look, account=account), kind, bench.name
    )


def draw_picture(
    picture: Picture,
    bench: Bench,
    textbook: Textbook | None = None,
    *,
    look: Look = DARK,
    account: Account | None = None,
) -> Figure:
    """Draw the gridded screen with the glowing trace, the dashed textbook trace and the caption.

    Parameters
    ----------
    picture
        What the forward model gave.
    bench
        The bench that it was made with.
    textbook
        The trace of the ideal closed form, drawn dashed; None leaves it out.
    look
        `DARK` for the dark room, `PRINT` for paper.
    account
        Forces along the trace, drawn as arrows; None leaves them out.
    """
    width, height = _screen_size(picture.extent)
    text_width = max(width, _NARROWEST)
    names = wrap(bench.name, int(text_width * _NAME_LETTERS_PER_INCH))
    lines = [
        part
        for line in caption_lines(picture, bench)
        for part in wrap(line, int(text_width * _LETTERS_PER_INCH))
    ]
    top = _EDGE + _NAME_LINE * len(names) + _LEGEND
    page = _LEFT + text_width + _RIGHT
    total = top + height + _BELOW + _LINE * len(lines) + _EDGE
    figure = Figure(figsize=(page, total), dpi=_PIXELS_PER_INCH, facecolor=look.ground)
    axes = figure.add_axes((_LEFT / page, 1 - (top + height) / total, width / page, height / total))
    plot_picture(axes, picture, look=look)
    keys = [] if textbook is None else [plot_textbook(axes, textbook, picture.plane, look=look)]
    if account is not None:
        keys += draw_forces(axes, account, picture, bench, look)
    _write_keys(axes, keys, look)
    for number, name in enumerate(names):
        _write(figure, _EDGE + _NAME_LINE * (number + 0.7), name, look.ink, size=_NAME_SIZE)
    for number, line in enumerate(lines):
        down = top + height + _BELOW + _LINE * (number + 0.5)
        _write(figure, down, line, look.ink if number == 0 else look.quiet)
    return figure


def _screen_size(extent: tuple[float, float, float, float]) -> tuple[float, float]:
    """Give width and height of the screen in inches: as large as fits, never distorted."""
    left, right, low, high = extent
    height = _WIDEST * (high - low) / (right - left)
    shrink = min(1.0, _TALLEST / height)
    return _WIDEST * shrink, height * shrink


def plot_trace(axes: Axes, picture: Picture, **style: Any) -> Line2D:
    """Draw the middle of the trace into axes of your own, in mm; ``style`` is the line's."""
    trace = picture.mean_trace
    (line,) = axes.plot(MM * trace.u, MM * trace.v, **style)
    return line


def plot_picture(axes: Axes, picture: Picture, *, look: Look = DARK) -> None:
    """Draw the gridded screen with the glow into axes of your own, in mm."""
    left, right, low, high = (MM * edge for edge in picture.extent)
    axes.set_facecolor(look.screen)
    pitch = MM * picture.plane.grid_pitch
    _rule(axes, pitch, max(right - left, high - low), look)
    shades = shade(picture.image)
    axes.imshow(
        shades,
        cmap=glow_colours(look, picture.plane),
        vmin=0.0,
        vmax=1.0,
        origin="lower",
        extent=(left, right, low, high),
        interpolation="bilinear",
        zorder=2,
    )
    if not shades.any():
        axes.text(
            0.5, 0.5, "no light", color=look.quiet, size=_TEXT_SIZE, ha="center", va="center",
            transform=axes.transAxes,
        )  # fmt: skip
    # An end face is looked at against the beam: z, towards the side audience, runs to the left.
    axes.set_xlim(*((right, left) if picture.plane.is_mirrored else (left, right)))
    axes.set_ylim(low, high)
    for axis, name in zip((axes.xaxis, axes.yaxis), picture.plane.axis_names, strict=True):
        axis.set_label_text(f"{name} / mm", color=look.quiet, size=_TEXT_SIZE)


def _rule(axes: Axes, pitch: float, longest: float, look: Look) -> None:
    """Draw the screen's own grid and number it, skipping numbers where they would crowd."""
    skip = next(n for n in (1, 2, 5, 10, 20, 50, 100, 1000) if longest / (n * pitch) <= _MOST_TICKS)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MultipleLocator(skip * pitch))
        if skip <= 10:
            axis.set_minor_locator(MultipleLocator(pitch))
    axes.grid(which="both", color=look.grid, linewidth=0.7, zorder=1)
    axes.set_axisbelow(True)
    axes.tick_params(which="both", colors=look.quiet, labelsize=_TEXT_SIZE - 0.5, length=0, pad=6)
    for spine in axes.spines.values():
        spine.set(color=look.frame, linewidth=0.8)


def plot_textbook(
    axes: Axes, textbook: Textbook, plane: ScreenPlane, *, look: Look = DARK
) -> Line2D:
    """Draw the textbook's trace dashed, in mm; on an end face only the spot where it arrives."""
    u, v, style = MM * textbook.u, MM * textbook.v, _DASHED
    if plane.is_spot:
        arrived = slice(-1, None) if textbook.end == "screen" else slice(0)
        u, v, style = u[arrived], v[arrived], _RING
    (line,) = axes.plot(
        u,
        v,
        color=look.textbook,
        path_effects=[withStroke(linewidth=2.3, foreground=look.halo)],
        zorder=3,
        label="textbook: uniform fields",
        **style,
    )
    return line


def _write_keys(axes: Axes, keys: list[Line2D], look: Look) -> None:
    """Say above the screen, at its right end, what the lines mean."""
    if keys:
        axes.legend(
            handles=keys, loc="lower right", bbox_to_anchor=(1.0, 1.005), borderaxespad=0.0,
            frameon=False, labelcolor=look.quiet, fontsize=_TEXT_SIZE, handlelength=3.2,
            ncols=len(keys), columnspacing=1.6,
        )  # fmt: skip


def _write(figure: Figure, down: float, text: str, colour: str, size: float = _TEXT_SIZE) -> None:
    """Write one line of text, `down` in inches from the upper edge."""
    width, height = figure.get_size_inches()
    figure.text(
        _LEFT / width, 1 - down / height, text, color=colour, size=size, va="center", ha="left",
        parse_math=False,
    )  # fmt: skip
