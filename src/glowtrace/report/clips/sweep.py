"""A clip of a knob being turned: the picture changes with it."""

from __future__ import annotations

from typing import Final

import numpy as np

from glowtrace.bench.model import Bench
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, check_settings, knobs_of
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.bench.settings import Settings
from glowtrace.demos.textbook import Textbook, textbook_trace
from glowtrace.errors import GlowtraceError, Problem, RatingError
from glowtrace.report.caption import quantity_words
from glowtrace.report.clips.board import LETTERS, Board
from glowtrace.report.clips.clip import USUAL_FORM, Clip, ClipForm, Pixels, captions_of
from glowtrace.report.clips.facts import knob_facts, steady_words
from glowtrace.report.clips.light import grained_picture, shown_extent
from glowtrace.report.clips.slate import Slate
from glowtrace.report.run_sheets.words import see_words
from glowtrace.report.shade import full_light
from glowtrace.words.bench import knob_name

_FROM_EDGE: Final = 0.08  # of the screen's length
_SAMPLES: Final = 7
SIGNED: Final = {"plate_voltage": "plate_reversed", "coil_current": "coil_reversed"}
"""Knobs that may go through zero, and the reversing switch that is thrown below it."""


def sweep_clip(
    prepared: PreparedBench,
    settings: Settings,
    knob: str,
    start: float,
    end: float,
    *,
    form: ClipForm = USUAL_FORM,
    is_there_and_back: bool = False,
    with_textbook: bool = True,
) -> Clip:
    """Show what a knob does while it is turned evenly from one value to another.

    Parameters
    ----------
    prepared, settings
        The bench, and how everything else is set.
    knob
        "accelerating_voltage", "plate_voltage" or "coil_current".
    start, end
        Its values, SI. Below zero the reversing switch of plates or coils is thrown.
    form
        How long, how large, which model.
    is_there_and_back
        Turn it back again within the same time, so that a clip that repeats does not jump.
    with_textbook
        Draw the textbook's trace as a dashed line.

    Raises
    ------
    GlowtraceError
        The bench has no such knob.
    RatingError
        One of the ends is beyond a rating of the bench.
    """
    count, look = form.count, form.look
    turned = Turned(prepared.bench, settings, knob, start, end)
    bench, largest = prepared.bench, max(abs(start), abs(end))
    board = Board(bench, form.pixels, (shown_extent(prepared),), form.model_words, look)
    full = max(
        full_light(grained_picture(prepared, turned.at(share), form.model)[1])
        for share in np.linspace(0.0, 1.0, _SAMPLES)
    )

    def share_at(number: int) -> float:
        share = number / (count - 1)
        return 1.0 - abs(2.0 * share - 1.0) if is_there_and_back else share

    def frame(number: int) -> Pixels:
        now = turned.at(share_at(number))
        picture, light = grained_picture(prepared, now, form.model)
        slate = board.slate()
        board.put_glow(slate, 0, light, full, picture.plane)
        if with_textbook:
            put_textbook(slate, board, textbook_trace(bench, now), picture.plane)
        board.put_facts(slate, knob_facts(bench, now, knob, largest))
        return slate.pixels()

    def spoken(number: int) -> str:
        now = turned.at(share_at(number))
        picture = prepared.picture(now, electrons=400, model=form.model)
        seen = see_words(prepared, picture, _far(bench))
        value = steady_words(turned.value(share_at(number)), largest, KNOBS[knob])
        return f"{knob_name(knob)} {value}: {seen}".replace(" -", " −")

    return Clip(
        title=f"{bench.name}: {knob_name(knob)} from {quantity_words(start, KNOBS[knob])} "
        f"to {quantity_words(end, KNOBS[knob])}".replace(" -", " −"),
        size=form.pixels,
        rate=form.rate,
        count=count,
        frame=frame,
        captions=captions_of(count, form.rate, spoken),
    )


class Turned:
    """A knob on its way from one value to another.

    Parameters
    ----------
    bench, settings
        The bench, and how everything else is set.
    knob, start, end
        As for `sweep_clip`.
    """

    def __init__(
        self, bench: Bench, settings: Settings, knob: str, start: float, end: float
    ) -> None:
        if knob not in knobs_of(bench):
            allowed = f"choose {', '.join(knobs_of(bench))}"
            raise GlowtraceError(Problem("knob", f'"{knob}"', allowed))
        if start == end:
            value = quantity_words(start, KNOBS[knob])
            allowed = "the knob must be turned: give two different values"
            raise GlowtraceError(Problem(knob, f"from {value} to {value}", allowed))
        self._settings, self._knob, self._start, self._end = settings, knob, start, end
        problems = dict.fromkeys(
            problem for share in (0.0, 1.0) for problem in check_settings(bench, self.at(share))
        )
        if problems:
            raise RatingError(f'settings on the bench "{bench.name}"', tuple(problems))

    def value(self, share: float) -> float:
        """Give the signed value at a share of the way, SI."""
        return self._start + share * (self._end - self._start)

    def at(self, share: float) -> Settings:
        """Give the settings at a share of the way."""
        value = self.value(share)
        changes: dict[str, object] = {self._knob: value}
        if self._knob in SIGNED:
            changes = {self._knob: abs(value)}
            if min(self._start, self._end) < 0.0:
                changes[SIGNED[self._knob]] = value < 0.0
        return self._settings.model_copy(update=changes)


def put_textbook(slate: Slate, board: Board, textbook: Textbook, plane: ScreenPlane) -> None:
    """Draw the textbook's trace dashed; on an end face a ring where it arrives."""
    screen, s = board.screens[0], board.unit
    places = screen.places(textbook.u, textbook.v)
    slate.clip_to(screen.rectangle)
    if not plane.is_spot:
        slate.line(places, board.look.textbook, 2.2 * s, dashes=(9 * s, 9 * s))
    elif textbook.end == "screen":
        turn = np.linspace(0.0, 2.0 * np.pi, 60)
        ring = places[-1] + 11 * s * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        slate.line(ring, board.look.textbook, 2.2 * s)
    slate.clip_to(None)
    start, y = 40 * s, 70 * s
    slate.line(np.array([[start, y], [start + 44 * s, y]]), board.look.textbook, 2.2 * s,
               dashes=(9 * s, 9 * s))  # fmt: skip
    slate.text(start + 56 * s, y, "textbook: uniform fields", LETTERS * s, board.look.quiet)


def _far(bench: Bench) -> float:
    """Give the x in m at which a trace is told: near the far edge of what is seen."""
    plane = bench.plane
    return plane.x_to - _FROM_EDGE * (plane.x_to - plane.x_from)
