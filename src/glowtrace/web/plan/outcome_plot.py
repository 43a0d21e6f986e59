"""The map on the page: image, labels, ratings, axes, the present settings as a cross."""

from __future__ import annotations

import math
from collections.abc import Callable

from matplotlib.ticker import MaxNLocator
from nicegui import ui

from glowtrace.bench.ratings import KNOBS
from glowtrace.plan import OutcomeMap
from glowtrace.web.controls import box, put_prop, words
from glowtrace.web.naming import knob_text
from glowtrace.web.plan.outcome_picture import place_labels, swatch
from glowtrace.web.plot_area import Place, PlotArea
from glowtrace.words.bench import knob_name

LETTERS = "ABCDEFGHIJKLMNOP"


class OutcomePlot(PlotArea):
    """The map."""

    def __init__(
        self, on_point: Callable[[Place], None], on_choose: Callable[[Place], None]
    ) -> None:
        super().__init__(on_point, on_choose)
        with self:
            self._image = ui.element("img").props('alt=""')
            self._over = box("plot-over")

    def start_at(self, across: str, up: str, place: Place | None) -> None:
        """Name the axes, and put the cursor somewhere."""
        self.props["label"] = (
            f"Map of {up} over {across}. Arrow keys move the cursor, Enter loads the point."
        )
        put_prop(self, "startX", 0.5 if place is None else place[0])
        put_prop(self, "startY", 0.5 if place is None else place[1])

    def show_image(self, image: str) -> None:
        """Show the regions as far as they are known."""
        put_prop(self._image, "src", image)

    def show_over(self, outcome: OutcomeMap, letters: dict[str, str], cross: Place | None) -> None:
        """Show what lies over the regions."""
        self._over.clear()
        with self._over:
            for line in outcome.ratings:
                _put_rating(outcome, line.text, line.start, line.end)
            for label in place_labels(outcome.codes, outcome.labels):
                mark = words(letters[label.outcome], css="region").style(
                    f"left:{100 * label.across:.2f}%;bottom:{100 * label.up:.2f}%"
                )
                if label.is_whole:
                    with mark:
                        words(f" {label.outcome}", css="region-name")
            if cross is not None:
                box("plot-cross", "span").style(
                    f"left:{100 * cross[0]:.2f}%;bottom:{100 * cross[1]:.2f}%"
                )


def letters_of(outcome: OutcomeMap) -> dict[str, str]:
    """Give each outcome that occurs a letter, the most frequent first."""
    ordered = sorted(outcome.shares, key=lambda label: -outcome.shares[label])
    return dict(zip(ordered, LETTERS, strict=False))


def put_legend(outcome: OutcomeMap, letters: dict[str, str]) -> None:
    """Put the outcomes that occur on the page, each with letter, fill and share."""
    with box("rows legend", "ul").props('aria-label="What happens"'):
        for label, letter in letters.items():
            share = 100 * outcome.shares[label]
            with ui.element("li"):
                fill = ui.element("img").classes("legend-fill").props('alt=""')
                fill.props["src"] = swatch(label)
                words(letter)
                words(label)
                words("< 1 %" if share < 1 else f"{share:.0f} %", css="legend-share quiet")


def put_axis(knob: str, low: float, high: float, css: str) -> None:
    """Put round numbers along a side of the map, and the knob's name."""
    ticks = MaxNLocator(5, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    side = "left" if css == "is-across" else "bottom"
    with box(f"axis {css}").props('aria-hidden="true"'):
        for tick in ticks:
            if low <= tick <= high * (1 + 1e-9):
                share = 100 * (tick - low) / (high - low)
                words(_short(float(tick), KNOBS[knob]), css="tick").style(f"{side}:{share:.2f}%")
        words(knob_name(knob), css="axis-name capital")


def share_of(outcome: OutcomeMap, x: float, y: float) -> Place | None:
    """Give the place of a setting on the map; None beside it."""
    across = (x - outcome.x[0]) / (outcome.x[-1] - outcome.x[0])
    up = (y - outcome.y[0]) / (outcome.y[-1] - outcome.y[0])
    inside = 0 <= across <= 1 and 0 <= up <= 1
    return (float(across), float(up)) if inside else None


def value_at(outcome: OutcomeMap, place: Place) -> Place:
    """Give the settings of both knobs at a place, as a person would set them."""
    found = []
    for along, share in ((outcome.x, place[0]), (outcome.y, place[1])):
        span = float(along[-1] - along[0])
        step = _round_step(span / 500)
        value = round((float(along[0]) + share * span) / step) * step
        found.append(float(f"{min(max(value, float(along[0])), float(along[-1])):.10g}"))
    return found[0], found[1]


def _round_step(least: float) -> float:
    """Give 1, 2 or 5 times a power of ten, the next above: a pixel is about that wide."""
    decade = 10.0 ** math.floor(math.log10(least))
    return decade * next(times for times in (1, 2, 5, 10) if times * decade >= least)


def _short(value: float, unit: str) -> str:
    text = knob_text("coil_current" if unit == "A" else "plate_voltage", value)
    number, _, symbol = text.partition(" ")
    short = f"{float(number):g}"
    return f"{short} {symbol}" if symbol and value else short


def _put_rating(outcome: OutcomeMap, text: str, start: Place, end: Place) -> None:
    ends = [share_of(outcome, *start), share_of(outcome, *end)]
    if ends[0] is None or ends[1] is None:
        return
    (x0, y0), (x1, y1) = ends[0], ends[1]
    path = f"M{100 * x0:.2f} {100 - 100 * y0:.2f}L{100 * x1:.2f} {100 - 100 * y1:.2f}"
    drawn = (
        '<svg viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">'
        f'<path d="{path}"/></svg>'
    )
    ui.html(drawn, sanitize=False).classes("plot-rating")
    way = "is-upright" if x0 == x1 else "is-level"
    words(text, css=f"rating-words {way}").style(
        f"right:{100 - 100 * x0:.2f}%;" if x0 == x1 else f"top:{100 - 100 * y1:.2f}%;"
    )
