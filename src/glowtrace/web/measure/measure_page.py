"""Measure: readings on the left, what they say on the right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import quote

from glowtrace.bench.prepared import PreparedBench
from glowtrace.errors import GlowtraceError
from glowtrace.measure.invented import invented_readings
from glowtrace.measure.methods import Method
from glowtrace.measure.suiting import first_method, why_not
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.tables.spreadsheet import read_table, write_table
from glowtrace.measure.usual_meters import usual_meter
from glowtrace.store.attaching import Attachment
from glowtrace.web.controls import box
from glowtrace.web.frame import Frame
from glowtrace.web.measure.check_part import CheckPart
from glowtrace.web.measure.draft import draft_of, empty_draft
from glowtrace.web.measure.fit_form import FitForm
from glowtrace.web.measure.fit_run import FitRequest, run_fit
from glowtrace.web.measure.fit_view import FitView
from glowtrace.web.measure.keeping import Keeping
from glowtrace.web.measure.photograph_files import PhotographFiles
from glowtrace.web.measure.photograph_part import PhotographPart
from glowtrace.web.measure.readings_part import ReadingsPart
from glowtrace.web.measure.redoing import redone
from glowtrace.web.measure.result_ways import ResultWays, keep_readings
from glowtrace.web.measure.systematics_part import SystematicsPart
from glowtrace.web.measure.trials import Trials


class MeasurePage:
    """The page.

    Parameters
    ----------
    frame
        The page around it.
    files
        Where photographs arrive.
    trials
        Where Monte Carlo trials are made.
    method
        How it is measured, if the address tells it.
    entry
        Entry of the logbook whose readings are taken, if the address tells one.
    handed
        Key of the page that hands a photograph on, if one does.
    """

    def __init__(
        self,
        frame: Frame,
        files: PhotographFiles,
        trials: Trials,
        method: Method | None,
        entry: str = "",
        handed: str = "",
    ) -> None:
        self._frame, self._entry, self._handed = frame, entry, handed
        if method is not None and why_not(method, frame.bench) is not None:
            method = None
        self._method: Method = method or first_method(frame.bench)
        self._keeping = Keeping(frame.body.client, frame.preparation.place)
        self._prepared: PreparedBench | None = None
        self._from_photograph = False
        with frame.body, box("columns measuring"):
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
                    on_saved=self._redo,
                )
            with box("measuring-result", "section").props('aria-label="Result"'):
                self._form = FitForm(
                    frame, self._keeping, self._fit, lambda: self._view.tell_other_choices()
                )
                self._form.set_method(self._method)
                self._ways = ResultWays(frame, self._form, self._attachment)
                check = CheckPart(frame.body.client, trials)
                self._view = FitView(self._ways.put, check)
                self._systematics = SystematicsPart(frame)

    async def run(self) -> None:
        """Fill the page with what the browser or the logbook kept, and get the bench ready."""
        await self._frame.body.client.connected()
        if not await self._recall() and self._entry:
            self._open_entry()
        await self._form.recall()
        if self._handed:
            self._photograph.adopt(self._handed)
        self._prepared = await self._frame.prepared()

    # ---- readings --------------------------------------------------------------------------------

    async def _recall(self) -> bool:
        """Show what the browser kept; False where that is nothing."""
        text = await self._keeping.readings(self._method, self._entry)
        try:
            if text:
                self._readings.put(read_table(text, self._method))
        except GlowtraceError:  # kept by another version of the page: nothing to be told about
            self._keeping.keep_readings(self._method, self._entry, "")
            return False
        return bool(text)

    def _open_entry(self) -> None:
        with self._frame.telling():
            payload = self._frame.rack.kept.logbook.open(self._entry).payload
            text = payload.get("readings", "") if isinstance(payload, Mapping) else ""
            if not text:
                raise GlowtraceError("This entry of the logbook holds no readings.")
            self._readings.put(read_table(str(text)))

    def _changed(self) -> None:
        """Keep the readings, and take away a result that is no longer theirs."""
        self._view.clear()
        self._systematics.clear()
        draft = self._readings.draft
        if draft.method != self._method:
            self._set_method(draft.method)
        if not draft.written:
            self._from_photograph = False
        try:
            text = write_table(self._readings.table) if draft.written else ""
        except GlowtraceError:
            return
        self._keeping.keep_readings(self._method, self._entry, text)

    def _set_method(self, method: Method) -> None:
        self._method = method
        self._form.set_method(method)
        entry = f"&entry={quote(self._entry)}" if self._entry else ""
        self._frame.keep(self._frame.preparation, f"&method={quote(method)}{entry}")

    async def _choose_method(self, method: Method) -> None:
        self._frame.say("")
        self._entry = ""  # it holds readings of one method only
        self._from_photograph = False
        self._set_method(method)
        told = self._readings.draft
        empty = empty_draft(method, self._frame.preparation.settings.plate_tie)
        instruments = {
            name: told.instruments.get(name, each)
            if told.instruments.get(name) != usual_meter(name, told.method)
            else each
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
        with frame.telling():
            readings = self._readings.table
            if not readings.rows:
                raise GlowtraceError("There are no readings to be kept yet.")
            keep_readings(frame, readings, self._attachment())
            self._readings.tell("Saved to the logbook.")

    def _redo(self, text: str) -> None:
        """Take a saved measurement: its readings, and how it was fitted."""
        frame = self._frame
        frame.say("")
        try:
            found = redone(text, frame.bench)
            reason = why_not(found.readings.method, frame.bench)
            if reason is not None:
                raise GlowtraceError(f"The measurement does not suit this bench: {reason}.")
        except GlowtraceError as error:
            frame.say(str(error))
            return
        self._readings.put(found.readings)
        self._form.put_choices(
            found.model,
            found.robust,
            wants_constants=found.wants_constants,
            constants=found.constants,
        )
        self._form.calibration.leave_out()
        self._form.keep()
        self._readings.tell("The saved measurement is here, with its choices: fit it anew.")

    def _attachment(self) -> Attachment | None:
        """Give the photograph, if readings that are in the table now are from it."""
        is_from_it = self._from_photograph and bool(self._readings.draft.written)
        return self._photograph.attachment() if is_from_it else None

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
        self._from_photograph = True

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
            request = FitRequest(
                frame.bench,
                readings,
                form.model,
                form.robust,
                form.finds_constants,
                form.known(readings),
            )
        except GlowtraceError as error:
            frame.say(str(error))
            return
        fitted = self._readings.draft
        run = await frame.compute_long(
            "Fitting",
            lambda progress, cancelled: run_fit(
                prepared, request, progress=progress, cancelled=cancelled
            ),
        )
        if run is None or self._readings.draft is not fitted:  # others were written meanwhile
            return
        self._readings.point(run.outliers)
        self._view.put(run)
        self._systematics.offer(prepared, run)
