"""A study as a figure: how what is read is distributed, and which numbers make it so."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from textwrap import shorten, wrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from glowtrace.bench.ratings import KNOBS
from glowtrace.faults import FAULTS
from glowtrace.report.caption import SEPARATOR, words_by_setting
from glowtrace.report.drawing import file_bytes
from glowtrace.report.look import DARK, Look
from glowtrace.report.output import PICTURE_ENDINGS, require_ending, write_output
from glowtrace.report.sweep_figure import column_label, scaled
from glowtrace.studies.hidden_truth import HALF_WIDTH
from glowtrace.units import percent, significant
from glowtrace.words.bench import invented_words, knob_label, model_caption
from glowtrace.words.knowledge import number_name, number_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from glowtrace.studies import Summary
    from glowtrace.studies.fault_cases import Found
    from glowtrace.studies.kept import KeptRows
    from glowtrace.studies.summary import Design, Outcome

_SIZE: Final = (9.5, 4.6)  # inches
_LINE: Final = 0.21
_LETTERS: Final = 115
_BARS: Final = 12
_NAME: Final = 46
_MAP: Final = 40
"""Values of a number up to which a map of two is drawn."""
_TOLD: Final = 150
"""Fields of such a map up to which each tells its number."""


def turned_name(summary: Summary, name: str) -> str:
    """Name what varies for people."""
    return knob_label(name) if name in KNOBS else number_name(summary.study.bench, name)


def save_study(path: Path, summary: Summary, kept: KeptRows, *, look: Look = DARK) -> None:
    """Write a study's figure to a PNG, SVG or PDF file; the name's ending says which.

    Raises
    ------
    GlowtraceError
        The ending is another one, or the file cannot be written; an older file stays then.
    """
    kind = require_ending(path, PICTURE_ENDINGS).removeprefix(".")
    draw = partial(draw_study, summary, kept, look=look)
    write_output(path, file_bytes(draw, kind, summary.study.bench.name))


def draw_study(summary: Summary, kept: KeptRows, *, look: Look = DARK) -> Figure:
    """Draw designs by what they show, or the distribution with each number's share of it."""
    lines = [part for line in study_caption(summary) for part in wrap(line, _LETTERS)]
    height = _SIZE[1] + 0.2 + _LINE * len(lines)
    figure = Figure(figsize=(_SIZE[0], height), dpi=150, facecolor=look.ground)
    low, tall = (height - _SIZE[1] + 0.6) / height, (_SIZE[1] - 1.1) / height
    name = summary.study.bench.name
    figure.text(0.08, 1 - 0.22 / height, name, color=look.ink, size=13, va="center")
    if summary.found_again:
        _draw_found(figure.add_axes((0.4, low, 0.54, tall)), summary, look)
    elif summary.designs:
        _draw_designs(figure.add_axes((0.22, low, 0.66, tall)), summary, look)
    else:
        (outcome, *_) = summary.outcomes
        has_bars = bool(outcome.shares)
        axes = figure.add_axes((0.08, low, 0.33 if has_bars else 0.84, tall))
        _draw_distribution(axes, outcome, kept, look)
        if has_bars:
            _draw_shares(figure.add_axes((0.68, low, 0.29, tall)), summary, outcome, look)
    for number, line in enumerate(lines):
        at = 1 - (_SIZE[1] + 0.2 + _LINE * number) / height
        color = look.ink if number == 0 else look.quiet
        figure.text(0.08, at, line, color=color, size=9, va="center")
    return figure


def study_caption(summary: Summary) -> Iterator[str]:
    """Tell what the rows are, what stays where it is, and what is odd about them."""
    study = summary.study
    part = "" if summary.rows == study.count else f" of {study.count}"
    named = "; ".join(turned_name(summary, name) for name in study.names)
    varied = f" Varied: {named}." if named else ""
    yield f"{summary.rows}{part} rows, plan “{study.plan}”, seed {study.seed}.{varied}"
    if summary.found_again:
        yield "Each fault in turn, told by an onlooker who errs, and looked for by what is told."
        yield found_text(summary.found_again[0])
    if study.measurement is not None:
        yield (
            f"e/m measured by “{study.measurement.method}” on each bench, fitted with the "
            f"description alone{SEPARATOR}{model_caption(study.model)}"
        )
        yield coverage_text(summary)
    else:
        words = words_by_setting(study.settings, study.bench)
        stays = [each for name, each in words.items() if name not in study.names]
        if stays:
            yield f"Other settings: {SEPARATOR.join(stays)}"
        electrons = f"{SEPARATOR}{study.electrons} electrons a row" if study.names else ""
        yield f"{model_caption(study.model)}{electrons}"
    if summary.beyond_ratings:
        yield f"{summary.beyond_ratings} rows are beyond a rating of the bench."
    if summary.impossible:
        yield f"{summary.impossible} rows cannot be; the first: {summary.problem}"
    if study.bench.invented:
        yield invented_words()


def found_text(found: Found) -> str:
    """Tell how often the cause is found again."""
    if not found.noticed:
        return "Nobody notices any of the faults."
    share, low, high = map(percent, (found.among_two / found.noticed, found.low, found.high))
    return (
        f"The cause is first or second in {found.among_two} of {found.noticed} rows: {share}, with "
        f"95 % between {low} and {high}. After the checks that are proposed it is first in "
        f"{percent(found.first_after_checks / found.noticed)}."
        + (f" Nobody notices it in {found.unnoticed} rows." if found.unnoticed else "")
    )


def fault_name(found: Found) -> str:
    """Name a fault for people."""
    return next((each.title for each in FAULTS if each.key == found.fault), "all together")


def coverage_text(summary: Summary) -> str:
    """Tell how often the interval holds the truth, and how wide it is."""
    found = summary.coverage
    if found is None:
        return "No row has a 95 % interval."
    share, low, high = (percent(part) for part in (found.held / found.stated, *found[2:4]))
    width = significant(scaled(HALF_WIDTH)[2] * found.half_width, 2)
    return (
        f"The 95 % interval holds the true e/m in {found.held} of {found.stated} rows: {share}, "
        f"with 95 % between {low} and {high}. Half its width (median): {width} "
        f"{scaled(HALF_WIDTH)[1].replace('10', '× 10', 1)}."
    )


def _draw_distribution(axes: Axes, outcome: Outcome, kept: KeptRows, look: Look) -> None:
    read = kept.read((outcome.name,))[outcome.name]
    found = read[np.isfinite(read)] * scaled(outcome.name)[2]
    bins = min(60, max(8, round(2 * len(found) ** (1 / 3))))
    axes.hist(found, bins=bins, color=_glow(look), alpha=0.85)
    scale = scaled(outcome.name)[2]
    if outcome.count:
        axes.axvline(scale * outcome.mean, color=look.ink, lw=1.2, label="mean")
        low, high = scale * outcome.quantiles[0], scale * outcome.quantiles[-1]
        axes.axvspan(low, high, color=look.textbook, alpha=0.15, lw=0, label="95 %")
        key = axes.legend(frameon=False, fontsize=9)
        for text in key.get_texts():
            text.set_color(look.quiet)
    axes.set_xlabel(column_label(outcome.name))
    axes.set_ylabel("rows")
    _colour(axes, look)


def _draw_shares(axes: Axes, summary: Summary, outcome: Outcome, look: Look) -> None:
    shown = outcome.shares[:_BARS][::-1]
    places = np.arange(len(shown))
    axes.barh(places, [100 * each.alone for each in shown], 0.62, color=_glow(look), label="alone")
    if any(each.total == each.total for each in shown):
        totals = [100 * each.total for each in shown]
        within = [100 * each.total_within for each in shown]
        axes.errorbar(totals, places, xerr=within, fmt="o", color=look.textbook, ms=4,
                      label="with the others")  # fmt: skip
        key = axes.legend(frameon=False, fontsize=9, loc="lower right")
        for text in key.get_texts():
            text.set_color(look.quiet)
    axes.set_yticks(places, [turned_name(summary, each.name) for each in shown])
    axes.set_xlabel("share of the variance / %")
    _colour(axes, look)


def _draw_found(axes: Axes, summary: Summary, look: Look) -> None:
    shown = [each for each in summary.found_again if each.noticed][: 2 * _BARS][::-1]
    places = np.arange(len(shown))
    parts = np.array([each.among_two / each.noticed for each in shown])
    within = np.array([[p - each.low, each.high - p] for p, each in zip(parts, shown, strict=True)])
    axes.barh(places, 100 * parts, 0.62, color=_glow(look), label="first or second")
    axes.errorbar(100 * parts, places, xerr=100 * np.maximum(within.T, 0.0), fmt="none",
                  ecolor=look.ink, elinewidth=0.9, label="95 %")  # fmt: skip
    after = [100 * each.first_after_checks / each.noticed for each in shown]
    axes.plot(after, places, "o", color=look.textbook, ms=4, label="first after the checks")
    axes.set_yticks(places, [shorten(fault_name(each), _NAME) for each in shown])
    axes.set_xlabel("share of the rows in which somebody notices the fault / %")
    axes.set_xlim(0, 102)
    key = axes.legend(
        frameon=False, fontsize=8, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3
    )
    for text in key.get_texts():
        text.set_color(look.quiet)
    _colour(axes, look)
    axes.tick_params(axis="y", labelsize=7)


def _draw_designs(axes: Axes, summary: Summary, look: Look) -> None:
    names = list(summary.designs[0].numbers)
    lists = [sorted({each.numbers[name] for each in summary.designs}) for name in names]
    if len(names) == 2 and max(map(len, lists)) <= _MAP:
        _draw_map(axes, summary, names, lists, look)
        return
    shown = summary.designs[:_BARS][::-1]
    places = np.arange(len(shown))
    parts = [100 * each.shown / max(1, each.rows) for each in shown]
    axes.barh(places, parts, 0.62, color=_glow(look))
    axes.set_yticks(places, [design_text(summary, each) for each in shown])
    axes.set_xlabel(f"settings that show “{summary.study.wanted}” / %")
    _colour(axes, look)


def _draw_map(
    axes: Axes, summary: Summary, names: list[str], lists: list[list[float]], look: Look
) -> None:
    parts = np.full((len(lists[1]), len(lists[0])), np.nan)
    for each in summary.designs:
        x, y = (lists[n].index(each.numbers[name]) for n, name in enumerate(names))
        parts[y, x] = 100 * each.shown / each.rows if each.rows else np.nan
    colors = LinearSegmentedColormap.from_list("shown", [look.screen, _glow(look)])
    most = max(np.nanmax(parts, initial=0.0), 1.0)
    drawn = axes.imshow(parts, origin="lower", aspect="auto", cmap=colors, vmin=0, vmax=most)
    if parts.size <= _TOLD:
        for y, x in zip(*np.nonzero(parts > 0), strict=True):
            ink = look.ground if parts[y, x] > 0.6 * most else look.ink
            told = f"{parts[y, x]:.0f}"
            axes.text(x, y, told, color=ink, size=9, ha="center", va="center")
    columns = dict(zip(summary.study.names, summary.study.columns, strict=True))
    for axis, name, values in ((axes.xaxis, names[0], lists[0]), (axes.yaxis, names[1], lists[1])):
        _, unit, scale = scaled(columns[name])
        every = max(1, -(-len(values) // 9))
        places = range(0, len(values), every)
        axis.set_ticks(list(places), [significant(scale * values[n], 3) for n in places])
        axis.set_label_text(f"{turned_name(summary, name)}{f' / {unit}' if unit else ''}")
    _colour(axes, look, has_grid=False)
    bar = axes.figure.colorbar(drawn, ax=axes)
    bar.set_label(f"settings that show “{summary.study.wanted}” / %", color=look.ink)
    bar.ax.tick_params(colors=look.quiet, labelsize=9)


def design_text(summary: Summary, design: Design) -> str:
    """Tell a design's numbers in a line."""
    bench = summary.study.bench
    return "; ".join(
        f"{turned_name(summary, name)} {number_text(bench, name, value)}"
        for name, value in design.numbers.items()
    )


def knob_text(name: str, ends: tuple[float, float]) -> str:
    """Tell from where to where a knob shows what is wanted."""
    unit = KNOBS[name]
    low, high = (significant(each, 3) for each in ends)
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def share_text(part: float, within: float = float("nan")) -> str:
    """Tell a share, with what repetitions would be within where that is known."""
    if part != part:
        return "–"
    return percent(part) if within != within else f"{percent(part)} ± {percent(within)}"


def _glow(look: Look) -> str:
    return look.phosphor[3] if look is DARK else look.quiet


def _colour(axes: Any, look: Look, *, has_grid: bool = True) -> None:
    axes.set_facecolor(look.screen)
    if has_grid:
        axes.grid(color=look.grid, lw=0.8)
        axes.set_axisbelow(True)
    axes.tick_params(colors=look.quiet, labelsize=9)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set_color(look.ink)
    for spine in axes.spines.values():
        spine.set_color(look.frame)
