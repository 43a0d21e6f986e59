"""How it changes: a knob or a number of the bench is turned, and what is seen stands as a curve."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from functools import partial
from typing import Final, NamedTuple

import numpy as np
from nicegui import background_tasks, ui

from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import KNOBS, knob_ranges
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError
from glowtrace.report.sweep_figure import column_label, readable_columns, scaled, shown_reading
from glowtrace.sweeps import Sweep, sweep
from glowtrace.web.controls import Picker, asked, box, button, complaint, put_prop, words
from glowtrace.web.frame import Frame
from glowtrace.web.job import Job, told
from glowtrace.web.knob import Scale
from glowtrace.web.naming import knob_text
from glowtrace.web.served import file_name
from glowtrace.web.sweep.curve import Curve, Drawn, drawn_of
from glowtrace.web.sweep.span import (
    Span,
    end_text,
    offered,
    read_span,
    standing,
    usual_span,
    where,
)
from glowtrace.web.wiring import settle

_FEW: Final = 1 / 3
"""Part of a knob's range with something to read below which that part alone is shown."""
_OLD: Final = "Computed before the last change."


class Case(NamedTuple):
    """What the curve is of, but for the setting that is turned."""

    span: Span
    standing: Settings
    model: Model
    x: float


class SweepFold:
    """The fold. Building it puts it on the page; nothing is computed until it is opened.

    Parameters
    ----------
    frame
        Around it.
    turn
        Sets the knobs.
    """

    def __init__(self, frame: Frame, turn: Callable[[Settings], None]) -> None:
        self._frame, self._turn = frame, turn
        self._prepared: PreparedBench | None = None
        self._model: Model = "bench"
        self._x = 0.0
        self._read, self._is_open = "", False
        self._is_usual, self._is_typed = True, False
        self._made: tuple[Case, Sweep] | None = None
        self._drawn: Drawn | None = None
        self._pointed: float | None = None
        self._job = Job()
        with box("fold small sweep", "details") as fold:
            words("How it changes", "summary")
            self._content = box("sweep-content")
        fold.on("toggle", self._toggle, js_handler="(event) => emit(event.target.open)")
        frame.body.client.on_delete(self._give_up)

    def _put_content(self) -> None:
        bench, settings = self._frame.bench, self._frame.preparation.settings
        groups = offered(bench)
        first = "plate_voltage" if settings.plate_voltage else "coil_current"
        first = first if first in groups["Knobs"] else next(iter(groups["Knobs"]))
        self._span = usual_span(bench, settings, first)
        with self._content:
            with box("stack sweep-side"):
                self._put_form(groups, first)
            self._curve = Curve(self._point, self._set_to)
        self._put_ends()
        self._look(None)
        self._tidy()

    def _put_form(self, groups: Mapping[str, Mapping[str, str]], first: str) -> None:
        with box("sweep-form"):
            Picker("What is turned", self._choose).offer(groups, first)
            self._low = asked("from", "", lambda text: self._type("low", text))
            self._high = asked("to", "", lambda text: self._type("high", text))
            self._shown = Picker("What is read", self._choose_read)
        self._wrong = complaint()
        self._told = words("", "p", "sweep-told").props('role="status"')
        with box("ways-on"):
            self._set = button("", self._set_pointed)
            self._compute = button("Compute", self._start)
            self._table = button("Table (CSV)", self._download)
        with box("sweep-working") as self._working:
            self._bar = ui.element("progress").props('max="1" aria-label="Progress"')
            button("Cancel", self._give_up)

    def show(self, prepared: PreparedBench, model: Model, x: float) -> None:
        """Take up the bench, the model and the place as they are while the knobs rest."""
        self._prepared, self._model, self._x = prepared, model, x
        if self._is_open:
            self._follow()

    # ---- what is asked ---------------------------------------------------------------------------

    def _toggle(self, event: object) -> None:
        self._is_open = bool(getattr(event, "args", False))
        if self._is_open:
            if not self._content.default_slot.children:
                self._put_content()
            self._follow()
        else:
            self._give_up()

    def _choose(self, name: str) -> None:
        self._span = usual_span(self._frame.bench, self._frame.preparation.settings, name)
        self._is_usual, self._is_typed = True, False
        self._put_ends()
        self._follow()

    def _type(self, end: str, text: str) -> None:
        self._typed[end] = text
        put_prop(self._low if end == "low" else self._high, "value", text)
        settings = self._frame.preparation.settings
        self._wrong.text = ""
        try:
            self._span = read_span(self._frame.bench, settings, self._span.name, **self._typed)
        except GlowtraceError as error:
            self._wrong.text = str(error)
            return
        self._is_usual, self._is_typed = False, True
        self._follow()

    def _put_ends(self) -> None:
        span = self._span
        self._typed = {"low": end_text(span, span.low), "high": end_text(span, span.high)}
        for entry, text in ((self._low, self._typed["low"]), (self._high, self._typed["high"])):
            put_prop(entry, "value", text)

    def _choose_read(self, name: str) -> None:
        self._read = name
        self._redraw()

    # ---- what is computed ------------------------------------------------------------------------

    @property
    def _case(self) -> Case:
        rest = standing(self._frame.preparation.settings, self._span.name)
        return Case(self._span, rest, self._model, self._x)

    @property
    def _here(self) -> float:
        """Where the knob stands, or the number of the bench."""
        return where(self._frame.bench, self._frame.preparation.settings, self._span.name)

    @property
    def _is_old(self) -> bool:
        """Whether something else was computed than what is asked."""
        return self._made is None or self._made[0] != self._case

    def _follow(self) -> None:
        """Mark the setting; draw anew what is out of date, where that takes no new fields."""
        span, here = self._span, self._here
        if span.is_knob and not self._is_typed and not span.low <= here <= span.high:
            self._span = usual_span(
                self._frame.bench, self._frame.preparation.settings, self._span.name
            )
            self._is_usual = True
            self._put_ends()
        if self._is_old and self._span.is_knob:
            self._start()
        self._redraw()

    def _start(self) -> None:
        self._give_up()
        if self._prepared is not None:
            background_tasks.create(self._work(self._prepared, self._case), name="sweep")

    def _give_up(self) -> None:
        self._job.give_up()

    async def _work(self, prepared: PreparedBench, case: Case) -> None:
        job = self._job = Job(share=0.0)
        self._wrong.text = ""
        self._look(job)
        self._tidy()

        def say(text: str) -> None:
            self._wrong.text = text

        work = partial(_swept, prepared, case, job, self._frame.rack.compute_in_turn)
        look = partial(self._look, job)
        made = await told(
            job.watch(asyncio.to_thread(work), look), say, "This could not be computed"
        )
        if self._job is not job:
            return
        self._look(None)
        if made is None:
            self._tidy()
            return
        self._made = (case, made)
        closer = _closer(case.span, made, self._here) if self._is_usual else None
        if closer is not None and case.span == self._span:
            self._span, self._is_usual = closer, False
            self._put_ends()
            self._start()
            return
        self._offer_columns(made)
        self._redraw()

    def _look(self, job: Job | None) -> None:
        """Show how far it is; None hides that."""
        if job is not None and job is not self._job:
            return
        self._working.set_visibility(job is not None)
        put_prop(self._bar, "value", round((job.share or 0.0) if job else 0.0, 2))

    # ---- what is shown ---------------------------------------------------------------------------

    def _offer_columns(self, made: Sweep) -> None:
        names = readable_columns(made)
        if self._read not in names:
            self._read = shown_reading(made).read
        self._shown.offer({"Read": {each: column_label(each) for each in names}}, self._read)

    def _redraw(self) -> None:
        made, span = self._made, self._span
        is_there = made is not None and made[0].span.name == span.name
        is_old = self._is_old
        self._drawn = drawn_of(made[1], self._read) if made is not None and is_there else None
        self._curve.show(self._drawn, is_old=is_old)
        self._pointed = None
        self._tidy()
        if self._drawn is None:
            nothing = is_there and not is_old
            self._told.text = "Nothing to read here." if nothing else ""
            return
        x = self._here * scaled(self._drawn.across)[2]
        self._curve.mark(x)
        is_within = self._drawn.x[0] <= x <= self._drawn.x[-1]
        told_words = self._drawn.told(x) if is_within else ""
        beyond = made[1].beyond_ratings if made is not None else 0
        left_out = f" {beyond} points beyond a rating are left out." if beyond else ""
        self._told.text = f"{_OLD} " * is_old + told_words + left_out

    def _tidy(self) -> None:
        """Show the buttons that do something."""
        is_idle = not self._working.visible
        self._compute.set_visibility(is_idle and not self._span.is_knob and self._is_old)
        self._table.set_visibility(self._drawn is not None)
        self._shown.set_visibility(self._made is not None)
        self._set.set_visibility(self._pointed is not None and self._span.is_knob)

    # ---- what is pointed at ----------------------------------------------------------------------

    def _point(self, x: float) -> None:
        if self._drawn is None:
            return
        self._pointed = x
        self._told.text = self._drawn.told(x)
        if self._span.is_knob:
            value = self._value(x)
            self._set.text = f"Set {knob_text(self._span.name, value)}"
        self._tidy()

    def _set_pointed(self) -> None:
        if self._pointed is not None:
            self._set_to(self._pointed)

    def _set_to(self, x: float) -> None:
        """Turn the knob to a place of the curve."""
        name = self._span.name
        if self._drawn is None or name not in KNOBS:
            return
        bench, settings = self._frame.bench, self._frame.preparation.settings
        wanted = standing(settings, name).turned(**{name: self._value(x)})
        self._turn(settle(bench, knob_ranges(bench), wanted, name))

    def _value(self, x: float) -> float:
        """Give the setting of the knob at a place, as finely as it goes."""
        reach = knob_ranges(self._frame.bench)[self._span.name]
        fine = Scale(reach.low, reach.high, self._span.kind.unit).fine
        factor = scaled(self._drawn.across)[2] if self._drawn is not None else 1.0
        steps = round(min(max(x / factor, self._span.low), self._span.high) / fine)
        return float(f"{steps * fine:.9g}")

    def _download(self) -> None:
        if self._made is not None:
            name = f"{file_name(self._frame.bench.name)}-{self._span.name.replace('.', '-')}.csv"
            ui.download(self._made[1].csv().encode(), name)


def _swept(prepared: PreparedBench, case: Case, job: Job, run: Callable[..., object]) -> Sweep:
    """Compute a case; pictures go on between its points."""
    return sweep(
        prepared,
        case.standing,
        {case.span.name: case.span.values},
        at=case.x,
        model=case.model,
        beyond_ratings=True,
        workers=1,
        run=run,  # type: ignore[arg-type]
        progress=job.note,
        cancelled=job.wants_end,
    )


def _closer(span: Span, made: Sweep, here: float) -> Span | None:
    """Give the part of a knob's range where there is something to read.

    None if that is not small, or the knob does not stand there.
    """
    known = np.flatnonzero(np.isfinite(made[shown_reading(made).read]) & made["is_within_ratings"])
    if not span.is_knob or not 1 < len(known) < _FEW * len(made):
        return None
    values = made.axes[0].values
    low = max(int(known[0]) - 1, 0)
    high = min(int(known[-1]) + 1, len(values) - 1)
    closer = Span(span.name, span.kind, float(values[low]), float(values[high]))
    return closer if closer.low <= here <= closer.high else None
