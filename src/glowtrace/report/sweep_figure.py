"""A sweep as a figure: what is seen against what was turned, with the textbook's line beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from matplotlib.figure import Figure

from glowtrace.errors import GlowtraceError, Problem
from glowtrace.report.caption import SEPARATOR, words_by_setting
from glowtrace.report.drawing import file_bytes
from glowtrace.report.look import DARK, Look
from glowtrace.report.output import PICTURE_ENDINGS, require_ending, write_output
from glowtrace.units import shortest, significant
from glowtrace.words.bench import invented_words, model_caption, model_fields

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
_BAND: Final = "95 % of what it may be"
_CURVES: Final = 7
"""Lines that a second axis is told by, at most."""


class Shown(NamedTuple):
    """The columns that a figure draws over each other; "" for one that there is not."""

    read: str
    textbook: str
    low: str
    high: str


_FIRST: Final = ("circle_m", "spot_m", "height_m")
"""What is drawn where nobody says: the first of which the sweep has a number."""
_TEXTBOOK: Final = {"spot_off_centre_m": "textbook_off_centre_m"}
_SCALES: Final = {
    "_c_per_kg": ("10¹¹ C/kg", 1e-11),
    "_m_per_s": ("10⁶ m/s", 1e-6),
    "_v_per_m": ("kV/m", 1e-3),
    "_m_per_electron": ("mm an electron", 1e3),
    "_j_per_electron": ("fJ an electron", 1e15),
    "_m_per_m2": ("m/m² an electron", 1.0),
    "_j_per_m2": ("pJ/m² an electron", 1e12),
    "_m": ("mm", 1e3),
    "_rad": ("°", 180 / math.pi),
    "_v": ("V", 1.0),
    "_a": ("A", 1.0),
    "_t": ("mT", 1e3),
    "_ohm": ("Ω", 1.0),
    "_hz": ("Hz", 1.0),
    "_k": ("K", 1.0),
}
"""Endings of columns, the first that fits: the unit that people read, and its factor."""


def shown_columns(made: Sweep) -> tuple[str, ...]:
    """Give the columns that say most: what is seen, the textbook's, the width."""
    shown = shown_reading(made)
    names = (shown.read, shown.textbook, shown.low, shown.high, "width_m")
    return tuple(name for name in names if name in made.columns)


def shown_reading(made: Sweep, read: str = "") -> Shown:
    """Give the column that is drawn, and what is drawn beside it.

    Raises
    ------
    GlowtraceError
        The sweep has no such column of numbers.
    """
    if not read:
        there = [name for name in _FIRST if name in made.columns]
        seen = (name for name in there if np.isfinite(made[name]).any())
        read = next(seen, there[-1])
    numbers = readable_columns(made)
    if read not in numbers:
        raise GlowtraceError(Problem("column", f'"{read}"', f"choose {', '.join(numbers)}"))
    stem = read.removesuffix("_m")
    beside = (_TEXTBOOK.get(read, f"textbook_{read}"), f"{stem}_low_m", f"{stem}_high_m")
    return Shown(read, *(name if name in made.columns else "" for name in beside))


def readable_columns(made: Sweep) -> tuple[str, ...]:
    """Give the columns that a figure can show: what was read as a number."""
    return tuple(
        name
        for name in made.read_columns
        if made.columns[name].dtype.kind == "f"
        and not name.startswith("textbook_")
        and not name.endswith(("_low_m", "_high_m"))
    )


def column_label(name: str) -> str:
    """Give the head of a column for people: "height / mm"."""
    word, unit, _ = scaled(name)
    word = "textbook" if word.startswith("textbook") else word
    return f"{word} / {unit}" if unit else word


def column_text(name: str, value: Any) -> str:
    """Give a cell for people."""
    if isinstance(value, str):
        return value
    number = value * scaled(name)[2]
    return "–" if math.isnan(number) else significant(number, 4, style="plain")


def save_sweep(path: Path, made: Sweep, *, read: str = "", look: Look = DARK) -> None:
    """Write a sweep's figure to a PNG, SVG or PDF file; the name's ending says which.

    ``read`` as for `plot_sweep`.

    Raises
    ------
    GlowtraceError
        The ending is another one, or the file cannot be written; an older file stays then.
    """
    kind = require_ending(path, PICTURE_ENDINGS).removeprefix(".")
    draw = partial(draw_sweep, made, read=read, look=look)
    write_output(path, file_bytes(draw, kind, made.bench.name))


def draw_sweep(made: Sweep, *, read: str = "", look: Look = DARK) -> Figure:
    """Draw what is seen against what was turned, under it the settings and the model.

    A second axis gives several lines, each told by its value. ``read`` as for `plot_sweep`.
    """
    lines = [part for line in sweep_caption(made) for part in wrap(line, _LETTERS)]
    height = _SIZE[1] + _BELOW + _LINE * len(lines)
    figure = Figure(figsize=(_SIZE[0], height), dpi=150, facecolor=look.ground)
    low = (height - _SIZE[1] + 0.55) / height
    axes = figure.add_axes((0.11, low, 0.85, 1 - low - 0.5 / height))
    figure.text(0.11, 1 - 0.22 / height, made.bench.name, color=look.ink, size=13, va="center")
    plot_sweep(axes, made, read=read, look=look)
    for number, line in enumerate(lines):
        at = 1 - (_SIZE[1] + _BELOW + _LINE * number) / height
        color = look.ink if number == 0 else look.quiet
        figure.text(0.11, at, line, color=color, size=9, va="center")
    return figure


def plot_sweep(axes: Axes, made: Sweep, *, read: str = "", look: Look | None = None) -> None:
    """Draw a sweep into axes of your own; ``look`` colours them too, None leaves them as they are.

    Parameters
    ----------
    axes
        Where to draw.
    made
        Of one or two things that are turned; the last one goes to the right.
    read
        The column that goes up, such as "width_m"; what says most where it is left out.
    look
        As for `draw_sweep`.

    Raises
    ------
    GlowtraceError
        The sweep has no such column of numbers.
    """
    shown, along = shown_reading(made, read), made.axes[-1]
    across, up = scaled(along.column)[2], scaled(shown.read)[2]
    x = across * along.values

    def families(name: str) -> NDArray[np.float64]:
        return up * made[name].reshape(-1, len(x))

    seen = families(shown.read)
    chosen = _chosen(len(seen))
    strengths = np.linspace(1.0, 0.35, len(chosen)) if len(chosen) > 1 else [1.0]
    glow, book = (look.phosphor[3], look.textbook) if look else ("C0", "C1")
    if look and look is not DARK:
        glow = look.ink
    for number, strength in zip(chosen, strengths, strict=True):
        is_first = number == chosen[0]
        if shown.low:
            edges = families(shown.low)[number], families(shown.high)[number]
            axes.fill_between(
                x, *edges, color=glow, alpha=0.2 * strength, lw=0, label=_BAND if is_first else None
            )
        _line(axes, x, seen[number], glow, strength, _told(made, number))
        if shown.textbook and np.isfinite(families(shown.textbook)[number]).any():
            axes.plot(
                x, families(shown.textbook)[number], "--", color=book, alpha=strength, lw=1.2,
                label="textbook" if is_first else None,
            )  # fmt: skip
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


def _chosen(count: int) -> list[int]:
    """Give the lines that are drawn where a second axis would give too many."""
    return sorted(set(np.linspace(0, count - 1, min(count, _CURVES)).round().astype(int).tolist()))


def _told(made: Sweep, number: int) -> str:
    if len(made.axes) == 1:
        return model_fields(made.model)
    name = made.axes[0].column
    word, unit, scale = scaled(name)
    value = shortest(scale * float(made.axes[0].values[number]), 4)
    return f"{word} {value} {unit}".rstrip()


def scaled(name: str) -> tuple[str, str, float]:
    """Give a column's name in words, the unit that people read, and the factor to it."""
    if name.startswith("share_"):
        return f"electrons: {name.removeprefix('share_')}".replace("_", " "), "%", 100.0
    for ending, (unit, scale) in _SCALES.items():
        if name.endswith(ending):
            return name.removesuffix(ending).replace("_", " "), unit, scale
    return name.replace("_", " "), "", 1.0


def sweep_caption(made: Sweep) -> Iterator[str]:
    """Tell what was turned, what stayed where it is, and the model."""
    turned = {axis.name for axis in made.axes}
    yield f"Turned: {' and '.join(scaled(axis.column)[0] for axis in made.axes)}."
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
