"""Budgets and lists of effects as rows with bars."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nicegui import ui

from glowtrace.measure.fits.budget import Budget, Contribution
from glowtrace.measure.methods import Method
from glowtrace.measure.systematics import Systematics
from glowtrace.units import percent
from glowtrace.web.controls import box, hint, words
from glowtrace.web.measure.cells import symbol_html
from glowtrace.web.measure.writing import power_html, value_text

_SMALLEST = 5e-4
"""Shares below this are told together."""


def put_budget(budget: Budget, *, holds: bool = True) -> None:
    """Put the lines of a budget on the page, each with its share of the variance as a bar."""
    small = [line for line in budget.lines if line.share < _SMALLEST]
    with box("table budget", "table"):
        with ui.element("thead"), ui.element("tr"):
            for head in ("From", "Uncertainty", "Kind", "In the result", "Share"):
                words(head, "th").props('scope="col"')
        with ui.element("tbody"):
            for line in budget.lines:
                if line.share < _SMALLEST:
                    continue
                relative = line.contribution / abs(budget.value) if budget.value else math.nan
                with ui.element("tr"):
                    ui.html(symbol_html(line.name), sanitize=False, tag="th").props('scope="row"')
                    words(_size(line), "td")
                    words(line.kind, "td", "budget-kind")
                    words(percent(relative, 2), "td")
                    _put_share(line.share, f"{100 * line.share:.1f} %")
            if small:
                with ui.element("tr"):
                    words(f"{len(small)} more, under 0.05 % each", "th").props('scope="row"')
                    for _ in range(4):
                        words("", "td")
    freedom = budget.degrees_of_freedom
    behind = "" if math.isinf(freedom) else f", {freedom:.0f} effective degrees of freedom"
    relative = budget.expanded / abs(budget.value) if budget.value else math.nan
    hint(
        "Kind A: from the scatter of repeats; B: from anything else that is known, such as a "
        "meter’s limits. Share: of the variance. Improve what has the largest."
    )
    if not holds:
        return
    hint(
        f"Expanded with k = {budget.coverage_factor:.2f} for {100 * budget.level:.0f} %: "
        f"± {percent(relative, 2)}{behind}."
    )


def put_systematics(
    found: Systematics,
    method: Method,
    parallax: Sequence[float] = (),
    *,
    is_preset: bool = False,
) -> None:
    """Put on the page what the textbook leaves out on a bench, effect by effect.

    ``parallax``: its relative shifts at the ends of what is known of the eye's distance.
    ``is_preset``: whether nobody has written the distances of eye and scale yet.
    """
    largest = (
        max((abs(each.shift) for each in found.effects if math.isfinite(each.shift)), default=0.0)
        or 1.0
    )
    unit = "1" if method == "plates only" else "C/kg"
    shown = "Plate factor" if method == "plates only" else "e/m in C/kg"
    css = "table budget effects" if method == "plates only" else "table budget effects is-charge"
    with box(css, "table"):
        with ui.element("thead"), ui.element("tr"):
            for head in ("Left out", f"{shown} without it", "With it", "Shifts the result by"):
                words(head, "th").props('scope="col"')
        with ui.element("tbody"):
            for each in found.effects:
                with ui.element("tr"):
                    with ui.element("th").props('scope="row"'):
                        words(each.name)
                        words(each.says, "p", "fine")
                        if each.name == "parallax" and len(parallax) > 0:
                            words(_range_text(parallax), "p", "fine")
                    for value in (each.without, each.with_it):
                        ui.html(_shown(value, unit), sanitize=False, tag="td")
                    _put_share(abs(each.shift) / largest, percent(each.shift, 2, signed=True))
    if not any(each.name == "parallax" for each in found.effects):
        hint(
            "No parallax: the trace lies on the scale. Write above how far apart they are where "
            "it does not."
        )
    total = percent(found.total, 2, signed=True)
    alone = percent(found.without("parallax"), 2, signed=True)
    told = f"Together, a result by the textbook’s formula comes out {total} off on this bench."
    if is_preset and alone != total:
        told = (
            f"Together, without parallax, a result by the textbook’s formula comes out {alone} off "
            f"on this bench. With parallax at the distances preset above it would be {total}: "
            "write yours."
        )
    words(
        f"{told} A fit with this bench’s real fields counts all of it but parallax and "
        "ripple; Earth’s field only where the bench or a constant has it.",
        "p",
        "large",
    )


def _range_text(shifts: Sequence[float]) -> str:
    ends = " to ".join(percent(each, 1, signed=True) for each in shifts)
    return f"from {ends} over the range of the eye’s distance"


def _size(line: Contribution) -> str:
    """Write an uncertainty; that of a gain in percent, as meters have it."""
    if line.is_gain:
        return f"{100 * line.uncertainty:.2g} %"
    return value_text(line.uncertainty, line.unit, 2)


def _shown(value: float, unit: str) -> str:
    if not math.isfinite(value):
        return "–"
    return f"{value:.4f}" if unit == "1" else power_html(f"{value / 1e11:.4f}e11")


def _put_share(share: float, text: str) -> None:
    with ui.element("td").classes("share"):
        words(text, css="share-words")
        end = min(max(share if math.isfinite(share) else 0.0, 0.0), 1.0)
        box("share-bar", "span").style(f"--to: {end:.3f}")
