"""A map of what happens for two knobs, as a figure: each region with its fill and its label.

Colour, hatching and labels say the same, so that none of them is needed to read the map. The same
map gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from glowtrace.bench.ratings import KNOBS
from glowtrace.report.caption import SEPARATOR, words_by_setting
from glowtrace.report.drawing import file_bytes
from glowtrace.report.look import DARK, Look
from glowtrace.report.outcome_fills import fill_of
from glowtrace.report.output import PICTURE_ENDINGS, require_ending, write_output
from glowtrace.words.bench import invented_words, knob_name, model_caption

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from glowtrace.bench.model import Bench
    from glowtrace.plan import OutcomeMap, RatingLine

# The layout, in inches.
_WIDTH, _HEIGHT = 5.6, 4.5  # of the map
_LEFT, _GAP, _LEGEND, _EDGE = 0.85, 0.45, 2.35, 0.18
_NAME_LINE, _BELOW, _LINE = 0.42, 0.65, 0.26
_PAGE = _LEFT + _WIDTH + _GAP + _LEGEND
_PIXELS_PER_INCH = 200

_NAME_SIZE, _TEXT_SIZE, _RATING_SIZE = 13.5, 9.5, 8.5  # points
_LETTERS_PER_INCH = 14.4
_LETTER, _HALF_LINE = 0.08, 0.11  # inches that a label takes
_MARGIN = 0.06
_BESIDE = 0.13  # from a rating's line to the middle of its words
_CLEAR = 0.25  # from a rating's line to a label


def save_outcome_map(path: Path, outcome: OutcomeMap, bench: Bench, *, look: Look = DARK) -> None:
    """Write a map to a PNG or SVG file; the name's ending says which.

    Raises
    ------
    GlowtraceError
        The ending is another one, or the file cannot be written; an older file stays then.
    """
    kind = require_ending(path, PICTURE_ENDINGS).removeprefix(".")
    write_output(path, outcome_map_bytes(outcome, bench, kind=kind, look=look))


def outcome_map_bytes(
    outcome: OutcomeMap, bench: Bench, *, kind: str = "png", look: Look = DARK
) -> bytes:
    """Give a map as the content of a ``png`` or ``svg`` file."""
    hatches = {"hatch.color": _edge(look), "hatch.linewidth": 0.6}
    draw = partial(draw_outcome_map, outcome, bench, look=look)
    return file_bytes(draw, kind, bench.name, hatches)


def draw_outcome_map(outcome: OutcomeMap, bench: Bench, *, look: Look = DARK) -> Figure:
    """Draw the regions with their labels, the ratings as lines, a legend and the settings.

    Parameters
    ----------
    outcome
        The map; rows that are not computed stay empty.
    bench
        The bench that it was made with.
    look
        `DARK` for the dark room, `PRINT` for paper.
    """
    lines = [
        part
        for line in _caption(outcome, bench)
        for part in wrap(line, int((_PAGE - _LEFT - _EDGE) * _LETTERS_PER_INCH))
    ]
    top = _EDGE + _NAME_LINE
    total = top + _HEIGHT + _BELOW + _LINE * len(lines) + _EDGE
    figure = Figure(figsize=(_PAGE, total), dpi=_PIXELS_PER_INCH, facecolor=look.ground)
    axes = figure.add_axes(
        (_LEFT / _PAGE, 1 - (top + _HEIGHT) / total, _WIDTH / _PAGE, _HEIGHT / total)
    )
    _draw_regions(axes, outcome, look)
    _draw_axes(axes, outcome, look)
    for rating in outcome.ratings:
        _draw_rating(axes, rating, outcome, look)
    _draw_legend(axes, outcome, look)
    _write(figure, _EDGE + 0.5 * _NAME_LINE, bench.name, look.ink, _NAME_SIZE)
    for number, line in enumerate(lines):
        down = top + _HEIGHT + _BELOW + _LINE * (number + 0.5)
        _write(figure, down, line, look.ink if number == 0 else look.quiet, _TEXT_SIZE)
    return figure


def _edge(look: Look) -> str:
    """Give the colour of hatching and of the lines between regions: dark on either ground."""
    return look.ground if look is DARK else look.quiet


def _caption(outcome: OutcomeMap, bench: Bench) -> Iterator[str]:
    """Tell the settings beside the map, the field model and what is missing."""
    places = {outcome.knob_x: "on the x axis", outcome.knob_y: "on the y axis"}
    settings = outcome.settings.model_copy(update=dict.fromkeys(places, 0.0))
    words = words_by_setting(settings, bench)
    for knob, place in places.items():
        if knob in words:
            words[knob] = words[knob].replace(f"0 {KNOBS[knob]}", place, 1)
    yield SEPARATOR.join(words.values())
    yield model_caption(outcome.model)
    for rating in outcome.ratings:
        if rating.start[0] != rating.end[0] and rating.start[1] != rating.end[1]:
            yield f"slanted line: {rating.text}"
    if not outcome.is_complete:
        yield "Broken off before it was complete."
    if bench.invented:
        yield invented_words()


def _draw_regions(axes: Axes, outcome: OutcomeMap, look: Look) -> None:
    fills = [fill_of(label, look) for label in outcome.labels]
    codes = np.ma.masked_less(outcome.codes, 0)
    axes.set_facecolor(look.screen)
    axes.imshow(
        codes,
        cmap=ListedColormap([fill.colour for fill in fills]),
        vmin=-0.5,
        vmax=len(fills) - 0.5,
        origin="lower",
        extent=_extent(outcome),
        interpolation="nearest",
        aspect="auto",
        zorder=1,
    )
    free = _free_of_ratings(outcome)
    for code, (label, fill) in enumerate(zip(outcome.labels, fills, strict=True)):
        mask = outcome.codes == code
        if not mask.any():
            continue
        if fill.hatch:
            axes.contourf(
                outcome.x, outcome.y, mask.astype(float), levels=[0.5, 1.5],
                colors="none", hatches=[fill.hatch], zorder=2,
            )  # fmt: skip
        axes.contour(
            outcome.x, outcome.y, mask.astype(float), levels=[0.5],
            colors=[_edge(look)], linewidths=0.8, zorder=3,
        )  # fmt: skip
        place = _room_for(label, mask & free)
        if place is not None:
            row, column = place
            axes.text(
                outcome.x[column], outcome.y[row], label, color=look.ink, size=_TEXT_SIZE,
                ha="center", va="center", zorder=5,
                bbox=_plate(look),
            )  # fmt: skip


def _plate(look: Look) -> dict[str, Any]:
    """Give the ground behind a label, so that hatching does not run through its letters."""
    return {
        "boxstyle": "round,pad=0.15",
        "facecolor": look.ground,
        "edgecolor": "none",
        "alpha": 0.85,
    }


def _free_of_ratings(outcome: OutcomeMap) -> NDArray[np.bool_]:
    """Tell where a label is clear of the words at the ratings' lines, and of the map's edges."""
    across = np.linspace(0.0, _WIDTH, len(outcome.x))[None, :]
    up = np.linspace(0.0, _HEIGHT, len(outcome.y))[:, None]
    near = (
        np.minimum(np.minimum(across, _WIDTH - across), np.minimum(up, _HEIGHT - up)) < _CLEAR / 2
    )
    for rating in outcome.ratings:
        (x0, y0), (x1, y1) = rating.start, rating.end
        if x0 == x1:
            near = near | (np.abs(across - np.interp(x0, outcome.x, across[0])) < _CLEAR)
        elif y0 == y1:
            near = near | (np.abs(up - np.interp(y0, outcome.y, up[:, 0])) < _CLEAR)
    return np.asarray(~near)


def _room_for(label: str, mask: NDArray[np.bool_]) -> tuple[int, int] | None:
    """Give row and column of the place in a region that is furthest from its edge, if it fits."""
    rows, columns = mask.shape
    high, wide = _HEIGHT / rows, _WIDTH / columns
    half = 0.5 * _LETTER * len(label) + _MARGIN
    # A label is wider than high: shrink the map by that, and ask for a circle.
    squeeze = half / _HALF_LINE
    away = distance_transform_edt(np.pad(mask, 1), sampling=(high, wide / squeeze))[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(away)), mask.shape)
    return (int(row), int(column)) if away[row, column] >= _HALF_LINE else None


def _extent(outcome: OutcomeMap) -> tuple[float, float, float, float]:
    """Give the edges of the map's outermost cells."""
    edges = []
    for along in (outcome.x, outcome.y):
        half = (along[1] - along[0]) / 2
        edges += [float(along[0] - half), float(along[-1] + half)]
    return edges[0], edges[1], edges[2], edges[3]


def _draw_axes(axes: Axes, outcome: OutcomeMap, look: Look) -> None:
    axes.set_xlim(outcome.x[0], outcome.x[-1])
    axes.set_ylim(outcome.y[0], outcome.y[-1])
    for axis, knob, along in (
        (axes.xaxis, outcome.knob_x, outcome.x),
        (axes.yaxis, outcome.knob_y, outcome.y),
    ):
        factor, unit = _handy_unit(float(along[-1]), KNOBS[knob])
        axis.set_major_locator(MaxNLocator(8, steps=[1, 2, 2.5, 5, 10]))
        axis.set_major_formatter(FuncFormatter(lambda value, _, by=factor: f"{value * by:g}"))
        label = f"{knob_name(knob)} / {unit}"
        axis.set_label_text(label, color=look.quiet, size=_TEXT_SIZE)
    axes.tick_params(colors=look.quiet, labelsize=_TEXT_SIZE - 0.5, length=3, pad=4)
    for spine in axes.spines.values():
        spine.set(color=look.frame, linewidth=0.8, zorder=4)


def _handy_unit(largest: float, unit: str) -> tuple[float, str]:
    """Give a factor and a unit in which a range of this size has short numbers."""
    if largest >= 1e3:
        return 1e-3, f"k{unit}"
    return (1e3, f"m{unit}") if largest < 1.0 else (1.0, unit)


def _draw_rating(axes: Axes, rating: RatingLine, outcome: OutcomeMap, look: Look) -> None:
    """Draw a rating as a line, also where it is the edge of the map, with its words beside it."""
    (x0, y0), (x1, y1) = rating.start, rating.end
    halo = [withStroke(linewidth=3.5, foreground=look.ground)]
    axes.plot(
        [x0, x1], [y0, y1], color=look.textbook, linewidth=1.6, linestyle=(0, (6, 3)),
        clip_on=False, zorder=6, path_effects=halo,
    )  # fmt: skip
    if x0 != x1 and y0 != y1:
        return  # no room beside a slanted line: its words stand in the caption
    side = 1 if rating.allows == "above" else -1  # the words stand where it is allowed
    wide = (outcome.x[-1] - outcome.x[0]) / _WIDTH
    high = (outcome.y[-1] - outcome.y[0]) / _HEIGHT
    if x0 == x1:
        x, y, turn = x0 + side * _BESIDE * wide, (y0 + y1) / 2, 90.0
    else:
        x, y, turn = (x0 + x1) / 2, y0 + side * _BESIDE * high, 0.0
    axes.text(
        x, y, rating.text, color=look.textbook, size=_RATING_SIZE, rotation=turn, zorder=7,
        ha="center", va="center", bbox=_plate(look),
    )  # fmt: skip


def _draw_legend(axes: Axes, outcome: OutcomeMap, look: Look) -> None:
    """List the outcomes that occur with their share of the map, the most frequent first."""
    shares = sorted(outcome.shares.items(), key=lambda each: -each[1])
    handles = []
    for label, share in shares:
        fill = fill_of(label, look)
        words = "< 1 %" if share < 0.01 else f"{100 * share:.0f} %"
        handles.append(
            Patch(facecolor=fill.colour, hatch=fill.hatch, edgecolor=_edge(look),
                  label=f"{label}, {words}")
        )  # fmt: skip
    axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(1 + 0.25 * _GAP / _WIDTH, 1.01),
        frameon=False, labelcolor=look.ink, fontsize=_TEXT_SIZE, handlelength=2.0,
        handleheight=1.4, labelspacing=0.7,
    )  # fmt: skip


def _write(figure: Figure, down: float, text: str, colour: str, size: float) -> None:
    """Write one line of text, `down` in inches from the upper edge."""
    width, height = figure.get_size_inches()
    figure.text(
        _LEFT / width, 1 - down / height, text, color=colour, size=size, va="center", ha="left",
        parse_math=False,
    )  # fmt: skip
