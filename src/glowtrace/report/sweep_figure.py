"""A sweep as a figure: what is seen against what was turned, with the textbook's line beside it."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from matplotlib.figure import Figure

from glowtrace.report.caption import SEPARATOR, words_by_setting
from glowtrace.report.drawing import FILE_WORDS, own_settings
from glowtrace.report.look import DARK, Look
from glowtrace.report.output import PICTURE_ENDINGS, require_ending, write_output
from glowtrace.units import significant
from glowtrace.words.bench import invented_words, model_caption

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from glowtrace.sweeps import Sweep

_SIZE: Final = (8.0, 5.4)  # inches
_BELOW: Final = 0.2
_LINE: Final = 0.21
_LETTERS: Final = 95
_DOTS: Final = 60
"""Points up to which each is marked."""
_CURVES: Final = 7
"""Lines that a second axis is told by, at most."""


class _Shown(NamedTuple):
    """A pair of columns that a figure draws over each other."""

    read: str
    textbook: str


_SHOWN: Final = (
    _Shown("circle_m", "textbook_circle_m"),
    _Shown("spot_m", ""),
    _Shown("height_m", "textbook_height_m"),
)
"""What is drawn: the first of which the sweep has a number."""
_SCALES: Final = {
    "_m": ("mm", 1e3),
    "_rad": ("°", 180 / math.pi),
    "_v": ("V", 1.0),
    "_a": ("A", 1.0),
    "_ohm": ("Ω", 1.0),
    "_hz": ("Hz", 1.0),
    "_k": ("K", 1.0),
}
"""Endings of columns: the unit that people read, and its factor."""


def shown_columns(made: Sweep) -> tuple[str, ...]:
    """Give the columns that say most: what is seen, the textbook's, the width."""
    shown = _shown(made)
    names = (shown.read, shown.textbook, "width_m")
    return tuple(name for name in names if name in made.columns and name)


def column_label(name: str) -> str:
    """Give the head of a column for people: "height / mm"."""
    word, unit, _ = _scaled(name)
    word = "textbook" if word.startswith("textbook") else word
    return f"{word} / {unit}" if unit else word


def column_text(name: str, value: Any) -> str:
    """Give a cell for people."""
    if isinstance(value, str):
        return value
    number = value * _scaled(name)[2]
    return "–" if math.isnan(number) else significant(number, 4, style="plain")


def save_sweep(path: Path, made: Sweep, *, look: Look = DARK) -> None:
    """Write a sweep's figure to a PNG, SVG or PDF file; the name's ending says which.

    Raises
    ------
    GlowtraceError
        The ending is another one, or the file cannot be written; an older file stays then.
    """
    kind = require_ending(path, PICTURE_ENDINGS).removeprefix(".")
    written = io.BytesIO()
    with own_settings():
        figure = draw_sweep(made, look=look)
        words = {"Title": made.bench.name, **FILE_WORDS[kind]}
        figure.savefig(written, format=kind, metadata=words)
    write_output(path, written.getvalue())


def draw_sweep(made: Sweep, *, look: Look = DARK) -> Figure:
    """Draw what is seen against what was turned, under it the settings and the model.

    A second axis gives several lines, each told by its value.
    """
    lines = [part for line in sweep_caption(made) for part in wrap(line, _LETTERS)]
    height = _SIZE[1] + _BELOW + _LINE * len(lines)
    figure = Figure(figsize=(_SIZE[0], height), dpi=150, facecolor=look.ground)
    low = (height - _SIZE[1] + 0.55) / height
    axes = figure.add_axes((0.11, low, 0.85, 1 - low - 0.5 / height))
    figure.text(0.11, 1 - 0.22 / height, made.bench.name, color=look.ink, size=13, va="center")
    plot_sweep(axes, made, look=look)
    for number, line in enumerate(lines):
        at = 1 - (_SIZE[1] + _BELOW + _LINE * number) / height
        color = look.ink if number == 0 else look.quiet
        figure.text(0.11, at, line, color=color, size=9, va="center")
    return figure


def plot_sweep(axes: Axes, made: Sweep, *, look: Look | None = None) -> None:
    """Draw a sweep into axes of your own; ``look`` colours them too, None leaves them as they are.

    Parameters
    ----------
    axes
        Where to draw.
    made
        Of one or two things that are turned; the last one goes to the right.
    look
        As for `draw_sweep`.
    """
    shown, along = _shown(made), made.axes[-1]
    scale = _scaled(along.column)[2]
    x = scale * along.values
    families = made[shown.read].reshape(-1, len(x))
    books = made[shown.textbook].reshape(-1, len(x)) if shown.textbook else np.full((1, 1), np.nan)
    chosen = _chosen(len(families))
    strengths = np.linspace(1.0, 0.35, len(chosen)) if len(chosen) > 1 else [1.0]
    glow, book = (look.phosphor[3], look.textbook) if look else ("C0", "C1")
    if look and look is not DARK:
        glow = look.ink
    for number, strength in zip(chosen, strengths, strict=True):
        _line(axes, x, 1e3 * families[number], glow, strength, _told(made, number))
        if number < len(books) and np.isfinite(books[number]).any():
            axes.plot(x, 1e3 * books[number], "--", color=book, alpha=strength, lw=1.2,
                      label="textbook" if number == chosen[0] else None)  # fmt: skip
    axes.set_xlabel(column_label(along.column))
    axes.set_ylabel(column_label(shown.read))
    if look is not None:
        _colour(axes, look)
    key = axes.legend(frameon=False, fontsize=9)
    for text in key.get_texts() if look else ():
        text.set_color(look.quiet if look else "black")


def _line(
    axes: Axes, x: NDArray[np.float64], y: NDArray[np.float64], color: str, alpha: float, told: str
) -> None:
    mark = "o" if len(x) <= _DOTS else ""
    axes.plot(x, y, color=color, alpha=alpha, lw=2.0, marker=mark, ms=3, label=told)


def _colour(axes: Axes, look: Look) -> None:
    axes.set_facecolor(look.screen)
    axes.grid(color=look.grid, lw=0.8)
    axes.tick_params(colors=look.quiet, labelsize=9)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set_color(look.ink)
    for spine in axes.spines.values():
        spine.set_color(look.frame)


def _shown(made: Sweep) -> _Shown:
    there = [each for each in _SHOWN if each.read in made.columns]
    return next((each for each in there if np.isfinite(made[each.read]).any()), there[-1])


def _chosen(count: int) -> list[int]:
    """Give the lines that are drawn where a second axis would give too many."""
    return sorted(set(np.linspace(0, count - 1, min(count, _CURVES)).round().astype(int).tolist()))


def _told(made: Sweep, number: int) -> str:
    if len(made.axes) == 1:
        return "real geometry" if made.model == "bench" else "uniform fields"
    name = made.axes[0].column
    word, unit, scale = _scaled(name)
    value = significant(scale * float(made.axes[0].values[number]), 4)
    return f"{word} {value} {unit}".rstrip()


def _scaled(name: str) -> tuple[str, str, float]:
    """Give a column's name in words, the unit that people read, and the factor to it.

    Of what is turned and what `shown_columns` gives: none of these is a unit per another.
    """
    for ending, (unit, scale) in _SCALES.items():
        if name.endswith(ending):
            return name.removesuffix(ending).replace("_", " "), unit, scale
    return name.replace("_", " "), "", 1.0


def sweep_caption(made: Sweep) -> Iterator[str]:
    """Tell what was turned, what stayed where it is, and the model."""
    turned = {axis.name for axis in made.axes}
    yield f"Turned: {' and '.join(_scaled(axis.column)[0] for axis in made.axes)}."
    words = words_by_setting(made.settings, made.bench)
    stays = [each for name, each in words.items() if name not in turned]
    if stays:
        yield f"Other settings: {SEPARATOR.join(stays)}"
    if not made.bench.plane.is_spot:
        yield f"Heights and widths at x = {significant(1e3 * made.at, 3)} mm."
    yield model_caption(made.model)
    if made.beyond_ratings:
        yield f"{made.beyond_ratings} of {len(made)} points are beyond a rating of the bench."
    if made.bench.invented:
        yield invented_words()
