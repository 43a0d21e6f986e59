"""What benches, pictures, plans, sweeps and fits show of themselves in a notebook.

Each type has its drawing here; `glowtrace.shown` asks for it by name.
"""

from __future__ import annotations

import io
from base64 import b64encode
from collections.abc import Iterable, Iterator
from functools import singledispatch
from html import escape
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Final

from matplotlib.figure import Figure

from glowtrace.bench.conflicts import Assembly
from glowtrace.bench.doubts import Doubts
from glowtrace.bench.knowledge import number_at
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Picture
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS
from glowtrace.measure.specific_charge import SpecificCharge
from glowtrace.plan.answer import Plan, Planned
from glowtrace.report.bench_drawing import draw_bench
from glowtrace.report.caption import SEPARATOR, electrons_words, quantity_words
from glowtrace.report.drawing import own_settings
from glowtrace.report.figure import plot_picture
from glowtrace.report.look import DARK
from glowtrace.report.measurement.chart import plot_readings, plot_residuals
from glowtrace.report.measurement.fit_words import (
    agreement_sentence,
    chi_square_sentence,
    finding_sentences,
    result_sentence,
    verdict_sentence,
)
from glowtrace.report.sweep_figure import draw_sweep
from glowtrace.sweeps.table import Sweep
from glowtrace.units import percent
from glowtrace.words.bench import invented_words, knob_name, model_caption
from glowtrace.words.knowledge import number_name, number_text

if TYPE_CHECKING:
    from collections.abc import Sequence

_DOTS_PER_INCH: Final = 90
_WIDE: Final = 6.4  # inches
_LINES: Final = 5
"""Of a budget, the largest."""


@singledispatch
def html(shown: object) -> str:
    """Give what a notebook shows of an object: a picture and a few words."""
    return f"<pre>{escape(repr(shown))}</pre>"


@html.register
def _(bench: Bench) -> str:
    parts = {name: getattr(bench, name) for name in Assembly.model_fields}
    drawing = draw_bench(Assembly(**parts))
    rows = [
        (letter, number_name(bench, path), _number(bench, path))
        for path, letter in drawing.letters.items()
    ]
    return (
        f'<div style="display:flex;flex-wrap:wrap;gap:1em;align-items:flex-start">'
        f'<div style="width:300px;max-width:100%;padding:8px;background:{DARK.ground}">'
        f"{drawing.svg}</div><div>{_line(bench.name)}{_table(rows)}"
        f"{_line(invented_words()) if bench.invented else ''}</div></div>"
    )


@html.register
def _(prepared: PreparedBench) -> str:
    return html(prepared.bench) + _line("Prepared: its fields are computed.")


@html.register
def _(picture: Picture) -> str:
    told = [
        repr(picture.settings),
        f"{model_caption(picture.model)}{SEPARATOR}{electrons_words(picture)}",
    ]
    return _png(_drawn(picture), told[0]) + "".join(map(_line, told))


@html.register
def _(plan: Plan) -> str:
    rows = []
    for knob in plan.goal.knobs:
        unit, window = KNOBS[knob], plan.windows.get(knob)
        ends = () if window is None else (window.low, window.high)
        works = " to ".join(quantity_words(float(f"{end:.3g}"), unit) for end in ends)
        value = quantity_words(float(getattr(plan.settings, knob)), unit)
        rows.append((knob_name(knob), value, works))
    told = f"{plan.goal.title}: {plan.settings!r}"
    head = ("knob", "set to", "works from")
    return _png(_drawn(plan.picture), told) + _line(told) + _table(rows, head)


@html.register
def _(planned: Planned) -> str:
    if planned.refusal is not None:
        told = [planned.refusal.binding.text, *(each.text for each in planned.refusal.remedies)]
        return "".join(map(_line, told))
    count = len(planned.answers)
    below = _line(f"The best of {count} answers.") if count > 1 else ""
    return html(planned.answers[0]) + below


@html.register
def _(made: Sweep) -> str:
    return _png(draw_sweep(made), repr(made))


@html.register
def _(found: SpecificCharge) -> str:
    figure = Figure(figsize=(8.4, 3.0), dpi=_DOTS_PER_INCH, facecolor="white")
    plot_fit(found, *figure.subplots(1, 2))
    figure.tight_layout(w_pad=2.0)
    lines = sorted(found.budget.lines, key=lambda line: -line.share)[:_LINES]
    rows = [(line.name, percent(line.share)) for line in lines]
    sentences = "".join(map(_line, fit_sentences(found)))
    return _png(figure, str(found)) + sentences + _table(rows, ("from", "of the variance"))


def plot_fit(found: SpecificCharge, axes: Any, beside: Any = None) -> None:
    """Draw readings and fit into axes of your own, and the residuals into others."""
    readings, series, fitted = found.setup.tables[0], found.setup.series[0], found.fit.fitted[0]
    plot_readings(axes, readings, series, fitted)
    if beside is not None:
        plot_residuals(beside, readings, fitted)


def fit_sentences(found: SpecificCharge) -> Iterator[str]:
    """Tell the result, how it compares, what speaks against it and how well the fit goes."""
    fit, findings, readings = found.fit, found.findings, found.setup.tables[0]
    if found.uncertainty > 0.0:
        yield result_sentence(found.result, findings)
        yield agreement_sentence(found.result, findings)
    yield from finding_sentences(fit, findings, "specific_charge", readings.columns)
    yield f"{verdict_sentence(fit)} {chi_square_sentence(fit)}"
    yield from (f"Row {row + 1} is left out: {why}." for row, why in readings.faults.items())
    yield model_caption(found.setup.model)


def _number(bench: Bench, path: str) -> str:
    """Write a number of the bench, or each of a point's, with its uncertainty."""
    doubts = (bench.doubts or Doubts()).uncertainties()
    place = attrgetter(path)(bench)
    paths = [f"{path}[{n}]" for n in range(3)] if isinstance(place, tuple) else [path]
    return ", ".join(
        number_text(bench, each, number_at(bench, each), doubts.get(each, 0.0)) for each in paths
    )


def _drawn(picture: Picture) -> Figure:
    left, right, low, high = picture.extent
    ratio = min(1.0, (high - low) / (right - left))
    figure = Figure(figsize=(_WIDE, _WIDE * ratio + 0.7), dpi=_DOTS_PER_INCH, facecolor=DARK.ground)
    axes = figure.subplots()
    plot_picture(axes, picture)
    figure.tight_layout(pad=0.6)
    return figure


def _png(figure: Figure, words: str) -> str:
    written = io.BytesIO()
    with own_settings():
        figure.savefig(written, format="png", dpi=_DOTS_PER_INCH)
    data = b64encode(written.getvalue()).decode("ascii")
    return f'<img alt="{escape(words)}" src="data:image/png;base64,{data}" style="max-width:100%">'


def _line(words: str) -> str:
    return f'<div style="max-width:60em">{escape(words)}</div>'


def _table(rows: Iterable[Sequence[str]], head: Sequence[str] = ()) -> str:
    def cells(tag: str, row: Sequence[str]) -> str:
        inside = "".join(f'<{tag} style="text-align:left">{escape(cell)}</{tag}>' for cell in row)
        return f"<tr>{inside}</tr>"

    body = "".join(cells("td", row) for row in rows)
    return f"<table>{cells('th', head) if head else ''}{body}</table>"
