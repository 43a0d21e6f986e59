"""Measure: readings on the left, what they say on the right."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from urllib.parse import quote

import numpy as np
from nicegui import background_tasks
from numpy.typing import NDArray

from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import Method
from glowtrace.measure.readings import Table
from glowtrace.measure.spreadsheet import read_table, write_table
from glowtrace.web.controls import box
from glowtrace.web.frame import Frame
from glowtrace.web.measuring.draft import draft_of, empty_draft
from glowtrace.web.measuring.fit_form import FitForm
from glowtrace.web.measuring.fit_run import PORTIONS, FitRun, check_by_trials, run_fit, some_trials
from glowtrace.web.measuring.fit_view import FitView
from glowtrace.web.measuring.invented import invented_readings
from glowtrace.web.measuring.keeping import Keeping
from glowtrace.web.measuring.photograph_files import PhotographFiles
from glowtrace.web.measuring.photograph_part import PhotographPart
from glowtrace.web.measuring.readings_part import ReadingsPart
from glowtrace.web.measuring.result_ways import ResultWays, keep_readings
from glowtrace.web.measuring.suiting import first_method, why_not
from glowtrace.web.measuring.systematics_part import SystematicsPart


class MeasurePage:
    """The page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where photographs arrive.
    method
        How it is measured, if the address tells it.
    entry
        Entry of the logbook whose readings are taken, if the address tells one.
    """

    def __init__(
        self, frame: Frame, files: PhotographFiles, method: Method | None, entry: str = ""
    ) -> None:
        self._frame, self._entry = frame, entry
        if method is not None and why_not(method, frame.bench) is not None:
            method = None
        self._method: Method = method or first_method(frame.bench)
        self._keeping = Keeping(frame.body.client, frame.preparation.place)
        self._prepared: PreparedBench | None = None
        self._run: FitRun | None = None
        self._trials: asyncio.Task[None] | None = None
        with frame.body, box("measuring"):
            self._photograph = PhotographPart(frame, files, self._use_points)
            with box("measuring-readings", "section").props('aria-label="Readings"'):
                self._readings = ReadingsPart(
                    frame.bench,
                    self._method,
                    say=frame.say,
                    on_method=self._choose_method,
                    on_change=self._changed,
                    on_invent=self._invent,
                    on_photograph=self._photograph.open,
                    on_save=self._save,
                )
            with box("measuring-result", "section").props('aria-label="Result"'):
                self._form = FitForm(frame.bench, self._keeping, frame.say, self._fit)
                self._form.set_method(self._method)
                self._ways = ResultWays(frame, self._form, self._photograph.attachment)
                self._view = FitView(self._ways.put)
                self._systematics = SystematicsPart(frame)

    async def run(self) -> None:
        """Fill the page with what the browser or the logbook kept, and get the bench ready."""
        await self._frame.body.client.connected()
        if self._entry:
            self._open_entry()
        else:
            await self._recall()
        await self._form.recall()
        self._prepared = await self._frame.prepared()

    # ---- readings --------------------------------------------------------------------------------

    async def _recall(self) -> None:
        text = await self._keeping.readings(self._method)
        if not text:
            return
        try:
            self._readings.put(read_table(text, self._method))
        except GlowtraceError:  # kept by another version of the page: nothing to be told about
            self._keeping.keep_readings(self._method, "")

    def _open_entry(self) -> None:
        store = self._frame.rack.store
        try:
            if store is None:
                raise GlowtraceError("The logbook could not be opened.")
            payload = store.logbook.open(self._entry).payload
            text = payload.get("readings", "") if isinstance(payload, Mapping) else ""
            if not text:
                raise GlowtraceError("This entry of the logbook holds no readings.")
            self._readings.put(read_table(str(text)))
        except GlowtraceError as error:
            self._frame.say(str(error))

    def _changed(self) -> None:
        """Keep the readings, and take away a result that is no longer theirs."""
        if self._trials is not None:
            self._trials.cancel()
        self._run = None
        self._view.clear()
        self._systematics.clear()
        draft = self._readings.draft
        if draft.method != self._method:
            self._set_method(draft.method)
        try:
            text = write_table(self._readings.table) if draft.written else ""
        except GlowtraceError:
            return
        self._keeping.keep_readings(self._method, text)

    def _set_method(self, method: Method) -> None:
        self._method = method
        self._form.set_method(method)
        self._frame.keep(self._frame.preparation, f"&method={quote(method)}")

    async def _choose_method(self, method: Method) -> None:
        self._frame.say("")
        self._set_method(method)
        empty = empty_draft(method, self._frame.preparation.settings.plate_tie)
        instruments = {
            name: self._readings.draft.instruments.get(name, each)
            for name, each in empty.instruments.items()
        }
        text = await self._keeping.readings(method)
        self._readings.put_draft(replace(empty, instruments=instruments))
        if text:
            self._readings.put(read_table(text, method))

    async def _invent(self) -> None:
        self._frame.say("")
        prepared = self._prepared or await self._frame.prepared()
        if prepared is None:
            return
        method = self._method
        instruments = empty_draft(method).instruments
        tie = self._frame.preparation.settings.plate_tie
        made = await self._frame.compute(
            "Making up readings", lambda: invented_readings(prepared, method, instruments, tie)
        )
        if made is not None:
            self._readings.put(made)

    def _save(self) -> None:
        """Keep the readings in the logbook, with bench, settings and photograph."""
        frame = self._frame
        frame.say("")
        try:
            readings = self._readings.table
            if not readings.rows:
                raise GlowtraceError("There are no readings to be kept yet.")
            keep_readings(frame, readings, self._photograph.attachment())
        except GlowtraceError as error:
            frame.say(str(error))
            return
        self._readings.tell("Saved to the logbook.")

    def _use_points(self, readings: Table) -> None:
        """Take the readings of a photograph; a circle is one more row beside earlier ones."""
        self._frame.say("")
        before = self._readings.draft
        if readings.method == before.method == "circle" and before.written:
            one = draft_of(readings)
            rows = tuple(before.rows[n] for n in before.written) + one.rows
            is_invented = before.is_invented or one.is_invented
            self._readings.put_draft(replace(before, rows=rows, is_invented=is_invented))
        else:
            self._readings.put(readings)
        self._frame.say("")

    # ---- result ----------------------------------------------------------------------------------

    async def _fit(self) -> None:
        frame, form = self._frame, self._form
        frame.say("")
        self._view.clear()
        self._systematics.clear()
        prepared = self._prepared or await frame.prepared()
        if prepared is None:
            return
        try:
            readings = self._readings.table
            known = form.known()
        except GlowtraceError as error:
            frame.say(str(error))
            return
        model, robust, finds_constants = form.model, form.robust, form.finds_constants
        run = await frame.compute(
            "Fitting",
            lambda: run_fit(
                prepared,
                readings,
                model=model,
                robust=robust,
                finds_constants=finds_constants,
                known=known,
            ),
        )
        if run is None:
            return
        self._run = run
        self._readings.point(run.outliers)
        self._view.put(run)
        self._systematics.offer(prepared, run)
        if self._trials is not None:
            self._trials.cancel()
        if run.setup.model == "bench":  # each trial traces many beams: only when it is wanted
            self._view.offer_check(run, self._start_trials)
        else:
            self._start_trials(run)

    def _start_trials(self, run: FitRun) -> None:
        self._trials = background_tasks.create(self._try(run), name="monte carlo")

    async def _try(self, run: FitRun) -> None:
        """Make the Monte Carlo trials in portions, and show how far they are."""
        found = np.empty(0)
        count = PORTIONS[run.setup.model]
        for number in range(count):
            state = f"Monte Carlo: portion {number + 1} of {count} …"
            check = check_by_trials(run, found) if len(found) else None
            self._view.show_check(run, check, state)
            try:
                portion = await self._portion(run, number)
            except GlowtraceError as error:
                self._view.show_check(run, None, f"Monte Carlo: {error}")
                return
            if run is not self._run:
                return
            found = np.concatenate([found, portion])
        if len(found) < 20:
            self._view.show_check(run, None, "Monte Carlo: too few trials could be fitted")
            return
        self._view.show_check(run, check_by_trials(run, found))

    async def _portion(self, run: FitRun, number: int) -> NDArray[np.float64]:
        """Make one portion of trials; closed forms leave the compiled code's thread to others."""
        work = partial(some_trials, run, number)
        if run.setup.model == "ideal":
            return await asyncio.to_thread(work)
        return await self._frame.rack.compute(work)
