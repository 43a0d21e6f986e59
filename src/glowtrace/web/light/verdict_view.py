"""The verdicts for eye and camera: in words, as a margin on a scale, and what they come from."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from html import escape
from typing import Final

from nicegui import ui

from glowtrace.light.answer import LightAnswer
from glowtrace.light.verdict import Verdict
from glowtrace.web.controls import box, button, words
from glowtrace.words.light import (
    beam_words,
    camera_words,
    flicker_words,
    limit_words,
    margin_words,
    reason_words,
    remedy_words,
    ripple_words,
    suitable_words,
    verdict_words,
    why_words,
)

_BEFORE_UNIT: Final = re.compile(r"(?<=\d) (?=%|cd|lx|m\b)")
_DECADES: Final = (-3, 3)
"""Of the margin, on the scale."""


def put_verdicts(answer: LightAnswer, take_exposure: Callable[[], object]) -> None:
    """Put both verdicts on the page."""
    bench, scene, found, camera = answer.bench, answer.scene, answer.found, answer.scene.camera
    why = [f"Beam: {beam_words(bench, scene)}.", *why_words(found, bench, scene)]
    limit = "" if found.is_dark else limit_words(answer)
    if answer.brightest_room is None:  # what comes of the dark stands with the reason
        why.append(limit)
    taken = [*camera_words(found, camera), flicker_words(scene)]
    if not found.is_dark:
        taken.append(ripple_words(answer.flicker))
        if answer.exposed.camera.word != "surely":
            taken.append(remedy_words(answer.exposed.in_camera.reason))
    with box("pair verdicts"):
        with _verdict("In the room", found.eye, why, reason_words(answer)):
            if answer.brightest_room is not None and limit:
                words(limit, "p", "large")
        with _verdict("On camera", found.camera, taken):
            if not found.is_dark:
                words(suitable_words(answer.exposure, answer.exposed), "p", "large")
                if answer.exposure != camera:
                    button("Take this exposure", take_exposure)


def _verdict(
    title: str, verdict: Verdict, reasons: Sequence[str], above_all: str = ""
) -> ui.element:
    """Put a verdict with what matters most; what it comes from can be unfolded below."""
    with box(f"stack verdict-of is-{verdict.word.replace(' ', '-')}", "section") as section:
        section.props["aria-label"] = title
        words(title, "h2")
        words(verdict_words(verdict), "p", "verdict-words").props('role="status"')
        ui.html(margin_scale(verdict), sanitize=False)
        words(f"{margin_words(verdict)}.", "p", "large")
        if above_all:
            words(above_all, "p", "large light-reason")
        inner = box("stack")
        with box("fold stack", "details"):
            words("Why", "summary").props["aria-label"] = f"{title}: why"
            for reason in filter(None, reasons):
                words(_kept_together(reason), "p")
    return inner


def _kept_together(text: str) -> str:
    """Let no line end between a number and its unit, nor within the unit."""
    return _BEFORE_UNIT.sub("\u00a0", text).replace("cd/m", "cd/\u2060m")


def margin_scale(verdict: Verdict) -> str:
    """Give the margin with its range on a scale of decades, as SVG."""
    low, high = _DECADES

    def place(margin: float) -> float:
        decade = math.log10(margin) if margin > 0.0 else low
        return 600.0 * (min(max(decade, low), high) - low) / (high - low)

    factor = verdict.factor if math.isfinite(verdict.factor) else 10.0 ** (high - low)
    left, right = place(verdict.margin / factor), place(verdict.margin * factor)
    ticks = "".join(f"M{place(10.0**decade):.0f} 20v8" for decade in range(low, high + 1) if decade)
    label = escape(f"{verdict_words(verdict)}: {margin_words(verdict)}", quote=True)
    return (
        f'<svg class="margin-scale" viewBox="-8 0 616 62" role="img" aria-label="{label}">'
        f'<path class="scale-line" d="M0 24H600{ticks}"/>'
        f'<path class="scale-need" d="M{place(1.0):.0f} 2v44"/>'
        f'<path class="scale-range" d="M{left:.1f} 24H{right:.1f}"/>'
        f'<circle class="scale-middle" cx="{place(verdict.margin):.1f}" cy="24" r="8"/>'
        f'<text x="{place(1.0):.0f}" y="60" text-anchor="middle">needed</text>'
        f'<text x="0" y="60">1/1000</text>'
        f'<text x="600" y="60" text-anchor="end">1000 times</text></svg>'
    )
